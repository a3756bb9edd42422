"""Rows of a table → outcomes: what columns are, what rows mean, what is wrong with them."""
