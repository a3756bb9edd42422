"""What a person asks for, one task a file: read, compute, write."""
