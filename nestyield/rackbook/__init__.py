"""What leaves the rack and what comes back: take, undo, keep, the journal, and the scheduled run."""
