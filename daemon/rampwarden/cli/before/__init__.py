"""Commands for the time before a heat."""
