"""What the exit code of every command means."""

#: Done, and nothing needs a person.
DONE = 0
#: Done, with findings that need a person: an order not placed, an input repaired, a failed check.
NEEDS_PERSON = 1
#: Could not run; nothing was written.
COULD_NOT_RUN = 2
