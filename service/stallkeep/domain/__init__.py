"""Pure computation: no input or output, every fact an argument."""
