"""``plan.json``: a finished plan as text, its published schema, and the way back."""

from nestyield.planfile.text import PlanFileError, digest, dumps, loads, read

__all__ = ["PlanFileError", "digest", "dumps", "loads", "read"]
