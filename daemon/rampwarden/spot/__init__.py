"""Spot checks: a spot thermometer's reading corrected, held against the thermocouple, and kept with the heat."""
