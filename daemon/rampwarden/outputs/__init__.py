"""Where events go besides the heat record."""
