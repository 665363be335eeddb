"""rampwarden watches a crucible's heat and says in time when it leaves its schedule."""
