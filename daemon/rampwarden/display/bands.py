"""What is read from three metres besides the temperature: the order to carry out first, the segment, and its rule.

Each is a band in large letters across the screen. Which of them stand there is decided by how many rows are left once
the temperature has its own: the order first, then the rule, then the segment's name. Everything else makes room.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from rich.text import Text

from rampwarden.display.degrees import CELSIUS, Degrees
from rampwarden.display.letters import letters, letters_size
from rampwarden.display.terminal_style import Looks
from rampwarden.picture import Picture
from rampwarden.terminal_text import printable

# Shares of the rows that one line of large letters may take; what stands there always fits into 24 rows.
_ORDER_SHARE = 0.16
_OTHERS_SHARE = 0.11
_LARGEST_SCALE = 6
# Lower screens need these rows for sentences.
_LEAST_FOR_NAME = 24
_STILL = "NO NEWS"
_SMALLEST_ROWS = 3


@dataclass(frozen=True, slots=True)
class LargeBand:
    """One text in large letters, perhaps on several lines: `scale` times the plain size, in a style."""

    lines: tuple[str, ...]
    scale: int
    style: str

    @property
    def rows(self) -> int:
        """How many rows of the screen it takes, with a free one between its own lines."""
        return len(self.lines) * (self.scale * _SMALLEST_ROWS + 1) - 1

    def draw(self, looks: Looks, width: int) -> list[Text]:
        """Give its rows, each `width` cells where its style fills the whole row."""
        drawn: list[Text] = []
        for number, line in enumerate(self.lines):
            rows = letters(line, self.scale, blocks=looks.blocks)
            # Twenty letters just fit on 80 columns, of which the last is left alone.
            left = " " if len(rows[0]) < width else ""
            drawn += [self._row("", looks, width)] if number else []
            drawn += [self._row(f"{left}{row}", looks, width) for row in rows]
        return drawn

    def _row(self, row: str, looks: Looks, width: int) -> Text:
        return looks.text(row.ljust(width), self.style) if self.style else looks.text(row, "strong")


def large_bands(
    picture: Picture, width: int, height: int, rows: int, *, is_still: bool = False, degrees: Degrees = CELSIUS
) -> list[LargeBand]:
    """Give the bands that `rows` rows leave room for, from top to bottom; `height` is the whole screen's.

    `is_still`: the watch itself has given no news, so nothing is known of what should be done now.
    """
    if is_still:
        scale = _scale(_STILL, width, min(_ORDER_SHARE * height, rows))
        return [LargeBand((_STILL,), scale, "trouble")] if scale and scale * _SMALLEST_ROWS <= rows else []
    order = _where_it_fits(_order_band(picture, width, height, rows), rows)
    left = rows - sum(band.rows for band in order)
    rule = _where_it_fits(_rule_band(picture, width, height, degrees), left)
    # Between two without a ground of their own a free row stands.
    left -= sum(band.rows + 1 for band in rule)
    name = _where_it_fits(_name_band(picture, width, height) if height >= _LEAST_FOR_NAME else None, left)
    return [*order, *name, *rule]


def _where_it_fits(band: LargeBand | None, rows: int) -> list[LargeBand]:
    return [band] if band is not None and band.rows <= rows else []


def _order_band(picture: Picture, width: int, height: int, rows: int) -> LargeBand | None:
    first = picture.first_order
    if first is None:
        return None
    style = str(first.priority)
    scale = _scale(first.order, width, min(_ORDER_SHARE * height, rows))
    if scale:
        return LargeBand((first.order,), scale, style)
    # On a narrow screen in two lines, if there are rows for them.
    halves = _halves(first.order)
    two = LargeBand(halves, 1, style)
    return two if all(_fits(line, 1, width) for line in halves) and two.rows <= rows else None


def _rule_band(picture: Picture, width: int, height: int, degrees: Degrees) -> LargeBand | None:
    if picture.present is None:
        return None
    # A form without a unit cannot be turned, and would be read in the wrong one.
    rules = [degrees.said(rule) for rule in picture.present.rules if not degrees.fahrenheit or _says_unit(rule)]
    return _widest(rules, width, height)


def _says_unit(rule: str) -> bool:
    return "°C" in rule or not any(letter.isdigit() for letter in rule) or rule.startswith("within ")


def _name_band(picture: Picture, width: int, height: int) -> LargeBand | None:
    present = picture.present
    if present is None:
        return None
    words = printable(present.name).split()
    shorter = [" ".join(words[:count]) for count in range(len(words), 0, -1)]
    return _widest((shorter[0], *(f"{each} …" for each in shorter[1:])), width, height) if shorter else None


def _widest(variants: Sequence[str], width: int, height: int) -> LargeBand | None:
    """Give the first form that fits, as large as it may be."""
    for text in variants:
        if scale := _scale(text, width, _OTHERS_SHARE * height):
            return LargeBand((text,), scale, "")
    return None


def _scale(text: str, width: int, rows: float) -> int:
    """Give the largest scale at which a text fits; the smallest stands whatever its share of the rows; 0: too wide."""
    for scale in range(_LARGEST_SCALE, 1, -1):
        if _fits(text, scale, width) and letters_size(text, scale)[1] <= rows:
            return scale
    return 1 if _fits(text, 1, width) else 0


def _fits(text: str, scale: int, width: int) -> bool:
    return letters_size(text, scale)[0] <= width


def _halves(text: str) -> tuple[str, str]:
    """Break a text where the longer half is shortest."""
    words = text.split()
    cuts = [(" ".join(words[:at]), " ".join(words[at:])) for at in range(1, len(words))] or [(text, "")]
    return min(cuts, key=lambda cut: max(map(len, cut)))
