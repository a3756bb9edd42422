"""Bytes → one table or one list of entries: encodings, dialects, headers, records."""
