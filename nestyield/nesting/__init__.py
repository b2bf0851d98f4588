"""Many parts on one blank or sheet."""
