"""What the course of the readings says about sensor, flame and furnace."""
