"""The independent check of a finished plan."""
