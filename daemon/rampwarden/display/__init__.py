"""The picture drawn on a terminal, and the keys that answer it."""
