"""What an explanation is given and what it says: causes, statements, and how a statement ends. No words for people."""

from enum import StrEnum

from msgspec import Struct

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import SegmentKind

_OVEN_C = 350.0
"""°C. Beneath a target so high it is an oven with a thermostat: it has no flame. Common practice, no source."""


class Cause(StrEnum):
    """What can be said of the last minutes; what one probe cannot tell apart is one cause here, the pair."""

    FLAME_OUT = "flame-out"
    FADING = "fading"
    """The climb has slowed: gas, or turned down."""
    SAG = "sag"
    """In a soak the heat grows less by itself: gas, or turned down."""
    LID_OR_PROBE = "lid-or-probe"
    CHARGE = "charge"
    PROBE_MOVED = "probe-moved"
    IN_FLAME = "in-flame"
    INTERFERENCE = "interference"
    STUCK = "stuck"
    CYCLING = "cycling"
    """The oven's thermostat, or the burner, switches on and off."""
    HEAT_OFF = "heat-off"
    """The oven tripped or is off; or, of a thermostat, its first fall."""
    LEFT_ON = "left-on"
    PLATEAU = "plateau"
    ARRIVAL = "arrival"
    """Explains what follows a transfer, and is never told."""


class Context(Struct, frozen=True):
    """What the segment in force asks for. Temperatures in °C; None where the segment has none.

    `limit` is the tightest climb in force. `after_transfer` says that the segment before was a transfer.
    """

    kind: SegmentKind
    target_c: float | None = None
    lowest_c: float | None = None
    highest_c: float | None = None
    limit: Rate | None = None
    after_transfer: bool = False

    @property
    def in_oven(self) -> bool:
        """Whether the target is one of an oven; not where there is none."""
        return self.target_c is not None and self.target_c < _OVEN_C

    @property
    def wants_flame(self) -> bool:
        """Whether the target is one that takes a flame; not where there is none."""
        return self.target_c is not None and self.target_c >= _OVEN_C


class Figures(Struct, frozen=True, omit_defaults=True):
    """Figures for the words; None where a cause has no such figure.

    `temp_c` level it is about (°C), `change_c` how far the reading changed (°C, signed), `before_c_per_s` and
    `now_c_per_s` slopes before and now, `lasted_s` how long (a still reading, a plateau, a lid that was open),
    `period_s` of a cycle, `count` of rejected readings or cycles, `metal` whose point a plateau is.
    """

    temp_c: float | None = None
    change_c: float | None = None
    before_c_per_s: float | None = None
    now_c_per_s: float | None = None
    lasted_s: float | None = None
    period_s: float | None = None
    count: int | None = None
    metal: str = ""


class Statement(Struct, frozen=True):
    """One thing said: its cause, when what it explains began, when it was told, and how sure it is, 0 to 1."""

    cause: Cause
    since_s: float
    told_s: float
    sure: float
    figures: Figures = Figures()


class Ended(StrEnum):
    """Why a statement no longer stands."""

    WRONG = "wrong"
    OVER = "over"


class Saying(Struct, frozen=True):
    """What changes at one reading: a statement told, one withdrawn, or one in the place of the other."""

    told: Statement | None = None
    withdrawn: Statement | None = None
    why: Ended | None = None
