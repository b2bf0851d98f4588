"""Files to model. Every reader returns (data, findings)."""
