"""Where the heat stands in its schedule, and how long it has to go."""
