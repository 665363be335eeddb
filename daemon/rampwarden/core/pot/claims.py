"""What may be claimed of a pot after a heat, how well each claim is shown, and the evidence it rests on.

Values only. A claim never speaks of another: what they come to together is `readiness`, and nowhere else.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from msgspec import Struct


class ClaimShown(StrEnum):
    """How well a claim is shown.

    Of what helps the pot (dried, fired) "in doubt" is less than shown; of what harms it, more than not shown.
    """

    SHOWN = "shown"
    NOT_SHOWN = "not-shown"
    IN_DOUBT = "in-doubt"


class ClaimName(StrEnum):
    """What may be claimed."""

    DRIED = "dried"
    FIRED = "fired"
    SOAKED = "soaked"
    COOLING_SEEN = "cooling-seen"
    OVERHEATED = "overheated"
    CLIMBED_WHILE_WET = "climbed-too-fast-while-wet"
    CLIMBED_TOO_FAST = "climbed-too-fast"
    COOLED_TOO_FAST = "cooled-too-fast"
    OXIDISED = "oxidised"
    UNWATCHED = "unwatched"


HELPFUL = (ClaimName.DRIED, ClaimName.FIRED, ClaimName.SOAKED, ClaimName.COOLING_SEEN)
"""Claims that make a pot readier."""
HARMFUL = (
    ClaimName.OVERHEATED,
    ClaimName.CLIMBED_WHILE_WET,
    ClaimName.CLIMBED_TOO_FAST,
    ClaimName.COOLED_TOO_FAST,
)
"""Claims after which a pot is looked at, shown or in doubt alike. Oxidation is wear: said, and it decides nothing."""


class ClaimDoubt(StrEnum):
    """Why a claim is in doubt, or what its evidence leaves open."""

    NOT_WEIGHED = "not-weighed"
    UNCONFIRMED = "unconfirmed"
    SENSOR = "sensor"
    UNSEEN = "unseen"
    HEATED_UNDRIED = "heated-undried"
    BEGAN_WARM = "began-warm"
    CLOSED_WARM = "closed-warm"
    STILL_RUNNING = "still-running"
    CHAMBER = "chamber"
    WATER_LEFT = "water-left"


class Place(StrEnum):
    """Where the probe is: what its temperature is the temperature of."""

    POT = "pot"
    CHAMBER = "chamber"
    UNKNOWN = "unknown"


class Evidence(Struct, frozen=True):
    """What a claim rests on. Times are s since the heat began, temperatures °C.

    `believed_s` counts for it; `unconfirmed_s` (a reading that did not move, which the board's step can explain),
    `doubted_s` (the sensor in doubt) and `unseen_s` (no readings) are the time in question that does not.
    `expanded_c` is the expanded uncertainty of `high_c`, k = 2; None if nobody has stated one. `measure` is what was
    reached of what was `wanted` or allowed, both in `unit`: s, °C, equivalent min at 600 °C, or the share of a drying.
    """

    from_s: float
    to_s: float
    low_c: float
    high_c: float
    place: Place
    believed_s: float = 0.0
    unconfirmed_s: float = 0.0
    doubted_s: float = 0.0
    unseen_s: float = 0.0
    expanded_c: float | None = None
    measure: float | None = None
    wanted: float | None = None
    unit: str = ""


class Claim(Struct, frozen=True):
    """One claim; `evidence` is None where nothing was seen that bears on it."""

    name: ClaimName
    shown: ClaimShown
    evidence: Evidence | None = None
    doubts: tuple[ClaimDoubt, ...] = ()


class PotAccount(Struct, frozen=True):
    """What one heat shows of its pot: every claim once, in the order of `ClaimName`.

    `was_heat` is false where nothing was ever warm: such an account says nothing of the pot. `went_hot`: past the
    temperatures at which it could have been dried. `soak_asked`: the schedule has a soak at working temperature.
    `began_c` and `closed_c` are what was read first and last, °C, None if that was not seen.
    """

    claims: tuple[Claim, ...]
    was_heat: bool
    went_hot: ClaimShown
    soak_asked: bool
    closed: bool
    began_c: float | None
    closed_c: float | None
    seconds: float

    def claim(self, name: ClaimName) -> Claim:
        """Give the claim of that name."""
        return self.claims[_PLACES[name]]

    @property
    def dose_min(self) -> float:
        """The oxidation of this heat at most, equivalent min at 600 °C: the figure of its claim, and the only one."""
        evidence = self.claim(ClaimName.OXIDISED).evidence
        return 0.0 if evidence is None or evidence.measure is None else evidence.measure


_PLACES: Mapping[ClaimName, int] = MappingProxyType({name: place for place, name in enumerate(ClaimName)})
