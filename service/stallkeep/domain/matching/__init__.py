"""Which pieces each line of money was for."""
