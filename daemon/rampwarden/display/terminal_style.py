"""What a terminal can show, and how a line of the display becomes the bytes it understands.

Every sign here is one that plain consoles have in their fonts; where an encoding has none, ASCII stands in its place.
Colours only repeat what words, marks and reverse video already say: the display is whole without them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from rich.color import ColorSystem
from rich.console import Console
from rich.style import Style
from rich.text import Text

from rampwarden.core.model import Priority

_PLAIN = {"░": ":", "█": "#", "▀": '"', "▄": "o", "●": "@", "─": "-", "│": "|", "▲": "^", "▼": "v", "·": "-", "…": "~"}
_PLAIN |= {"°": "'", "→": ">", "←": "<", "×": "x", "–": "-", "µ": "u", "’": "'", "“": '"', "”": '"', "½": "+"}

_COLOURED: Mapping[str, Style] = MappingProxyType(
    {
        "": Style(),
        "strong": Style(bold=True),
        "mode": Style(bold=True, reverse=True),
        "high": Style(bold=True, color="bright_white", bgcolor="red"),
        "medium": Style(bold=True, color="black", bgcolor="yellow"),
        "low": Style(color="black", bgcolor="cyan"),
        "known": Style(bold=True),
        "trouble": Style(bold=True, reverse=True),
        "corridor": Style(color="cyan"),
        "course": Style(bold=True),
        "way": Style(color="cyan"),
        "dot": Style(bold=True, color="green"),
        "astray": Style(bold=True, color="bright_white", bgcolor="red"),
        "quiet": Style(),
        "key": Style(bold=True),
    }
)
_MONO: Mapping[str, Style] = MappingProxyType(
    {
        **{name: Style(bold=style.bold) for name, style in _COLOURED.items()},
        "mode": Style(bold=True, reverse=True),
        "trouble": Style(bold=True, reverse=True),
        "high": Style(bold=True, reverse=True),
        "medium": Style(reverse=True),
        "low": Style(underline=True),
        "astray": Style(bold=True, reverse=True),
    }
)

MARKS: Mapping[Priority, str] = MappingProxyType({Priority.HIGH: "!!!", Priority.MEDIUM: "!!", Priority.LOW: "!"})
"""How urgent an alarm is where there are no colours, and for whoever cannot tell them apart."""


@dataclass(frozen=True, slots=True)
class Looks:
    """What one terminal can show. `blocks`: its encoding has block characters; `colour`: it has colours, and may."""

    encoding: str = "utf-8"
    blocks: bool = True
    colour: bool = True

    def style(self, name: str) -> Style:
        """Give the style of that name."""
        return _COLOURED[name] if self.colour else _MONO[name]

    def text(self, text: str, name: str = "") -> Text:
        """Give a text in a style."""
        # Not as the style of the whole: what is appended has its own.
        return Text(end="", no_wrap=True).append(text, style=self.style(name))

    def encode(self, line: Text, console: Console) -> bytes:
        """Give the bytes that write one line."""
        system = ColorSystem.STANDARD if self.colour else None
        parts = []
        for segment in line.render(console):
            style = segment.style
            text = self._writable(segment.text)
            parts.append(text if style is None else style.render(text, color_system=system or ColorSystem.STANDARD))
        return "".join(parts).encode(self.encoding, errors="replace")

    def _writable(self, text: str) -> str:
        if self.encoding == "utf-8":
            return text
        return "".join(letter if self._has(letter) else _PLAIN.get(letter, "?") for letter in text)

    def _has(self, letter: str) -> bool:
        try:
            letter.encode(self.encoding)
        except UnicodeEncodeError:
            return False
        return True


def has_blocks(encoding: str) -> bool:
    """Tell whether an encoding has the block characters and the dot of the display."""
    try:
        "█▀▄░●─│".encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True
