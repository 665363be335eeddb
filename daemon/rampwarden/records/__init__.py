"""What outlives a heat: its record."""
