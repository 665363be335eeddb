"""What is drawn for a heat before it begins, the same for both who run it: workshop, habits, and what comes between.

Whatever depends on chance while the heat runs is drawn here by the minute, so that who is told something meets the same
slips of the hand and the same calls as who is not. All spreads are assumptions, own arithmetic.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchmarks.furnaces.scenarios import SIMULATORS, Stream
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import HeatNumber, Schedule, Segment, SegmentKind

LONGEST_S = 14 * 3600
_HELP = 16
_OVEN_RATE = Rate(25.0, 900.0)
_MINUTES = LONGEST_S // 60 + 2


@dataclass(frozen=True)
class Absence:
    """From when until when nobody looks, s; `hears` is whether a voice reaches whoever it is."""

    from_s: float
    to_s: float
    hears: bool


@dataclass(frozen=True)
class ProbeMishap:
    """What befalls the probe, from a share of the climb's end temperature on.

    `kind` is slips, sticks, unplugged or none.
    """

    kind: str = "none"
    at_c: float = 0.0
    share: float = 0.0


@dataclass(frozen=True)
class Habits:
    """How this person works. A `notch` of the oven's dial is in °C, each `notch_s`; `lead_s` is how long before the
    target the closing in begins; `exaggerates` is the share of turns that go twice too far; `clock_s` by how much the
    soak's end is misjudged; `spot_bias` what the spot thermometer reads beside the truth, as a share, and `spot_c` its
    scatter, °C rms."""

    pace: float
    notch: float
    notch_s: float
    lead_s: float
    firm: float
    exaggerates: float
    catches_up: bool
    clock_s: float
    spot_bias: float
    spot_c: float
    marks: float


@dataclass(frozen=True)
class Gas:
    """The bottle: what is in it (kg), what the full flame burns (kW), whether a full one stands ready, and whether the
    watch has been told of it, by what share wrongly."""

    content_kg: float
    full_kg: float
    full_kw: float
    ambient_c: float
    spare_at_hand: bool
    fetch_s: float
    told: bool
    told_wrong: float


@dataclass(frozen=True)
class Drawn:
    """One heat's lot. Arrays are by the minute; `flame_out_s`, `peeks_s` are seconds of flame."""

    simulator: str
    seed: int
    stream: Stream
    schedule: Schedule
    habits: Habits
    gas: Gas
    absences: tuple[Absence, ...]
    mishap: ProbeMishap
    flame_out_s: float
    peeks_s: tuple[float, ...]
    forgotten_peek: tuple[bool, ...]
    dial: tuple[float, float]
    carried_s: int
    full_pace: float
    lag_s: float
    noise: tuple[float, float, float]
    turn: NDArray[np.float64] = field(repr=False)
    chance: NDArray[np.float64] = field(repr=False)
    spot: NDArray[np.float64] = field(repr=False)

    def dice(self, what: int) -> np.random.Generator:
        """Give dice for one purpose, the same in both arms."""
        return np.random.default_rng((self.stream.value, _HELP, SIMULATORS.index(self.simulator), self.seed, what))


def draw(simulator: str, seed: int, stream: Stream) -> Drawn:
    """Draw heat `seed` of a simulator."""
    dice = np.random.default_rng((stream.value, _HELP, SIMULATORS.index(simulator), seed))
    schedule = _schedule(dice)
    pace = float(dice.uniform(0.62, 0.9))
    return Drawn(
        simulator=simulator,
        seed=seed,
        stream=stream,
        schedule=schedule,
        habits=Habits(
            pace=pace,
            notch=float(dice.uniform(16.0, 25.0)),
            notch_s=900.0,
            lead_s=float(dice.uniform(40.0, 160.0)),
            firm=float(dice.uniform(0.5, 1.0)),
            exaggerates=float(dice.uniform(0.05, 0.2)),
            catches_up=bool(dice.random() < 0.5),
            clock_s=float(dice.normal(0.0, 180.0)),
            spot_bias=float(dice.normal(0.0, 0.012)),
            spot_c=float(dice.uniform(3.0, 8.0)),
            marks=float(dice.uniform(0.4, 1.0)),
        ),
        gas=Gas(
            content_kg=float(dice.uniform(0.5, 5.0)),
            full_kg=11.0,
            full_kw=float(dice.uniform(18.0, 32.0)),
            ambient_c=float(dice.uniform(8.0, 24.0)),
            spare_at_hand=bool(dice.random() < 0.5),
            fetch_s=float(dice.uniform(300.0, 1200.0)),
            told=bool(dice.random() < 0.5),
            told_wrong=float(dice.normal(1.0, 0.15)),
        ),
        absences=_absences(dice),
        mishap=_mishap(dice, schedule),
        flame_out_s=float(dice.exponential(6.0 * 3600.0)),
        peeks_s=tuple(float(each) for each in np.cumsum(dice.uniform(900.0, 2400.0, 12))),
        forgotten_peek=tuple(bool(each) for each in dice.random(12) < 0.2),
        dial=(float(dice.uniform(0.85, 1.2)), float(dice.uniform(-6.0, 6.0))),
        carried_s=int(dice.uniform(90.0, 400.0)),
        full_pace=float(dice.uniform(1.4, 2.0)),
        lag_s=float(dice.uniform(3.0, 15.0)),
        noise=(
            float(dice.uniform(0.1, 0.5)),
            float(dice.choice((0.3, 0.7, 1.5))),
            float(dice.choice((5.0, 12.0, 30.0))),
        ),
        turn=dice.standard_normal(_MINUTES),
        chance=dice.random((_MINUTES, 5)),
        spot=dice.standard_normal(_MINUTES),
    )


def _schedule(dice: np.random.Generator) -> Schedule:
    target_c = round(float(dice.uniform(950.0, 1160.0)), -1)
    red, hot = round(float(dice.uniform(24.0, 40.0))), round(float(dice.uniform(30.0, 50.0)))
    segments = (
        Segment("oven drying", SegmentKind.RAMP, to_c=180.0, max_rates=(_OVEN_RATE,)),
        Segment("dry soak", SegmentKind.SOAK, at_c=180.0, band_c=(-15.0, 15.0), hold_s=1800.0),
        Segment("oven to furnace", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=80.0),
        Segment(
            "to red heat",
            SegmentKind.RAMP,
            to_c=650.0,
            max_rates=(Rate(float(red), 120.0),),
            min_rate=Rate(float(red) * 0.8, 300.0),
            within_s=4500.0,
        ),
        Segment(
            "to working heat", SegmentKind.RAMP, to_c=target_c, max_rates=(Rate(float(hot), 120.0),), within_s=3600.0
        ),
        Segment(
            "working heat",
            SegmentKind.SOAK,
            at_c=target_c,
            band_c=(-25.0, 25.0),
            hold_s=1800.0,
            ceiling_c=target_c + 60.0,
        ),
        Segment("closed furnace", SegmentKind.COOL, to_c=300.0, max_rates=(Rate(400.0, 600.0),)),
    )
    return Schedule("a first heat", segments, crucible_class="clay-graphite", heat=HeatNumber.FIRST)


def _absences(dice: np.random.Generator) -> tuple[Absence, ...]:
    """Forgets within earshot once in two hours; is called away as often, every other time out of earshot."""
    spans, time_s = [], 0.0
    while True:
        time_s += float(dice.exponential(3600.0))
        if time_s > LONGEST_S:
            return tuple(spans)
        forgets = bool(dice.random() < 0.5)
        lasts_s = float(dice.uniform(240.0, 900.0) if forgets else dice.uniform(300.0, 1200.0))
        spans.append(Absence(time_s, time_s + lasts_s, forgets or bool(dice.random() < 0.5)))
        time_s += lasts_s


def _mishap(dice: np.random.Generator, schedule: Schedule) -> ProbeMishap:
    kind = str(dice.choice(("none", "slips", "sticks", "unplugged"), p=(0.76, 0.08, 0.08, 0.08)))
    target_c = schedule.segments[-2].at_c or 0.0
    return ProbeMishap(kind, float(dice.uniform(300.0, target_c - 30.0)), float(dice.uniform(0.04, 0.12)))
