"""The work on one blank, from the plane to the rack."""
