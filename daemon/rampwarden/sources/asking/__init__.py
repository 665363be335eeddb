"""Boards that must be asked: when a question goes out, and what becomes of answers that are late, wrong or missing."""

from rampwarden.sources.asking.asker import Asker
from rampwarden.sources.asking.bus_asker import BusAsker, bus_trouble
from rampwarden.sources.asking.text_asker import TextAsker
from rampwarden.sources.asking.trying import HARMLESS, BusFound, TextFound, try_bus, try_questions

__all__ = [
    "HARMLESS",
    "Asker",
    "BusAsker",
    "BusFound",
    "TextAsker",
    "TextFound",
    "bus_trouble",
    "try_bus",
    "try_questions",
]
