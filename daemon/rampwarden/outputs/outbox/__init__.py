"""Which events of the heat records have yet to be delivered."""
