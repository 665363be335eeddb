"""What is known of a board before it is listened to."""

from dataclasses import dataclass

from rampwarden.core.instrument import ColumnFormat, Thermocouple
from rampwarden.formats import NamedFormat


@dataclass(frozen=True, slots=True)
class Asked:
    """What is known beforehand: the format that is set (`columns`), and perhaps where the tip is, °C.

    `framed` true means that frames are set; None that nothing was set, so that what is recognised is taken. With
    `one_clock` (a rehearsal) arrivals are stamped by the board's own clock, and there are not two to compare.
    """

    couple: Thermocouple
    framed: bool | None = None
    columns: ColumnFormat | NamedFormat | None = None
    channel: int = 0
    tip_c: float | None = None
    one_clock: bool = False
