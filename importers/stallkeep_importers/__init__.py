"""Importers: bytes to canonical records. Knows no database, no HTTP and nothing of the service."""
