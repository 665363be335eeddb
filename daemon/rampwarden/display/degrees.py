"""In what the terminal shows temperatures: °C, or °F in every figure and every sentence of the watch's."""

import re
from dataclasses import dataclass

from rampwarden.core.model import PEOPLES_WORDS
from rampwarden.degree_scale import DegreeScale
from rampwarden.outputs.in_fahrenheit import in_fahrenheit

# What a person wrote is never turned; in a log line it stands behind the clock, after one of these words.
_PEOPLES_LINE = re.compile(rf"[\d:\s]*(?:{'|'.join(PEOPLES_WORDS)}) · ")


@dataclass(frozen=True, slots=True)
class Degrees(DegreeScale):
    """Turns what is worded and reckoned in °C into what is shown."""

    def said(self, words: str) -> str:
        """Give a sentence of the watch's as it is shown."""
        return in_fahrenheit(words) if self.fahrenheit else words

    def logged(self, line: str) -> str:
        """Give a line of the log as it is shown; what people wrote stays as it is."""
        return line if _PEOPLES_LINE.match(line) else self.said(line)


CELSIUS = Degrees()
