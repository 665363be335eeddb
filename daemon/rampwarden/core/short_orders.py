"""What a person is told to do, short enough for the largest letters, and which two of these must not be told at once.

Each order asks something of the furnace. Two asks may contradict each other: then the order further down the list gives
way, since the list begins with what takes heat away. Nothing else is decided here; which order an alarm carries stands
in its entry, which one comes first in `alarms/first_order.py`.
"""

from enum import Enum, StrEnum
from itertools import product

LONGEST_ORDER = 20
"""Letters. So many stand side by side on 80 columns, three columns and a gap each."""


class Ask(Enum):
    """What an order asks of the furnace, or of whoever stands beside it."""

    HEAT_OFF = "no heat"
    FLAME_SEEN = "no more gas before the flame has been seen"
    HEAT_DOWN = "less heat"
    HEAT_HELD = "the heat as it is"
    HEAT_UP = "more heat"
    LID_OPEN = "the lid open"
    LID_SHUT = "the lid shut"
    STAY = "somebody beside the furnace"
    GO = "somebody on the way"


CONTRADICTING: frozenset[frozenset[Ask]] = frozenset(
    {
        frozenset({Ask.HEAT_OFF, Ask.HEAT_HELD}),
        frozenset({Ask.HEAT_OFF, Ask.HEAT_UP}),
        # Gas given to a flame that may be out pools in the furnace.
        frozenset({Ask.FLAME_SEEN, Ask.HEAT_UP}),
        frozenset({Ask.HEAT_DOWN, Ask.HEAT_HELD}),
        frozenset({Ask.HEAT_DOWN, Ask.HEAT_UP}),
        frozenset({Ask.HEAT_HELD, Ask.HEAT_UP}),
        frozenset({Ask.LID_OPEN, Ask.LID_SHUT}),
        frozenset({Ask.STAY, Ask.GO}),
    }
)
"""Pairs of which only one may be asked at a time. All others go together."""


class ShortOrder(StrEnum):
    """An order of at most `LONGEST_ORDER` letters; the list gives their rank, what is most dangerous to leave first.

    At one priority, heat is taken away before anything else is asked, and asked for last.
    """

    CLOSE_GAS = "CLOSE THE GAS VALVE"
    HEAT_OFF = "TURN THE HEAT OFF"
    SEE_FLAME = "LOOK AT THE FLAME"
    LOWER_HEAT_NOW = "LOWER THE HEAT NOW"
    LOWER_HEAT = "LOWER THE HEAT"
    EASE_HEAT = "EASE THE HEAT"
    HOLD_HEAT = "HOLD THE HEAT"
    CHECK_PROBE = "CHECK THE PROBE"
    CHECK_WIRES = "CHECK THE WIRES"
    SWAP_WIRES = "SWAP THE TWO WIRES"
    RESTART_BOARD = "RESTART THE BOARD"
    CHECK_CABLE = "CHECK THE CABLE"
    CLOSE_LID = "CLOSE THE LID"
    STAY = "STAY BY THE FURNACE"
    FULL_BOTTLE = "FETCH A FULL BOTTLE"
    SEE_HEATING = "LOOK AT THE HEATING"
    RAISE_HEAT = "RAISE THE HEAT"
    READ_WARNING = "READ THE WARNING"
    SEE_DONE = "SEE IF IT IS DONE"
    DISK_SPACE = "FREE DISK SPACE"
    READ_ALARMS = "READ THE OTHER LINES"
    PROBE_BACK = "PUT THE PROBE BACK"
    KEEP_BELOW = "KEEP BELOW THE LIMIT"
    CHECK_TYPE = "CHECK THE TYPE SET"
    CABLE_RUN = "CHECK THE CABLE RUN"
    SHADE_BOARD = "SHADE THE BOARD"
    MOVE_BOARD = "MOVE THE BOARD"
    CHECK_SUPPLY = "CHECK BOARD SUPPLY"
    NONE = ""

    @property
    def rank(self) -> int:
        """Its place in the list, from 0."""
        return _RANKS[self]

    @property
    def asks(self) -> frozenset[Ask]:
        """What it asks; nothing of most that only want something looked at."""
        return _ASKS.get(self, frozenset())

    def contradicts(self, other: "ShortOrder") -> bool:
        """Tell whether the two must not be told at once.

        >>> ShortOrder.RAISE_HEAT.contradicts(ShortOrder.EASE_HEAT)
        True
        >>> ShortOrder.EASE_HEAT.contradicts(ShortOrder.CLOSE_LID)
        False
        """
        return any(frozenset(pair) in CONTRADICTING for pair in product(self.asks, other.asks))


_RANKS = {order: rank for rank, order in enumerate(ShortOrder)}
_ASKS: dict[ShortOrder, frozenset[Ask]] = {
    ShortOrder.CLOSE_GAS: frozenset({Ask.HEAT_OFF}),
    ShortOrder.HEAT_OFF: frozenset({Ask.HEAT_OFF, Ask.LID_SHUT}),
    ShortOrder.SEE_FLAME: frozenset({Ask.FLAME_SEEN}),
    ShortOrder.LOWER_HEAT_NOW: frozenset({Ask.HEAT_DOWN}),
    # Its long form leaves the choice of opening the lid.
    ShortOrder.LOWER_HEAT: frozenset({Ask.HEAT_DOWN, Ask.LID_OPEN}),
    ShortOrder.EASE_HEAT: frozenset({Ask.HEAT_DOWN}),
    ShortOrder.HOLD_HEAT: frozenset({Ask.HEAT_HELD}),
    ShortOrder.CHECK_PROBE: frozenset({Ask.HEAT_HELD}),
    ShortOrder.CHECK_WIRES: frozenset({Ask.HEAT_HELD}),
    ShortOrder.SWAP_WIRES: frozenset({Ask.HEAT_HELD}),
    ShortOrder.RESTART_BOARD: frozenset({Ask.HEAT_HELD}),
    ShortOrder.CHECK_CABLE: frozenset({Ask.STAY}),
    ShortOrder.CLOSE_LID: frozenset({Ask.LID_SHUT}),
    ShortOrder.STAY: frozenset({Ask.STAY}),
    ShortOrder.FULL_BOTTLE: frozenset({Ask.GO}),
    ShortOrder.RAISE_HEAT: frozenset({Ask.HEAT_UP}),
}
