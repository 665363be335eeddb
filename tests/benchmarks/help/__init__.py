"""Does it help? The same person at the same furnace by hand and with the watch, the pot's lot in figures."""
