"""What a segment allows, and whether the temperature keeps to it."""
