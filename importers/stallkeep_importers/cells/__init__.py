"""One cell: text → amounts, dates, moments; what is personal in it."""
