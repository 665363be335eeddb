"""Labelled text: ``hot 24.25 degC``, ``T1: 23.9 C  RJ: 22.3 C  ok``, ``Internal Temp = 22.3``.

A label is matched as it is written, from a word's beginning, and needs a colon, an equals sign, a comma or a blank
behind it: the label T is not the T of T1. After the last value may stand a word that says what is wrong.
"""

import re
from collections.abc import Mapping

from rampwarden.core.model import Fault
from rampwarden.formats.named import NamedDecoder, NamedFormat
from rampwarden.formats.units import (
    NUMBER,
    Item,
    fault_word,
    is_foreign_unit,
    spelled_unit,
)

# A number and what touches it; a dot or digit left over means more digits than any thermometer has.
_VALUE = re.compile(rf"({NUMBER})(?P<more>[\d.]*)(?P<comma>,\d)?")
_UNIT = re.compile(r"[ \t]*((?:deg(?:rees?)?[ _]?|[°*º])?[A-Za-zµμ%Ω℃℉°]+)(?P<names>[ \t]*[:=])?", re.IGNORECASE)
_WORD = re.compile(r"[ \t]*([A-Za-z-][A-Za-z/. -]{0,30}|-{2,})")
_NAMES = re.compile(
    rf"([A-Za-z_][A-Za-z0-9_.\[\]()/-]*(?:[ \t][A-Za-z_][A-Za-z0-9_./-]*){{0,3}})[ \t]*[:=,\t ][ \t]*({NUMBER})"
)
_MOST_NAMES = 64


class LabelDecoder(NamedDecoder):
    """Decodes labelled text."""

    longest_line = 1024

    def __init__(self, named: NamedFormat) -> None:
        super().__init__(named)
        self._patterns = {name: _pattern(name) for name in named.names}

    def find(self, line: bytes) -> Mapping[str, Item | str] | None:
        """Give what stands under each wanted label."""
        text = as_text(line)
        if text is None:
            return None
        found: dict[str, Item | str] = {}
        ends = 0
        for name, pattern in self._patterns.items():
            places = [match.end() for match in pattern.finditer(text)]
            if len(places) > 1:
                found[name] = "stands twice in the line"
            elif places:
                found[name], end = _item_at(text, places[0])
                ends = max(ends, end)
        tail = fault_word(text[ends:]) if ends else None
        if tail is not None:
            for name in self._named.values:
                item = found.get(name)
                if isinstance(item, Item) and item.fault is None:
                    found[name] = Item(item.value, item.unit, tail, item.text)
        return found if found or self.names_in(line) else None

    def names_in(self, line: bytes) -> tuple[str, ...]:
        """Give the labels before the numbers of a line."""
        return labels_in(line)


def labels_in(line: bytes) -> tuple[str, ...]:
    """Give the labels that stand before the numbers of a line, each once, in their order.

    >>> labels_in(b"T1: 23.9 C  RJ: 22.3 C  ok")
    ('T1', 'RJ')
    """
    text = as_text(line)
    if text is None:
        return ()
    names = []
    for match in _NAMES.finditer(text):
        words = match[1].split()
        # The unit of the value before may stand between two labels.
        while len(words) > 1 and (spelled_unit(words[0]) or words[0].lower() in {"deg", "degc", "ok"}):
            del words[0]
        names.append(" ".join(words))
    return tuple(dict.fromkeys(names))[:_MOST_NAMES]


def as_text(line: bytes) -> str | None:
    """Give a line as text: UTF-8, or Latin-1 for the degree sign of old terminals; None if it is no text."""
    if any(byte < 32 and byte not in b"\t\r" for byte in line):
        return None
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        text = line.decode("latin-1")
    strange = sum(ord(letter) > 126 for letter in text)
    return text if strange <= 4 and "°" in text else None


def _pattern(name: str) -> re.Pattern[str]:
    written = r"[ \t]+".join(re.escape(word) for word in name.split())
    return re.compile(rf"(?<![A-Za-z0-9_.]){written}(?:[ \t]*[:=,][ \t]*|[ \t]+)(?=[+-]?[.\d]|[A-Za-z-])")


def _item_at(text: str, start: int) -> tuple[Item | str, int]:
    """Read the value that begins at `start`; gives it or why it cannot be read, and where it ends."""
    number = _VALUE.match(text, start)
    if number is None:
        word = _WORD.match(text, start)
        fault = None if word is None else _longest_fault(word[1])
        if word is None or fault is None:
            return "has no number behind it", start
        return Item(fault=fault, text=word[1]), word.end()
    if number["more"]:
        return "has more digits than any thermometer", number.end()
    if number["comma"] and "." not in number[1]:
        return "has a decimal comma: let the board print a point", number.end()
    value, end = float(number[1]), number.end(1)
    unit = _UNIT.match(text, end)
    if unit is None or unit["names"]:
        return Item(value, None, text=number[1]), end
    known = spelled_unit(unit[1])
    if known is not None:
        return Item(value, known, text=number[1]), unit.end(1)
    touches = unit.start(1) == end
    if is_foreign_unit(unit[1]) or touches:
        return f"is in {ascii(unit[1])[:20]}, neither °C, F, K nor a voltage", unit.end(1)
    return Item(value, None, text=number[1]), end


def _longest_fault(words: str) -> Fault | None:
    """Give the fault that some first words mean, the longest of them."""
    parts = words.split(" ")
    for count in range(min(len(parts), 4), 0, -1):
        fault = fault_word(" ".join(parts[:count]))
        if fault is not None:
            return fault
    return None
