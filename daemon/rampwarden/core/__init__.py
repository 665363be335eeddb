"""The pure core: readings and commands in, events out. Opens nothing, starts nothing, reads no clock."""
