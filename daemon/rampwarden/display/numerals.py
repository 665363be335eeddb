"""Big numerals for a temperature that must be read from across a workshop, drawn from block characters.

The glyphs are our own: strokes two dots thick on a grid six dots wide and ten high, so that they stay legible at half
steps of size and in bad light. From twice that size on corners and slants are smoothed. A character cell holds two
dots, one above the other.
"""

from functools import lru_cache

_WIDTH = 6
_HEIGHT = 10

_GLYPHS = {
    "0": "·####· ###### ##··## ##··## ##··## ##··## ##··## ##··## ###### ·####·",
    "1": "··##·· ·###·· ####·· ··##·· ··##·· ··##·· ··##·· ··##·· ###### ######",
    "2": "·####· ###### ##··## ····## ···### ··###· ·###·· ###··· ###### ######",
    "3": "·####· ###### ##··## ····## ··###· ··###· ····## ##··## ###### ·####·",
    "4": "···##· ··###· ·####· ##·##· ##·##· ##·##· ###### ###### ···##· ···##·",
    "5": "###### ###### ##···· #####· ###### ····## ····## ##··## ###### ·####·",
    "6": "·####· ###### ##···· ##···· #####· ###### ##··## ##··## ###### ·####·",
    "7": "###### ###### ····## ···##· ···##· ··##·· ··##·· ·##··· ·##··· ·##···",
    "8": "·####· ###### ##··## ##··## ·####· ·####· ##··## ##··## ###### ·####·",
    "9": "·####· ###### ##··## ##··## ###### ·##### ····## ····## ###### ·####·",
    "-": "······ ······ ······ ······ ·####· ·####· ······ ······ ······ ······",
    "+": "······ ······ ··##·· ··##·· ###### ###### ··##·· ··##·· ······ ······",
}
_BLOCKS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
_PLAIN = {(False, False): " ", (True, False): '"', (False, True): "o", (True, True): "#"}


def numeral_size(letters: int, half_steps: int) -> tuple[int, int]:
    """Give columns and rows that so many numerals take at a size in half steps: 2 is the plain size, 4 twice that."""
    width = _WIDTH * half_steps // 2
    gap = max(1, half_steps // 2)
    return letters * width + (letters - 1) * gap, (_HEIGHT * half_steps // 2 + 1) // 2


@lru_cache(maxsize=64)
def numerals(text: str, half_steps: int, *, blocks: bool) -> tuple[str, ...]:
    """Draw digits and signs as rows of characters; `blocks` is False where a terminal has none."""
    gap = " " * max(1, half_steps // 2)
    drawn = [_glyph(letter, half_steps, blocks=blocks) for letter in text]
    return tuple(gap.join(rows) for rows in zip(*drawn, strict=True))


def _glyph(letter: str, half_steps: int, *, blocks: bool) -> list[str]:
    dots = [[dot == "#" for dot in row] for row in _GLYPHS[letter].split()]
    steps = 2
    if half_steps >= 4 and letter.isdigit():
        dots, steps = _smoothed(dots), 4
    width, height = _WIDTH * half_steps // 2, _HEIGHT * half_steps // 2
    scaled = [[dots[steps * y // half_steps][steps * x // half_steps] for x in range(width)] for y in range(height)]
    if height % 2:
        scaled.append([False] * width)
    return list(half_rows(scaled, blocks=blocks))


def half_rows(dots: list[list[bool]], *, blocks: bool) -> tuple[str, ...]:
    """Draw an even number of rows of dots as half as many rows of characters."""
    halves = _BLOCKS if blocks else _PLAIN
    return tuple(
        "".join(halves[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(dots[::2], dots[1::2], strict=True)
    )


def _smoothed(dots: list[list[bool]]) -> list[list[bool]]:
    """Give a glyph at twice its size: a quarter dot takes its neighbours' side where the two that touch it agree."""

    def at(x: int, y: int) -> bool:
        return 0 <= y < _HEIGHT and 0 <= x < _WIDTH and dots[y][x]

    smooth = [[False] * (2 * _WIDTH) for _ in range(2 * _HEIGHT)]
    for y in range(_HEIGHT):
        for x in range(_WIDTH):
            above, below, left, right = at(x, y - 1), at(x, y + 1), at(x - 1, y), at(x + 1, y)
            for down in (0, 1):
                for along in (0, 1):
                    vertical, horizontal = (below if down else above), (right if along else left)
                    other_vertical, other_horizontal = (above if down else below), (left if along else right)
                    corner = vertical == horizontal and vertical != other_horizontal and horizontal != other_vertical
                    smooth[2 * y + down][2 * x + along] = vertical if corner else at(x, y)
    return smooth
