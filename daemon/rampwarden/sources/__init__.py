"""Where readings come from: a serial board, or a model furnace behind a pseudo-terminal."""
