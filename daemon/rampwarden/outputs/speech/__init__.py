"""A voice for full hands: alarms with what to do, segment changes, and on request how the heat stands."""

from rampwarden.outputs.speech.speech import Speech
from rampwarden.outputs.speech.voice import Voice, found_command

__all__ = ["Speech", "Voice", "found_command"]
