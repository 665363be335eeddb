"""The furnace on an MQTT broker: its state, its events, and the commands that come back."""
