"""Polygons on one integer grid; 1 unit is 1 micrometer."""
