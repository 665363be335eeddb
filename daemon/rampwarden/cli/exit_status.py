"""What the exit status of every command means."""

FINE = 0
FOUND_SOMETHING = 1
"""A replay raised alarms, a check found a problem."""
UNUSABLE = 2
"""Wrong usage, or input that cannot be read."""
