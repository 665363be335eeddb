"""One heat's evidence with what every judge of it needs: its blind times, when it went hot, sums by worth.

Judges no claim itself.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType

from rampwarden.core.pot.blind import blind_spans, may_be_hot
from rampwarden.core.pot.claims import ClaimDoubt, ClaimShown, Evidence, Place
from rampwarden.core.pot.evidence import (
    BLIND,
    COLD_C,
    HOT_C,
    STEAM_BELOW_C,
    Belief,
    Breach,
    EvidenceStretch,
    HeatEvidence,
    SegmentFacts,
    SegmentSort,
)
from rampwarden.core.pot.water import water_left_s

# A heat was one if it was warm for so long, or if a blind time could have hidden that.
_WARM_S = 60.0

DOUBT_OF: Mapping[Belief, ClaimDoubt] = MappingProxyType(
    {Belief.UNCONFIRMED: ClaimDoubt.UNCONFIRMED, Belief.DOUBTED: ClaimDoubt.SENSOR, Belief.UNSEEN: ClaimDoubt.UNSEEN}
)
"""Why time of this worth leaves a claim in doubt."""


class HeatView:
    """What the judges look at. Public state is for reading only."""

    def __init__(self, evidence: HeatEvidence, expanded_c: Callable[[float], float] | None) -> None:
        self._expanded_c = expanded_c
        self.evidence = evidence
        self.facts = evidence.facts
        self.stretches = evidence.stretches
        self.spans = blind_spans(evidence)
        self.working_soak = working_soak(evidence.segments)
        blind_hot_s = min((span.from_s for span in self.spans if may_be_hot(span)), default=math.inf)
        seen_hot_s = next((each.from_s for each in self.stretches if is_seen(each) and each.high_c > HOT_C), math.inf)
        self.hot_s = min(seen_hot_s, blind_hot_s)
        """From here on it may have been too hot for drying: what comes later is firing, or cooling from it."""
        seen_hot, maybe_hot = seen_hot_s < math.inf, blind_hot_s < math.inf
        self.went_hot = ClaimShown.SHOWN if seen_hot else ClaimShown.IN_DOUBT if maybe_hot else ClaimShown.NOT_SHOWN
        warm = (each for each in self.stretches if each.belief is not Belief.UNSEEN and each.high_c > COLD_C)
        maybe_warm = any(span.may_reach_c > COLD_C for span in self.spans)
        in_air = self.facts.place is Place.CHAMBER
        self._water_left_s = (
            None if in_air else water_left_s(each for each in self.stretches if each.from_s < self.hot_s)
        )
        self.was_heat = maybe_warm or sum(each.seconds for each in warm) >= _WARM_S

    def is_wet(self, at_s: float, low_c: float) -> bool:
        """Tell whether a climb from `low_c` (°C) at `at_s` (s) was one of a pot that may hold water, as it leaves."""
        return not self.facts.dry_before and low_c < STEAM_BELOW_C and at_s <= self.hot_s

    def ran_after_oven(self, breach: Breach) -> bool:
        """Tell whether a climb was found too fast only after the pot's water had visibly left."""
        left_s = self._water_left_s
        return left_s is not None and breach.from_s + breach.window_s >= left_s

    def evidence_of(
        self,
        stretches: Sequence[EvidenceStretch],
        measure: float | None = None,
        wanted: float | None = None,
        unit: str = "",
    ) -> Evidence | None:
        """Give these stretches as a claim's evidence; None where there are none."""
        if not stretches:
            return None
        high_c = max(stretch.high_c for stretch in stretches)
        return Evidence(
            from_s=stretches[0].from_s,
            to_s=stretches[-1].to_s,
            low_c=min(stretch.low_c for stretch in stretches),
            high_c=high_c,
            place=self.facts.place,
            believed_s=seconds(stretches, Belief.BELIEVED),
            unconfirmed_s=seconds(stretches, Belief.UNCONFIRMED),
            doubted_s=seconds(stretches, Belief.DOUBTED),
            unseen_s=seconds(stretches, Belief.UNSEEN),
            expanded_c=self.stated(high_c),
            measure=measure,
            wanted=wanted,
            unit=unit,
        )

    def stated(self, temp_c: float) -> float | None:
        """Give the expanded uncertainty of a temperature of this heat, °C; None if nobody states one."""
        return None if self._expanded_c is None else self._expanded_c(temp_c)


def working_soak(segments: Iterable[SegmentFacts]) -> SegmentFacts | None:
    """Give the soak at working temperature: the hottest, if it is hotter than a drying; None if none is asked for."""
    soaks = [segment for segment in segments if segment.sort is SegmentSort.SOAK and (segment.at_c or 0.0) > HOT_C]
    return max(soaks, key=lambda segment: segment.at_c or 0.0, default=None)


def is_seen(stretch: EvidenceStretch) -> bool:
    """Tell whether its readings say something, confirmed or not."""
    return stretch.belief not in BLIND


def seconds(stretches: Iterable[EvidenceStretch], belief: Belief) -> float:
    """Give how long the stretches of one worth lasted, s."""
    return sum(stretch.seconds for stretch in stretches if stretch.belief is belief)


def total(stretches: Iterable[EvidenceStretch], belief: Belief, of: Callable[[EvidenceStretch], float]) -> float:
    """Give the sum of one figure over the stretches of one worth."""
    return sum(of(stretch) for stretch in stretches if stretch.belief is belief)
