"""From a board's bytes to a believed temperature, and how sure that is."""
