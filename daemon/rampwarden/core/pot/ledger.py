"""Gathers what is seen of a heat, reading by reading, so that it can be given an account at any time.

Theory of operation. Readings are added up in steps of five seconds, steps in stretches of about a minute, each of one
segment and one worth. A reading costs a few comparisons; what needs arithmetic is done once a step. Doubt reaches back:
a stretch that began before the doubt did is doubted whole, to the minute and never to the pot's advantage. A heat of
days is thinned where it is old (neighbours are joined), so memory is bounded and doubt still reaches everything.

A step counts as above a temperature only if every reading in it was: three sparks fire no pot.
"""

import math
from collections.abc import Sequence

from msgspec.structs import replace

from rampwarden.core.pot.drying import drying_per_s
from rampwarden.core.pot.evidence import (
    RED_HEAT_C,
    Belief,
    Breach,
    EvidenceStretch,
    HeatEvidence,
    PotFacts,
    SegmentFacts,
    SoakFacts,
)
from rampwarden.core.pot.oxidation import SEALED_C, oxidation_rate

_STEP_S = 5.0
_STRETCH_S = 60.0
_MOST_STRETCHES = 2048
_MOST_BREACHES = 256


class PotLedger:
    """Gathers one heat; `evidence` may be asked for at any time.

    Readings come in the order of their time; one dated before the last adds nothing.
    """

    __slots__ = (
        "_area", "_begin_c", "_belief", "_breaches", "_closed_s", "_dose_s", "_drying", "_due_s", "_facts", "_fired_s",
        "_from_s", "_high_c", "_last_c", "_last_s", "_longest_s", "_low_c", "_over_s", "_sealed", "_segment",
        "_segments", "_soaks", "_step_from_s", "_stretch_high_c", "_stretch_low_c", "_stretches",
    )  # fmt: skip

    def __init__(self, segments: Sequence[SegmentFacts], facts: PotFacts, longest_credited_s: float) -> None:
        self._facts = facts
        self._segments = {segment.number: segment for segment in segments}
        self._longest_s = longest_credited_s
        self._segment = segments[0]
        self._belief = Belief.BELIEVED
        self._stretches: list[EvidenceStretch] = []
        self._breaches: list[Breach] = []
        self._soaks: dict[int, SoakFacts] = {}
        self._closed_s: float | None = None
        self._sealed = False
        self._last_s = math.nan
        self._last_c = 0.0
        self._from_s = self._step_from_s = 0.0
        self._begin_c = self._low_c = self._high_c = self._stretch_low_c = self._stretch_high_c = 0.0
        self._area = self._fired_s = self._drying = self._dose_s = self._over_s = 0.0
        self._due_s = -math.inf

    def shown_dry(self) -> None:
        """A heat balance shows that the pot's water has left."""
        self._facts = replace(self._facts, balance_dry=True)

    def feed(self, time_s: float, temp_c: float) -> None:
        """Add an accepted temperature (°C) at `time_s` (s, rising)."""
        last_s = self._last_s
        step_s = time_s - last_s
        if 0.0 < step_s <= self._longest_s:
            self._area += step_s * (temp_c + self._last_c)
            if temp_c < self._low_c:
                self._low_c = temp_c
            elif temp_c > self._high_c:
                self._high_c = temp_c
            self._last_s = time_s
            self._last_c = temp_c
            if time_s >= self._due_s:
                self._step()
        else:
            self._begin_after_gap(time_s, temp_c)

    def enter(self, number: int, time_s: float) -> None:
        """Take note that segment `number` begins; the reading that reached it belongs to the one before."""
        if number != self._segment.number:
            self._close_stretch()
            self._segment = self._segments[number]

    def soak(self, facts: SoakFacts) -> None:
        """Take what the soak clock of a segment has come to; later word replaces the earlier."""
        self._soaks[facts.segment] = facts

    def breach(self, breach: Breach) -> None:
        """Take a limit that is broken; while it stays so, further findings of it are added to the first."""
        if self._belief is not Belief.BELIEVED:
            breach = replace(breach, doubted=True)
        for place in range(len(self._breaches) - 1, max(-1, len(self._breaches) - 4), -1):
            known = self._breaches[place]
            same = (known.kind, known.segment, known.window_s, known.doubted) == (
                breach.kind, breach.segment, breach.window_s, breach.doubted,
            )  # fmt: skip
            if same and breach.from_s <= known.to_s:
                self._breaches[place] = _joined(known, breach)
                return
        if len(self._breaches) < _MOST_BREACHES:
            self._breaches.append(breach)
        else:
            # A heat that broke so much is judged by its worst; which was the last of many changes nothing.
            mildest = min(range(_MOST_BREACHES), key=lambda place: _gravity(self._breaches[place]))
            if _gravity(breach) > _gravity(self._breaches[mildest]):
                self._breaches[mildest] = breach

    def doubt(self, since_s: float) -> None:
        """From now on the sensor is in doubt, and so is what it said since `since_s` (s)."""
        self._set_belief(Belief.DOUBTED)
        self._reword(since_s, (Belief.BELIEVED, Belief.UNCONFIRMED), Belief.DOUBTED)
        self._breaches = [
            replace(breach, doubted=True) if breach.to_s >= since_s else breach for breach in self._breaches
        ]

    def stand_still(self, since_s: float) -> None:
        """The reading has stood still since `since_s` (s), as the board's step can explain: not confirmed."""
        self._set_belief(Belief.UNCONFIRMED)
        self._reword(since_s, (Belief.BELIEVED,), Belief.UNCONFIRMED)

    def confirm(self, since_s: float) -> None:
        """The stillness since `since_s` (s) was answered by a move after a touch of the dial: it counts."""
        self._set_belief(Belief.BELIEVED)
        self._reword(since_s, (Belief.UNCONFIRMED,), Belief.BELIEVED)

    def believe(self) -> None:
        """From now on readings count again; what was doubted stays so."""
        self._set_belief(Belief.BELIEVED)

    def close(self, time_s: float) -> None:
        """The record is closed at `time_s` (s); silence since the last reading was not seen."""
        self._closed_s = time_s

    def evidence(self, now_s: float | None = None) -> HeatEvidence:
        """Give what has been seen so far; `now_s` (s) tells how long nothing has come, if that is known.

        To ask changes nothing: where stretches end may not depend on whether anybody looked.
        """
        kept = [(name, getattr(self, name)) for name in self.__slots__]
        self._stretches = list(self._stretches)
        self._close_stretch()
        stretches = self._stretches
        for name, value in kept:
            setattr(self, name, value)
        end_s = self._closed_s if self._closed_s is not None else now_s
        if stretches and end_s is not None and end_s - self._last_s > self._longest_s:
            stretches.append(self._unseen(self._last_s, end_s, self._last_c, self._last_c))
        return HeatEvidence(
            facts=self._facts,
            segments=tuple(self._segments.values()),
            stretches=tuple(stretches),
            breaches=tuple(self._breaches),
            soaks=tuple(self._soaks.values()),
            closed_s=self._closed_s,
        )

    # Steps and stretches

    def _step(self) -> None:
        """Work out what the last few seconds gave, and close the stretch when it is long enough."""
        last_s, low_c = self._last_s, self._low_c
        seconds = last_s - self._step_from_s
        if seconds > 0.0:
            mean_c = 0.5 * self._area / seconds
            segment = self._segment
            if low_c >= RED_HEAT_C:
                if segment.in_furnace:
                    self._fired_s += seconds
                if low_c >= SEALED_C and self._belief is Belief.BELIEVED:
                    self._sealed = True
            else:
                self._drying += seconds * drying_per_s(mean_c)
            if not self._sealed:
                self._dose_s += seconds * oxidation_rate(mean_c)
            if self._facts.top_c is not None and low_c > self._facts.top_c:
                self._over_s += seconds
        self._stretch_low_c = min(self._stretch_low_c, low_c)
        self._stretch_high_c = max(self._stretch_high_c, self._high_c)
        self._step_from_s = last_s
        self._due_s = last_s + _STEP_S
        self._area = 0.0
        self._low_c = self._high_c = self._last_c
        if last_s - self._from_s >= _STRETCH_S:
            self._close_stretch()

    def _begin_after_gap(self, time_s: float, temp_c: float) -> None:
        """Begin anew: the first reading of the heat, or the first after a time without."""
        if not math.isnan(self._last_s):
            if time_s <= self._last_s:
                return
            self._close_stretch()
            self._append(self._unseen(self._last_s, time_s, self._last_c, temp_c))
        self._last_s, self._last_c = time_s, temp_c
        self._begin()

    def _begin(self) -> None:
        """Begin a stretch where the last reading stands."""
        self._from_s = self._step_from_s = self._last_s
        self._begin_c = self._low_c = self._high_c = self._stretch_low_c = self._stretch_high_c = self._last_c
        self._area = self._fired_s = self._drying = self._dose_s = self._over_s = 0.0
        self._due_s = self._last_s + _STEP_S

    def _close_stretch(self) -> None:
        """Close the stretch and begin the next; nothing where none has any length."""
        if math.isnan(self._last_s) or self._last_s <= self._from_s:
            return
        if self._last_s > self._step_from_s:
            from_s = self._from_s
            self._from_s = self._last_s  # so that the step does not close it a second time
            self._step()
            self._from_s = from_s
        self._append(
            EvidenceStretch(
                from_s=self._from_s,
                to_s=self._last_s,
                segment=self._segment.number,
                belief=self._belief,
                begin_c=self._begin_c,
                end_c=self._last_c,
                low_c=self._stretch_low_c,
                high_c=self._stretch_high_c,
                fired_s=self._fired_s,
                drying=self._drying,
                dose_s=self._dose_s,
                over_s=self._over_s,
            )
        )
        self._begin()

    def _unseen(self, from_s: float, to_s: float, before_c: float, after_c: float) -> EvidenceStretch:
        # Its oxidation is credited with the mean of its two ends: of wear, too much is the safe side.
        rate = 0.0 if self._sealed else 0.5 * (oxidation_rate(before_c) + oxidation_rate(after_c))
        return EvidenceStretch(
            from_s=from_s,
            to_s=to_s,
            segment=self._segment.number,
            belief=Belief.UNSEEN,
            begin_c=before_c,
            end_c=after_c,
            low_c=min(before_c, after_c),
            high_c=max(before_c, after_c),
            dose_s=rate * (to_s - from_s),
        )

    def _set_belief(self, belief: Belief) -> None:
        if belief is not self._belief:
            self._close_stretch()
            self._belief = belief

    def _reword(self, since_s: float, old: tuple[Belief, ...], new: Belief) -> None:
        """Give another worth to every stretch since a time."""
        stretches = self._stretches
        for place in range(len(stretches) - 1, -1, -1):
            stretch = stretches[place]
            # A stretch that is to count again must lie after the time whole; one that is to be doubted need not.
            edge_s = stretch.from_s if new is Belief.BELIEVED else stretch.to_s
            if stretch.to_s <= since_s:
                break
            if edge_s >= since_s and stretch.belief in old:
                stretches[place] = replace(stretch, belief=new)

    def _append(self, stretch: EvidenceStretch) -> None:
        self._stretches.append(stretch)
        if len(self._stretches) > _MOST_STRETCHES:
            self._thin()

    def _thin(self) -> None:
        """Join neighbours of one segment and worth in the older half."""
        kept: list[EvidenceStretch] = []
        half = len(self._stretches) // 2
        for place, stretch in enumerate(self._stretches):
            last = kept[-1] if kept else None
            if place < half and place % 2 and last is not None and _alike(last, stretch):
                kept[-1] = _longer(last, stretch)
            else:
                kept.append(stretch)
        self._stretches = kept


def _alike(first: EvidenceStretch, second: EvidenceStretch) -> bool:
    return first.segment == second.segment and first.belief is second.belief


def _longer(first: EvidenceStretch, second: EvidenceStretch) -> EvidenceStretch:
    return EvidenceStretch(
        from_s=first.from_s,
        to_s=second.to_s,
        segment=first.segment,
        belief=first.belief,
        begin_c=first.begin_c,
        end_c=second.end_c,
        low_c=min(first.low_c, second.low_c),
        high_c=max(first.high_c, second.high_c),
        fired_s=first.fired_s + second.fired_s,
        drying=first.drying + second.drying,
        dose_s=first.dose_s + second.dose_s,
        over_s=first.over_s + second.over_s,
    )


def _gravity(breach: Breach) -> tuple[bool, float]:
    return not breach.doubted, breach.level_c / breach.limit_c


def _joined(first: Breach, second: Breach) -> Breach:
    worse = max(first, second, key=lambda breach: breach.level_c)
    return replace(
        worse,
        from_s=min(first.from_s, second.from_s),
        to_s=max(first.to_s, second.to_s),
        low_c=min(first.low_c, second.low_c),
        high_c=max(first.high_c, second.high_c),
    )
