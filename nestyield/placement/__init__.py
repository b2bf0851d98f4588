"""One part on one blank, exactly."""
