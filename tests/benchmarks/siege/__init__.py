"""A long fault run: a real watch under siege, beside an undisturbed twin."""
