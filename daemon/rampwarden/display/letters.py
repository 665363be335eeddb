"""Letters for what must be read from three metres: three rows high and three columns wide, or a multiple of that.

The glyphs are our own, three dots wide and six high; a character cell holds two dots, one above the other. Only
capitals: at this size they are what the eye tells apart. A letter with a mark (Ä, É) is drawn without it, an unknown
one as a box.
"""

import unicodedata
from functools import lru_cache

from rampwarden.display.numerals import half_rows

_WIDTH = 3
_HEIGHT = 6

_GLYPHS = {
    "A": "·#· #·# #·# ### #·# #·#",
    "B": "##· #·# ##· #·# #·# ##·",
    "C": "·## #·· #·· #·· #·· ·##",
    "D": "##· #·# #·# #·# #·# ##·",
    "E": "### #·· ##· #·· #·· ###",
    "F": "### #·· ##· #·· #·· #··",
    "G": "·## #·· #·· #·# #·# ·##",
    "H": "#·# #·# ### #·# #·# #·#",
    "I": "### ·#· ·#· ·#· ·#· ###",
    "J": "··# ··# ··# ··# #·# ·#·",
    "K": "#·# #·# ##· ##· #·# #·#",
    "L": "#·· #·· #·· #·· #·· ###",
    "M": "#·# ### ### #·# #·# #·#",
    "N": "##· #·# #·# #·# #·# #·#",
    "O": "·#· #·# #·# #·# #·# ·#·",
    "P": "##· #·# #·# ##· #·· #··",
    "Q": "·#· #·# #·# #·# ·#· ··#",
    "R": "##· #·# #·# ##· #·# #·#",
    "S": "·## #·· ·#· ··# ··# ##·",
    "T": "### ·#· ·#· ·#· ·#· ·#·",
    "U": "#·# #·# #·# #·# #·# ###",
    "V": "#·# #·# #·# #·# ·#· ·#·",
    "W": "#·# #·# #·# ### ### #·#",
    "X": "#·# #·# ·#· ·#· #·# #·#",
    "Y": "#·# #·# ·#· ·#· ·#· ·#·",
    "Z": "### ··# ·#· ·#· #·· ###",
    "0": "### #·# #·# #·# #·# ###",
    "1": "·#· ##· ·#· ·#· ·#· ###",
    "2": "##· ··# ··# ·#· #·· ###",
    "3": "### ··# ·## ··# ··# ###",
    "4": "#·# #·# #·# ### ··# ··#",
    "5": "### #·· ##· ··# ··# ##·",
    "6": "·## #·· ##· #·# #·# ###",
    "7": "### ··# ··# ·#· ·#· ·#·",
    "8": "### #·# ### #·# #·# ###",
    "9": "### #·# ### ··# ··# ##·",
    " ": "··· ··· ··· ··· ··· ···",
    "-": "··· ··· ### ··· ··· ···",
    "+": "··· ·#· ### ·#· ··· ···",
    "±": "·#· ### ·#· ··· ### ···",
    "°": "### #·# ### ··· ··· ···",
    "/": "··# ··# ·#· ·#· #·· #··",
    ".": "··· ··· ··· ··· ##· ##·",
    ",": "··· ··· ··· ·#· ·#· #··",
    ":": "··· ·#· ·#· ··· ·#· ·#·",
    "·": "··· ··· ·#· ·#· ··· ···",
    "'": "·#· ·#· ··· ··· ··· ···",
    "!": "·#· ·#· ·#· ·#· ··· ·#·",
    "?": "##· ··# ·#· ·#· ··· ·#·",
    "%": "#·# ··# ·#· ·#· #·· #·#",
    "(": "·#· #·· #·· #·· #·· ·#·",
    ")": "·#· ··# ··# ··# ··# ·#·",
    "…": "··· ··· ··· ··· ··· #·#",
}
_ALIKE = {
    "–": "-",
    "—": "-",
    "−": "-",
    "_": "-",
    "’": "'",
    "“": "'",
    "”": "'",
    "ß": "SS",
    "½": "1/2",
    "µ": "U",
    "×": "X",
}
_UNKNOWN = "### #·# #·# #·# #·# ###"


def letters_size(text: str, scale: int) -> tuple[int, int]:
    """Give columns and rows that a text takes at a scale of one, two, … times the plain size."""
    count = len(_drawable(text))
    return scale * (count * (_WIDTH + 1) - 1) if count else 0, scale * _HEIGHT // 2


@lru_cache(maxsize=128)
def letters(text: str, scale: int, *, blocks: bool) -> tuple[str, ...]:
    """Draw a text as rows of characters; `blocks` is False where a terminal has none."""
    glyphs = [_GLYPHS.get(letter, _UNKNOWN).split() for letter in _drawable(text)]
    rows = ["·".join(glyph[row] for glyph in glyphs) for row in range(_HEIGHT)]
    scaled = [[dot == "#" for dot in row for _ in range(scale)] for row in rows for _ in range(scale)]
    return half_rows(scaled, blocks=blocks)


def _drawable(text: str) -> str:
    """Give the text in capitals and signs that have a glyph, where it can be written with them."""
    drawable = "".join(_ALIKE.get(letter, letter) for letter in text).upper()
    if all(letter in _GLYPHS for letter in drawable):
        return drawable
    bare = unicodedata.normalize("NFD", drawable)
    return unicodedata.normalize("NFC", "".join(each for each in bare if not unicodedata.combining(each)))
