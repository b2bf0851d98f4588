"""plan.json and its published schema."""
