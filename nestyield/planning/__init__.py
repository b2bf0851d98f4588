"""Orders x rack to one plan."""
