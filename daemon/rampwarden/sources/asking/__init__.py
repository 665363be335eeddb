"""Boards that must be asked: when a question goes out, and what becomes of answers that are late, wrong or missing."""

from rampwarden.sources.asking.asker import Asker
from rampwarden.sources.asking.bus_asker import BusAsker, bus_trouble
from rampwarden.sources.asking.text_asker import TextAsker

__all__ = ["Asker", "BusAsker", "TextAsker", "bus_trouble"]
