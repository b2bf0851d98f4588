"""How a blank lies on a bed."""
