"""The account of one heat: every claim worked out from what was seen, each with the evidence it rests on.

Two rules. What helps a pot is shown by believed time alone (`helpful`). What harms it is in doubt wherever it cannot
be excluded (`harmful`): a breach that nobody could see is not forgiven.
"""

from collections.abc import Callable

from rampwarden.core.pot.blind import BLINK_S
from rampwarden.core.pot.claims import Claim, ClaimDoubt, ClaimName, ClaimShown, PotAccount
from rampwarden.core.pot.evidence import BLIND, COLD_C, Belief, EvidenceStretch, HeatEvidence
from rampwarden.core.pot.harmful import judge_climbed, judge_cooled, judge_overheated
from rampwarden.core.pot.helpful import judge_cooling_seen, judge_dried, judge_fired, judge_soaked
from rampwarden.core.pot.view import DOUBT_OF, HeatView, is_seen, seconds, total

# Equivalent minutes at 600 °C to the glaze's sealing. A brisk first heat comes to 60 to 90, half an hour stalled at
# 750 °C to 128 (own arithmetic); what a wall can take nobody has published.
_HEAVY_DOSE_MIN = 120.0
_UNWATCHED_S = 120.0


def account_of(evidence: HeatEvidence, expanded_c: Callable[[float], float] | None = None) -> PotAccount:
    """Give the account of a heat.

    `expanded_c` gives the expanded uncertainty (k = 2, °C) of a temperature of this heat (°C); without it none is
    stated.
    """
    view = HeatView(evidence, expanded_c)
    dried, cooling_seen = judge_dried(view), judge_cooling_seen(view)
    claims = {
        ClaimName.DRIED: dried,
        ClaimName.FIRED: judge_fired(view),
        ClaimName.SOAKED: judge_soaked(view),
        ClaimName.COOLING_SEEN: cooling_seen,
        ClaimName.OVERHEATED: judge_overheated(view),
        ClaimName.CLIMBED_WHILE_WET: judge_climbed(view, dried, wet=True),
        ClaimName.CLIMBED_TOO_FAST: judge_climbed(view, dried, wet=False),
        ClaimName.COOLED_TOO_FAST: judge_cooled(view, cooling_seen),
        ClaimName.OXIDISED: _judge_oxidised(view),
        ClaimName.UNWATCHED: _judge_unwatched(view),
    }
    last = view.stretches[-1] if view.stretches else None
    return PotAccount(
        claims=tuple(claims[name] for name in ClaimName),
        was_heat=view.was_heat,
        went_hot=view.went_hot,
        soak_asked=view.working_soak is not None,
        closed=evidence.closed_s is not None,
        began_c=next((each.begin_c for each in view.stretches if is_seen(each)), None),
        closed_c=last.end_c if last is not None and is_seen(last) else None,
        seconds=last.to_s if last is not None else 0.0,
    )


def _judge_oxidised(view: HeatView) -> Claim:
    """Wear, and an upper bound: time in doubt or unseen is in the figure, since the pot may have burnt then as well."""
    burning = [each for each in view.stretches if each.dose_s > 0.0] if view.facts.oxidises else []
    dose_min = sum(map(_dose_s, burning)) / 60.0
    evidence = view.evidence_of(burning, dose_min, _HEAVY_DOSE_MIN, "min")
    if total(burning, Belief.BELIEVED, _dose_s) / 60.0 >= _HEAVY_DOSE_MIN:
        return Claim(ClaimName.OXIDISED, ClaimShown.SHOWN, evidence)
    doubts = {DOUBT_OF[each.belief]: None for each in burning if each.belief is not Belief.BELIEVED}
    shown = ClaimShown.IN_DOUBT if dose_min >= _HEAVY_DOSE_MIN else ClaimShown.NOT_SHOWN
    return Claim(ClaimName.OXIDISED, shown, evidence, tuple(doubts))


def _judge_unwatched(view: HeatView) -> Claim:
    """Say how long nobody saw the pot, and whether it was warm before anybody did."""
    blind = [each for each in view.stretches if each.belief in BLIND]
    began_warm = (ClaimDoubt.BEGAN_WARM,) if view.stretches and view.stretches[0].begin_c > COLD_C else ()
    longest_s = max((span.seconds for span in view.spans), default=0.0)
    if began_warm or longest_s > BLINK_S or sum(span.seconds for span in view.spans) >= _UNWATCHED_S:
        doubts = {DOUBT_OF[each.belief]: None for each in blind}
        return Claim(ClaimName.UNWATCHED, ClaimShown.SHOWN, view.evidence_of(blind), (*began_warm, *doubts))
    if seconds(view.stretches, Belief.UNCONFIRMED) >= _UNWATCHED_S:
        still = [each for each in view.stretches if each.belief is Belief.UNCONFIRMED]
        return Claim(ClaimName.UNWATCHED, ClaimShown.IN_DOUBT, view.evidence_of(still), (ClaimDoubt.UNCONFIRMED,))
    return Claim(ClaimName.UNWATCHED, ClaimShown.NOT_SHOWN, view.evidence_of(blind))


def _dose_s(stretch: EvidenceStretch) -> float:
    return stretch.dose_s
