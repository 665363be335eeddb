"""Keeps the pot's account while the heat runs: what the other rooms find out becomes evidence of the pot.

It stands between the monitor and the pot's room, which knows no schedule, alarm or diagnosis. Three rules:

1. What readings are worth is decided once per bucket, from what the diagnoses say of the sensor, and reaches back to
   where the doubt began: for the ledger and for every soak clock alike, one that has already run its time included.
2. A breach is entered by its finding, once that has stood as long as its alarm waits. Whether the alarm was shelved,
   suppressed or out of service is nothing to the pot.
3. To ask for the account changes nothing, so a watch that was asked and one that was not say the same at the end.
"""

import math
from collections.abc import Callable, Mapping

from rampwarden.core.limits import COOLING_FAST, RAMP_HIGH, TEMPERATURE_HIGH
from rampwarden.core.model import Finding
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.pot import (
    ANSWER_S,
    IN_USE,
    NEW_POT,
    Belief,
    Breach,
    BreachKind,
    CreditChange,
    CreditEvent,
    Limit,
    Place,
    PotAccount,
    PotFacts,
    PotLedger,
    PotStanding,
    Readiness,
    SegmentFacts,
    SegmentSort,
    SoakCredit,
    SoakFacts,
    account_of,
    after_heat,
    readiness_of,
)
from rampwarden.core.quantities import Rate, format_duration, slope_in_window_unit
from rampwarden.core.schedule import HeatNumber, Schedule, Segment, SegmentKind

TOUCHES = frozenset(("dial", "burner-up", "burner-down", "lid-open", "lid-closed", "charged", "flame-out"))
"""Marks of what a reading answers by moving: the dial was touched, the lid lifted, cold metal put in."""
_BREACHES: Mapping[str, BreachKind] = {
    RAMP_HIGH.name: BreachKind.CLIMBED,
    COOLING_FAST.name: BreachKind.COOLED,
    TEMPERATURE_HIGH.name: BreachKind.OVERHEATED,
}
_WAITS_S = {entry.name: entry.on_delay_s for entry in (RAMP_HIGH, COOLING_FAST, TEMPERATURE_HIGH)}


class SoakClocks:
    """The soak clock of the present soak, and those of the soaks before it: doubt may reach back into them."""

    def __init__(self, longest_credited_s: float) -> None:
        self._longest_s = longest_credited_s
        self._credits: dict[int, SoakCredit] = {}
        self._ended_s: dict[int, float] = {}
        self._index: int | None = None
        self._belief, self._since_s = Belief.BELIEVED, 0.0
        self._touched_s = -math.inf
        self.changes: list[tuple[int, float, CreditEvent]] = []
        """What befell credit since somebody last looked: the segment's index, when (s), and what."""

    def begin(self, index: int) -> None:
        """The soak of segment `index` begins at nothing."""
        self._index = index
        credit = self._credits[index] = SoakCredit(self._longest_s)
        credit.touched(self._touched_s)

    def leave(self, time_s: float) -> None:
        """The present segment ends at `time_s` (s)."""
        if self._index is not None:
            self._ended_s[self._index] = time_s
            self._index = None

    def restart(self) -> None:
        """The present soak begins at nothing again: the schedule wants an unbroken one."""
        if self._index is not None:
            self._credits[self._index].restart()

    def feed(self, time_s: float, *, in_band: bool) -> None:
        """Take a reading (s) of the present soak."""
        if self._index is None:
            return
        change = self._credits[self._index].feed(time_s, self._belief, self._since_s, in_band=in_band)
        if change is not None:
            self.changes.append((self._index, time_s, change))

    def turn(self, time_s: float, belief: Belief, since_s: float) -> None:
        """From `time_s` (s) on readings are worth this, and so is what came since `since_s`, in ended soaks too."""
        self._belief, self._since_s = belief, since_s
        for index, ended_s in self._ended_s.items():
            if since_s < ended_s:
                change = self._credits[index].feed(time_s, belief, since_s, in_band=False)
                if change is not None:
                    self.changes.append((index, time_s, change))

    def touched(self, time_s: float) -> None:
        """Somebody touched the dial at `time_s` (s)."""
        self._touched_s = time_s
        for credit in self._credits.values():
            credit.touched(time_s)

    @property
    def soaked_s(self) -> float:
        """What may advance the schedule, s: confirmed or not."""
        return 0.0 if self._index is None else self._credits[self._index].soaked_s

    def unconfirmed_s(self, index: int) -> float:
        """How much of the soak of segment `index` is not confirmed, s."""
        credit = self._credits.get(index)
        return 0.0 if credit is None else credit.unconfirmed_s

    def facts(self) -> list[SoakFacts]:
        """Give what every soak clock has come to."""
        return [
            SoakFacts(index + 1, credit.credited_s, credit.unconfirmed_s, credit.withdrawn_s)
            for index, credit in self._credits.items()
        ]


class PotKeeper:
    """Gathers one heat's evidence; `clocks` are the soak clocks that the heat's tracker runs by."""

    def __init__(self, schedule: Schedule, parameters: MonitorParameters) -> None:
        self._schedule = schedule
        self.standing = parameters.standing or assumed_standing(schedule)
        """Where the pot stood before this heat."""
        facts = PotFacts(
            place=Place(parameters.place) if parameters.place in tuple(Place) else Place.UNKNOWN,
            top_c=parameters.top_c,
            cold_c=schedule.cold_c,
            dry_before=self.standing.dry,
            oxidises=parameters.oxidises,
        )
        self._ledger = PotLedger(segment_facts(schedule), facts, parameters.longest_credited_s)
        self.clocks = SoakClocks(parameters.longest_credited_s)
        self.feed: Callable[[float, float], None] = self._ledger.feed
        """Take a believed reading (s, °C)."""
        self._index = 0
        self._belief, self._since_s = Belief.BELIEVED, math.inf
        self._touched_s = self._doubted_until_s = -math.inf
        self._appeared_s: dict[str, float] = {}
        self._told_unconfirmed: set[int] = set()
        self._closed = False

    def enter(self, index: int, time_s: float) -> None:
        """Segment `index` begins at `time_s` (s); the reading that reached it belongs to the one before."""
        self._index = index
        self._ledger.enter(index + 1, time_s)
        self._appeared_s.clear()

    def found(self, time_s: float, temp_c: float, findings: Mapping[str, Finding]) -> None:
        """Take what a believed reading (s, °C) shows of the limits of the present segment."""
        for name in _BREACHES:
            if name not in findings:
                self._appeared_s.pop(name, None)
            elif time_s - self._appeared_s.setdefault(name, time_s) >= _WAITS_S[name]:
                self._ledger.breach(self._breach(name, time_s, temp_c, findings[name]))

    def worth(self, time_s: float, doubted_since_s: float | None, still_since_s: float | None) -> None:
        """Take what the diagnoses say of the sensor: since when it is in doubt or stands still, None if it does not."""
        if doubted_since_s is not None:
            belief, since_s = Belief.DOUBTED, doubted_since_s
        elif still_since_s is not None:
            belief, since_s = Belief.UNCONFIRMED, still_since_s
        else:
            belief, since_s = Belief.BELIEVED, math.inf
        if belief is self._belief and since_s == self._since_s:
            return
        if self._belief is Belief.UNCONFIRMED and belief is not Belief.DOUBTED and self._is_answered(time_s):
            self._ledger.confirm(self._since_s)
        if self._belief is Belief.DOUBTED:
            self._doubted_until_s = time_s
        self._belief, self._since_s = belief, since_s
        match belief:
            case Belief.DOUBTED:
                self._ledger.doubt(since_s)
            case Belief.UNCONFIRMED:
                self._ledger.stand_still(since_s)
            case _:
                self._ledger.believe()
        self.clocks.turn(time_s, belief, since_s)

    def mark(self, time_s: float, name: str) -> None:
        """Take note of a person's mark at `time_s` (s), by the name of the usual one that it is."""
        if name in TOUCHES:
            self._touched_s = time_s
            self.clocks.touched(time_s)

    def shown_dry(self) -> None:
        """A heat balance shows that the pot's water has left."""
        self._ledger.shown_dry()

    def close(self, time_s: float) -> None:
        """The heat, or its record, is over at `time_s` (s): what comes after is not of it."""
        if not self._closed:
            self._closed = True
            self._ledger.close(time_s)
            self.feed = _nothing

    def account(self, now_s: float, expanded_c: Callable[[float], float]) -> PotAccount:
        """Give what the heat has shown of its pot by `now_s` (s); `expanded_c` gives ± °C of a temperature, k = 2."""
        for facts in self.clocks.facts():
            self._ledger.soak(facts)
        return account_of(self._ledger.evidence(now_s), expanded_c)

    def readiness(self, account: PotAccount) -> Readiness:
        """Give what the pot is ready for after a heat with this account."""
        return readiness_of(after_heat(self.standing, account))

    def news(self) -> list[tuple[int, str]]:
        """Give what befell earlier soak credit, in words with the index of its segment, once."""
        changes, self.clocks.changes = self.clocks.changes, []
        return [(index, text) for index, time_s, change in changes if (text := self._words(index, time_s, change))]

    def _words(self, index: int, time_s: float, change: CreditEvent) -> str:
        lasted, since = format_duration(change.seconds), format_duration(time_s - change.since_s)
        if change.change is CreditChange.WITHDRAWN:
            return f"{lasted} of the soak are taken back: the reading has been in doubt for {since}"
        if change.change is CreditChange.CONFIRMED:
            return f"{lasted} of the soak are confirmed: the reading moved after the touch of the dial"
        if index in self._told_unconfirmed:
            return ""
        self._told_unconfirmed.add(index)
        return f"{lasted} of the soak are not confirmed: the reading has stood still for {since}; touch the dial"

    def _is_answered(self, time_s: float) -> bool:
        return self._since_s <= self._touched_s <= time_s <= self._touched_s + ANSWER_S

    def _breach(self, name: str, time_s: float, temp_c: float, finding: Finding) -> Breach:
        """Give a finding as a breach: of a climb, from the beginning of the window that holds it.

        A value that was frozen leaps when it comes back: a climb out of a doubted time is itself in doubt. The leap
        lies at the edge of the fit's window for a moment longer, and a finding outlives what it found until it has
        clearly cleared; so a second window has to pass.
        """
        kind, number = _BREACHES[name], self._index + 1
        if kind is BreachKind.OVERHEATED:
            limit_c = temp_c if finding.limit is None else finding.limit
            return Breach(kind, number, self._appeared_s[name], time_s, temp_c, temp_c, temp_c, limit_c)
        rate = _limit_of(self._schedule.limits_in_force(self._index), finding)
        climb_c = rate.climb_c * (finding.value or 0.0) / (finding.limit or 1.0)
        other_c = temp_c - climb_c if kind is BreachKind.CLIMBED else temp_c + climb_c
        return Breach(
            kind=kind,
            segment=number,
            from_s=max(0.0, time_s - rate.window_s),
            to_s=time_s,
            low_c=min(temp_c, other_c),
            high_c=max(temp_c, other_c),
            level_c=climb_c,
            limit_c=rate.climb_c,
            window_s=rate.window_s,
            doubted=time_s - 2.0 * rate.window_s < self._doubted_until_s,
        )


def assumed_standing(schedule: Schedule) -> PotStanding:
    """Give where a pot stands of which no register tells.

    Whoever gives it a schedule for later heats says that its first is behind it; any other pot is taken for new.
    """
    return IN_USE if schedule.heat is HeatNumber.LATER else NEW_POT


def segment_facts(schedule: Schedule) -> list[SegmentFacts]:
    """Give what the account needs to know of each segment."""
    segments = schedule.segments
    transfers = [index for index, segment in enumerate(segments) if segment.kind is SegmentKind.TRANSFER]
    furnace_from = transfers[-1] + 1 if transfers else 0
    return [_facts(schedule, index, segment, index >= furnace_from) for index, segment in enumerate(segments)]


def _facts(schedule: Schedule, index: int, segment: Segment, in_furnace: bool) -> SegmentFacts:
    limits = tuple(Limit(rate.climb_c, rate.window_s) for rate in schedule.limits_in_force(index))
    return SegmentFacts(
        number=index + 1,
        name=segment.name,
        sort=SegmentSort(segment.kind.value),
        in_furnace=in_furnace,
        at_c=segment.at_c,
        hold_s=segment.hold_s,
        limits=limits,
        ceiling_c=segment.ceiling_c,
    )


def _limit_of(limits: tuple[Rate, ...], finding: Finding) -> Rate:
    """Give the limit that a finding is about; across a corner, that of longest window."""
    for rate in limits:
        if round(slope_in_window_unit(rate.c_per_s, rate.window_s)[0], 2) == finding.limit:
            return rate
    return max(limits, key=lambda rate: rate.window_s)


def _nothing(time_s: float, temp_c: float) -> None:
    pass
