"""Importers that are broken in every way one can be."""
