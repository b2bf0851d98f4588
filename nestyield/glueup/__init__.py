"""Pieces to blanks."""
