"""What truly befell a pot, by a model's own temperatures, and whether an account of it is better than that.

A claim is better than the truth when it says of help that did not happen that it did, or of harm that happened that it
did not. The truth is judged with the uncertainty that the watch states (k = 2) in the account's favour, and a limit
counts as broken when the pot passed it by a tenth for a minute: a temperature nobody could have told from the true one
is no lie.
"""

import math
from collections import deque
from dataclasses import dataclass, field

from rampwarden.core.pot import Claim, ClaimDoubt, ClaimName, ClaimShown, PotAccount, working_soak
from rampwarden.core.pot.drying import drying_per_s
from rampwarden.core.pot_keeper import segment_facts
from rampwarden.core.schedule import Schedule, SegmentKind

_RED_HEAT_C, _HOT_C = 650.0, 300.0
_BROKEN_BY = 1.1
_BROKEN_FOR_S = 60.0
_CLIMBS = (ClaimName.CLIMBED_WHILE_WET, ClaimName.CLIMBED_TOO_FAST)


class Window:
    """How far the pot rose within a sliding window, at most; the lowest temperature is kept by a falling queue."""

    def __init__(self, window_s: float) -> None:
        self.window_s = window_s
        self._lowest: deque[tuple[float, float]] = deque()

    def rise_c(self, time_s: float, temp_c: float) -> float:
        """Give the rise to this temperature from the lowest of the window, °C."""
        lowest = self._lowest
        while lowest and lowest[-1][1] >= temp_c:
            lowest.pop()
        lowest.append((time_s, temp_c))
        while lowest[0][0] < time_s - self.window_s:
            lowest.popleft()
        return temp_c - lowest[0][1]


@dataclass
class Truth:
    """What truly befell the pot, by the model's own temperatures; times in s, temperatures in °C."""

    schedule: Schedule
    drying: float = 0.0
    fired_s: float = 0.0
    soaked_s: float = 0.0
    over_s: float = 0.0
    climbed_s: float = 0.0
    cooled_s: float = 0.0
    peak_c: float = -math.inf
    end_c: float = 0.0
    _index: int = -1
    _windows: list[tuple[float, Window]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._facts = segment_facts(self.schedule)
        self._soak = working_soak(self._facts)

    def follow(self, time_s: float, pot_c: float, index: int | None, seconds: float, expanded_c: float) -> None:
        """Take the pot's state after a step of `seconds`, with `expanded_c` (± °C) in the account's favour.

        `index` is the segment that is being run, None when the schedule is done.
        """
        self.end_c, self.peak_c = pot_c, max(self.peak_c, pot_c)
        if index is None:
            return
        segment, facts = self.schedule.segments[index], self._facts[index]
        if self.peak_c - expanded_c <= _HOT_C:
            self.drying += seconds * drying_per_s(pot_c + expanded_c)
        if facts.in_furnace and pot_c + expanded_c >= _RED_HEAT_C:
            self.fired_s += seconds
        soak = None if self._soak is None else self.schedule.segments[self._soak.number - 1]
        if soak is not None and soak.lowest_c - expanded_c <= pot_c <= soak.highest_c + expanded_c:
            self.soaked_s += seconds
        if segment.ceiling_c is not None and pot_c > segment.ceiling_c + expanded_c:
            self.over_s += seconds
        if index != self._index:
            self._index = index
            self._windows = [(each.climb_c, Window(each.window_s)) for each in self.schedule.limits_in_force(index)]
        falls = segment.kind is SegmentKind.COOL
        level_c = -pot_c if falls else pot_c
        rises = [window.rise_c(time_s, level_c) - _BROKEN_BY * climb_c for climb_c, window in self._windows]
        if any(rise > expanded_c * 0.1 for rise in rises):
            if falls:
                self.cooled_s += seconds
            else:
                self.climbed_s += seconds

    def helped(self, name: ClaimName) -> bool:
        """Tell whether what helps the pot truly happened."""
        soak = self._soak
        match name:
            case ClaimName.DRIED:
                return self.drying >= 1.0
            case ClaimName.FIRED:
                return self.fired_s >= 300.0
            case ClaimName.SOAKED:
                return soak is not None and self.soaked_s >= soak.hold_s
            case _:
                return self.end_c <= self.schedule.cold_c + 10.0

    def harmed(self) -> dict[str, bool]:
        """Tell which harm truly happened."""
        return {
            "overheated": self.over_s >= _BROKEN_FOR_S,
            "climbed": self.climbed_s >= _BROKEN_FOR_S,
            "cooled": self.cooled_s >= _BROKEN_FOR_S,
        }

    def __str__(self) -> str:
        harm = ", ".join(name for name, happened in self.harmed().items() if happened) or "no harm"
        return (
            f"dried {self.drying:.0%}, red {self.fired_s / 60:.0f} min, in band {self.soaked_s / 60:.0f} min, "
            f"peak {self.peak_c:.0f} °C, end {self.end_c:.0f} °C, {harm}"
        )


def claims_help(claim: Claim) -> bool:
    """Tell whether a claim says that it helped; drying by the clock is one that moves the pot on, weighed or not."""
    return claim.shown is ClaimShown.SHOWN or claim.doubts == (ClaimDoubt.NOT_WEIGHED,)


def better_than(truth: Truth, account: PotAccount) -> list[str]:
    """Give what the account says better than it was."""
    better = [
        f"{name} claimed, and it did not happen"
        for name in (ClaimName.DRIED, ClaimName.FIRED, ClaimName.SOAKED, ClaimName.COOLING_SEEN)
        if claims_help(account.claim(name)) and not truth.helped(name)
    ]
    said = {
        "overheated": (ClaimName.OVERHEATED,),
        "climbed": _CLIMBS,
        "cooled": (ClaimName.COOLED_TOO_FAST,),
    }
    for harm, happened in truth.harmed().items():
        if happened and all(account.claim(name).shown is ClaimShown.NOT_SHOWN for name in said[harm]):
            better.append(f"{harm}, and the account says it was not")
    return better
