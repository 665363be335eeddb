"""What truly befell the pot of one heat, in the figures of the table; and how two ways of running it compare."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields

import numpy as np

from benchmarks.account_judging import Window
from rampwarden.core.pot.drying import drying_per_s
from rampwarden.core.pot.oxidation import SEALED_C, oxidation_rate
from rampwarden.core.schedule import Schedule, SegmentKind

_DRY = 0.9
"""Share of a whole drying from which a pot counts as carried over dry."""
_LOST_FALL_C = 150.0
"""A pot that fell so far for want of gas has had its first heat spoilt: it is begun again. An assumption."""


@dataclass
class Outcome:
    """One heat's figures, each the worse the larger. Of heats, 1 or 0."""

    wet_ratio: float = 0.0
    over_min: float = 0.0
    undried: float = 0.0
    dose_min: float = 0.0
    soak_off_min: float = 0.0
    soak_off_c: float = 0.0
    over_top_c: float = 0.0
    lost: float = 0.0
    unfinished: float = 0.0
    false_errands: float = 0.0


LABELS = {
    "wet_ratio": "worst climb ÷ limit while wet",
    "over_min": "minutes over a climb limit",
    "undried": "carried over undried, % of heats",
    "dose_min": "burning to 900 °C, min as at 600 °C",
    "soak_off_min": "soak too short or long, min in band",
    "soak_off_c": "soak beside its target, °C mean",
    "over_top_c": "above the ceiling, °C",
    "lost": "lost to an empty bottle, % of heats",
    "unfinished": "not done in 14 h, % of heats",
    "false_errands": "errands for nothing, per heat",
}
OF_HEATS = ("undried", "lost", "unfinished")


@dataclass
class PotTruth:
    """Follows the pot by the simulator's own temperature. `index` is the segment that the person runs, -1 at first."""

    schedule: Schedule
    outcome: Outcome = field(default_factory=Outcome)
    drying: float = 0.0
    ratio: float = 0.0
    index: int = -1
    _windows: list[tuple[float, Window]] = field(default_factory=list)
    _sealed: bool = False
    _soaked_s: float = 0.0
    _off_c_s: float = 0.0
    _held_s: float = 0.0
    _fell_from_c: float = -math.inf

    def follow(self, second: float, pot_c: float, index: int, *, starved: bool) -> None:
        """Take the pot's temperature (°C) a second later; `starved`: there is no gas to keep a flame."""
        out, segment = self.outcome, self.schedule.segments[index]
        if index != self.index:
            self.index = index
            limits = () if segment.kind is SegmentKind.COOL else self.schedule.limits_in_force(index)
            self._windows = [(each.climb_c, Window(each.window_s)) for each in limits]
        self.ratio = max((each.rise_c(second, pot_c) / climb_c for climb_c, each in self._windows), default=0.0)
        if self.drying < 1.0:
            self.drying += drying_per_s(pot_c)
            # What stands in the oven is wet; what is carried over before it is dry has a row of its own.
            if index <= 1:
                out.wet_ratio = max(out.wet_ratio, self.ratio)
        out.over_min += (self.ratio > 1.0) / 60.0
        self._sealed = self._sealed or pot_c >= SEALED_C
        if not self._sealed:
            out.dose_min += oxidation_rate(pot_c) / 60.0
        if segment.ceiling_c is not None:
            out.over_top_c = max(out.over_top_c, pot_c - segment.ceiling_c)
        if segment.kind is SegmentKind.SOAK and index > 2:
            self._soaked_s += segment.lowest_c <= pot_c <= segment.highest_c
            self._off_c_s += abs(pot_c - (segment.at_c or 0.0))
            self._held_s += 1.0
        if starved and index > 2 and segment.kind is not SegmentKind.COOL:
            self._fell_from_c = max(self._fell_from_c, pot_c)
            out.lost = max(out.lost, float(pot_c < self._fell_from_c - _LOST_FALL_C))
        else:
            self._fell_from_c = -math.inf

    @property
    def longest_window_s(self) -> float:
        """The longest window of the climb limits in force, s; 0 without any."""
        return max((each.window_s for _, each in self._windows), default=0.0)

    def carried(self) -> None:
        """The pot is lifted from the oven."""
        self.outcome.undried = float(self.drying < _DRY)

    def finish(self, *, done: bool) -> Outcome:
        """Give what befell it."""
        out = self.outcome
        out.unfinished = float(not done)
        out.soak_off_min = abs(self._soaked_s - self.schedule.segments[-2].hold_s) / 60.0
        out.soak_off_c = self._off_c_s / self._held_s if self._held_s else 0.0
        return out


@dataclass(frozen=True)
class Compared:
    """One row: means by hand and with the watch, their difference, and half its 95 % interval."""

    name: str
    by_hand: float
    watched: float
    difference: float
    half: float

    @property
    def verdict(self) -> str:
        """Better or worse where the interval leaves no doubt, empty else."""
        if abs(self.difference) <= self.half or self.difference == 0.0:
            return ""
        return "better" if self.difference < 0.0 else "WORSE"


def compare(pairs: Sequence[tuple[Outcome, Outcome]]) -> list[Compared]:
    """Compare heats run by hand and watched, pair by pair: two heats of a pair are the same heat."""
    rows = []
    for name in (each.name for each in fields(Outcome)):
        both = np.array([[getattr(one, name), getattr(other, name)] for one, other in pairs])
        both *= 100.0 if name in OF_HEATS else 1.0
        apart = both[:, 1] - both[:, 0]
        half = 1.96 * float(apart.std(ddof=1)) / math.sqrt(len(apart)) if len(apart) > 1 else math.inf
        rows.append(Compared(name, float(both[:, 0].mean()), float(both[:, 1].mean()), float(apart.mean()), half))
    return rows
