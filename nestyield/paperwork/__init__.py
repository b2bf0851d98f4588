"""Plan to report, sheets, drawings and tables."""
