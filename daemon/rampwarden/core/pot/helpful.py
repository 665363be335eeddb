"""What makes a pot readier: dried, fired, soaked, its cooling seen.

One rule: only believed time shows any of it. Time that is unconfirmed, doubted or unseen may leave a claim in doubt,
and never adds to it.
"""

from rampwarden.core.pot.claims import Claim, ClaimDoubt, ClaimName, ClaimShown, Place
from rampwarden.core.pot.evidence import Belief, EvidenceStretch
from rampwarden.core.pot.view import DOUBT_OF, HeatView, is_seen, total

# Minutes above red heat that fire a pot: three sparks do not. A probe in the chamber runs ahead of the pot, and one
# whose place nobody knows may. Common practice, no source.
_FIRED_S = 300.0
_FIRED_ELSEWHERE_S = 600.0
# One whole drying by the shortest advice (see `drying`), and a hair less for sums of many seconds. A probe in the
# chamber runs ahead of the pot: of half an hour in an oven's air a dry pot was in the band for 12 minutes, a wet one
# for less (own arithmetic), so twice as much is wanted there.
_DRIED_SHARE = 1.0 - 1e-6
_DRIED_IN_CHAMBER = 2.0


def judge_dried(view: HeatView) -> Claim:
    """By clock and temperature it stays in doubt, however long; only scales or a heat balance show it."""
    before = [each for each in view.stretches if each.from_s < view.hot_s and each.drying > 0.0]
    share = total(before, Belief.BELIEVED, _drying)
    in_all = share + total(before, Belief.UNCONFIRMED, _drying)
    in_chamber = view.facts.place is Place.CHAMBER
    wanted = _DRIED_SHARE * (_DRIED_IN_CHAMBER if in_chamber else 1.0)
    doubts = (ClaimDoubt.NOT_WEIGHED, ClaimDoubt.CHAMBER) if in_chamber else (ClaimDoubt.NOT_WEIGHED,)
    evidence = view.evidence_of(before, share, _DRIED_IN_CHAMBER if in_chamber else 1.0, "share")
    if view.facts.weighed_dry or view.facts.balance_dry:
        return Claim(ClaimName.DRIED, ClaimShown.SHOWN, evidence)
    if share >= wanted:
        return Claim(ClaimName.DRIED, ClaimShown.IN_DOUBT, evidence, doubts)
    if in_all >= wanted:
        return Claim(ClaimName.DRIED, ClaimShown.IN_DOUBT, evidence, (*doubts, ClaimDoubt.UNCONFIRMED))
    return Claim(ClaimName.DRIED, ClaimShown.NOT_SHOWN, evidence)


def is_dried(claim: Claim) -> bool:
    """Tell whether a pot may be taken for dry: shown, or in doubt for want of scales, or a nearer probe, alone."""
    return claim.shown is ClaimShown.SHOWN or (
        claim.shown is ClaimShown.IN_DOUBT and {ClaimDoubt.NOT_WEIGHED, ClaimDoubt.CHAMBER}.issuperset(claim.doubts)
    )


def judge_fired(view: HeatView) -> Claim:
    """Fired is minutes above red heat, believed, in a furnace."""
    wanted_s = _FIRED_S if view.facts.place is Place.POT else _FIRED_ELSEWHERE_S
    hot = [each for each in view.stretches if each.fired_s > 0.0]
    believed_s = total(hot, Belief.BELIEVED, _fired_s)
    evidence = view.evidence_of(hot, believed_s, wanted_s, "s")
    if believed_s >= wanted_s:
        return Claim(ClaimName.FIRED, ClaimShown.SHOWN, evidence)
    doubts = {DOUBT_OF[each.belief]: None for each in hot if each.belief is not Belief.BELIEVED}
    shown = ClaimShown.IN_DOUBT if sum(map(_fired_s, hot)) >= wanted_s else ClaimShown.NOT_SHOWN
    return Claim(ClaimName.FIRED, shown, evidence, tuple(doubts))


def judge_soaked(view: HeatView) -> Claim:
    """Soaked is what the soak clock credited at working temperature; what it took back shows nothing."""
    soak = view.working_soak
    if soak is None:
        return Claim(ClaimName.SOAKED, ClaimShown.NOT_SHOWN)
    clocks = [clock for clock in view.evidence.soaks if clock.segment == soak.number]
    credited_s = sum(clock.credited_s for clock in clocks)
    unconfirmed_s = sum(clock.unconfirmed_s for clock in clocks)
    part = [each for each in view.stretches if each.segment == soak.number]
    evidence = view.evidence_of(part, credited_s, soak.hold_s, "s")
    if evidence is not None and credited_s >= soak.hold_s:
        if view.facts.place is Place.CHAMBER:
            return Claim(ClaimName.SOAKED, ClaimShown.IN_DOUBT, evidence, (ClaimDoubt.CHAMBER,))
        return Claim(ClaimName.SOAKED, ClaimShown.SHOWN, evidence)
    doubts = (ClaimDoubt.UNCONFIRMED,) if unconfirmed_s > 0.0 else ()
    if any(clock.withdrawn_s > 0.0 for clock in clocks):
        doubts = (*doubts, ClaimDoubt.SENSOR)
    enough = evidence is not None and credited_s + unconfirmed_s >= soak.hold_s
    return Claim(ClaimName.SOAKED, ClaimShown.IN_DOUBT if enough else ClaimShown.NOT_SHOWN, evidence, doubts)


def judge_cooling_seen(view: HeatView) -> Claim:
    """Shown when the pot was last seen cold; a heat that still runs has its cooling before it."""
    last = view.stretches[-1] if view.stretches else None
    peak_s = max(view.stretches, key=_high_c).from_s if view.stretches else 0.0
    evidence = view.evidence_of([each for each in view.stretches if each.from_s >= peak_s])
    if last is not None and is_seen(last) and last.end_c <= view.facts.cold_c:
        if last.belief is Belief.BELIEVED:
            return Claim(ClaimName.COOLING_SEEN, ClaimShown.SHOWN, evidence)
        return Claim(ClaimName.COOLING_SEEN, ClaimShown.IN_DOUBT, evidence, (ClaimDoubt.UNCONFIRMED,))
    doubt = ClaimDoubt.STILL_RUNNING if view.evidence.closed_s is None else ClaimDoubt.CLOSED_WARM
    return Claim(ClaimName.COOLING_SEEN, ClaimShown.NOT_SHOWN, evidence, (doubt,))


def _high_c(stretch: EvidenceStretch) -> float:
    return stretch.high_c


def _drying(stretch: EvidenceStretch) -> float:
    return stretch.drying


def _fired_s(stretch: EvidenceStretch) -> float:
    return stretch.fired_s
