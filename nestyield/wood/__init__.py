"""Species, moisture, movement, grading, measure."""
