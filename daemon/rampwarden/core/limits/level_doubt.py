"""How far the temperature that is judged may be off, where it is not the followed probe's own reading."""

from collections.abc import Callable

from msgspec import Struct


class LevelDoubt(Struct, frozen=True):
    """`level_c` is how far the temperature may be off, ± °C; `climb_c` gives the same of a climb within so many s.

    Both with k = 2, and beside what noise and instrument leave open. A finding must hold whatever of it is true. A
    limit whose own climb is less than its doubt is not judged at all.
    """

    level_c: float
    climb_c: Callable[[float], float]
