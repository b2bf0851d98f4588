"""What leaves the rack and what comes back."""
