"""What was seen of one heat, as values: stretches of time, limits that were broken, soaks, and facts about the pot.

The ledger gathers it live; an account is worked out from it and from nothing else. Has no behaviour beyond sums.
"""

from enum import StrEnum

from msgspec import Struct

from rampwarden.core.pot.claims import Place

COLD_C = 60.0
"""°C below which a pot counts as cold: it can be touched, and no limit of a schedule begins there. Common practice, no
source."""
HOT_C = 300.0
"""°C above which no oven dries any more: whoever comes here undried brings the water along. Common practice, no
source."""
RED_HEAT_C = 650.0
"""°C above which a pot is fired. Common practice, no source."""
STEAM_BELOW_C = 200.0
"""°C below which water leaves a wall: its vapour pressure is 15.5 bar there (saturation line of the IAPWS
formulation: Wagner and Pruß, The IAPWS Formulation 1995, 2002)."""


class Belief(StrEnum):
    """What a stretch of time is worth as evidence."""

    BELIEVED = "believed"
    UNCONFIRMED = "unconfirmed"  # the reading stood still, and the board's step can explain it
    DOUBTED = "doubted"  # the sensor is or was found to be in doubt
    UNSEEN = "unseen"  # no reading that could be believed


BLIND = (Belief.DOUBTED, Belief.UNSEEN)
"""Of such time nothing is known but the levels before and after it."""


class SegmentSort(StrEnum):
    """What a segment asks of the furnace; the schedule's own words."""

    RAMP = "ramp"
    SOAK = "soak"
    TRANSFER = "transfer"
    COOL = "cool"


class Limit(Struct, frozen=True, gc=False):
    """At most `climb_c` (°C; in a cooling: fall) within any `window_s` (s)."""

    climb_c: float
    window_s: float


class SegmentFacts(Struct, frozen=True):
    """What the account needs to know of one segment: `limits` are those in force, an inherited one included.

    `in_furnace` is false in a drying oven and on the way from there. `hold_s` and `at_c` are a soak's.
    """

    number: int
    name: str
    sort: SegmentSort
    in_furnace: bool = True
    at_c: float | None = None
    hold_s: float = 0.0
    limits: tuple[Limit, ...] = ()
    ceiling_c: float | None = None


class PotFacts(Struct, frozen=True):
    """What is known of pot and probe from elsewhere.

    `dry_before`: the register holds the pot for dry at the beginning; None if nobody can say. `weighed_dry`: a person
    has weighed it until it lost no more. `balance_dry`: a heat balance shows that its water has left. `top_c` is the
    maker's greatest temperature, `cold_c` where this schedule's heat is over, °C. `oxidises`: its class burns in air.
    """

    place: Place = Place.UNKNOWN
    top_c: float | None = None
    cold_c: float = COLD_C
    dry_before: bool | None = None
    weighed_dry: bool = False
    balance_dry: bool = False
    oxidises: bool = True


class EvidenceStretch(Struct, frozen=True, gc=False):
    """About a minute of one segment, all of the same worth. Times s, temperatures °C.

    `begin_c` and `end_c` stand at its ends, `low_c` and `high_c` are its extremes. `fired_s` is the time above red heat
    in a furnace; `drying` the share of a drying that it gave (see `drying`); `dose_s` its oxidation, equivalent seconds
    at 600 °C; `over_s` the time above the maker's top. Of unseen time only the levels at both ends are known.
    """

    from_s: float
    to_s: float
    segment: int
    belief: Belief
    begin_c: float
    end_c: float
    low_c: float
    high_c: float
    fired_s: float = 0.0
    drying: float = 0.0
    dose_s: float = 0.0
    over_s: float = 0.0

    @property
    def seconds(self) -> float:
        """How long it lasted, s."""
        return self.to_s - self.from_s


class BreachKind(StrEnum):
    """Which kind of limit was broken."""

    CLIMBED = "climbed"
    COOLED = "cooled"
    OVERHEATED = "overheated"


class Breach(Struct, frozen=True):
    """A limit that was broken, from the beginning of the climb that broke it to its end.

    `level_c` is what is proven (the climb within `window_s`, or the temperature above a ceiling), `limit_c` what was
    allowed. `doubted`: the readings that showed it are themselves in doubt.
    """

    kind: BreachKind
    segment: int
    from_s: float
    to_s: float
    low_c: float
    high_c: float
    level_c: float
    limit_c: float
    window_s: float = 0.0
    doubted: bool = False


class SoakFacts(Struct, frozen=True):
    """What the soak clock of a segment came to, s: credited, credited without being confirmed, and taken back."""

    segment: int
    credited_s: float
    unconfirmed_s: float = 0.0
    withdrawn_s: float = 0.0


class HeatEvidence(Struct, frozen=True):
    """Everything that was seen of one heat. `segments` in the schedule's order, `stretches` in time's, without holes.

    `closed_s` is when the record was closed, s; None while the heat runs.
    """

    facts: PotFacts
    segments: tuple[SegmentFacts, ...]
    stretches: tuple[EvidenceStretch, ...]
    breaches: tuple[Breach, ...] = ()
    soaks: tuple[SoakFacts, ...] = ()
    closed_s: float | None = None
