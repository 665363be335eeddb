"""What makes somebody look at a pot before its next heat: overheated, climbed or cooled too fast.

One rule: what cannot be excluded is in doubt, and never forgiven. A breach is shown where a limit was seen to break or
where the levels around a blind time prove it; it is in doubt where the sensor was, or where nobody saw and it could
have been.
"""

from collections.abc import Sequence

from rampwarden.core.pot.blind import BlindSpan, may_hide_breach, proven_climb_c
from rampwarden.core.pot.claims import Claim, ClaimDoubt, ClaimName, ClaimShown, Evidence
from rampwarden.core.pot.evidence import Belief, Breach, BreachKind, EvidenceStretch, SegmentFacts, SegmentSort
from rampwarden.core.pot.helpful import is_dried
from rampwarden.core.pot.view import HeatView

# Above a maker's top for so long that it is no flicker.
_OVER_TOP_S = 10.0


def judge_overheated(view: HeatView) -> Claim:
    """Judge the ceilings in force and the maker's top."""
    top_c = view.facts.top_c
    breaches = [breach for breach in view.evidence.breaches if breach.kind is BreachKind.OVERHEATED]
    over = [each for each in view.stretches if each.over_s > 0.0]
    if top_c is not None and sum(each.over_s for each in over) >= _OVER_TOP_S:
        believed = [each for each in over if each.belief is Belief.BELIEVED]
        breaches.append(_beyond_top(believed or over, top_c, doubted=not believed))
    hidden = []
    for span in view.spans:
        tops = [segment.ceiling_c for segment in span.segments if segment.ceiling_c is not None]
        # Without a ceiling or a top there is nothing that could have been passed.
        tops += [] if top_c is None else [top_c]
        if tops and span.may_reach_c > min(tops):
            hidden.append(span)
    return _claim(view, ClaimName.OVERHEATED, breaches, hidden)


def judge_climbed(view: HeatView, dried: Claim, *, wet: bool) -> Claim:
    """Judge the climb limits: of a pot that may hold water where steam is at work, or of any other climb."""
    name = ClaimName.CLIMBED_WHILE_WET if wet else ClaimName.CLIMBED_TOO_FAST
    seen = [breach for breach in view.evidence.breaches if breach.kind is BreachKind.CLIMBED]
    # Once its water has visibly left, a pot runs after its oven: too fast, and perhaps not wet any more.
    ran_after = [breach for breach in seen if view.is_wet(breach.from_s, breach.low_c) and view.ran_after_oven(breach)]
    breaches = [breach for breach in seen if breach not in ran_after] + _proven(view, falling=False)
    hidden = []
    for span in view.spans:
        limits = [limit for segment in span.segments if not _cools(segment) for limit in segment.limits]
        low_c = min(span.before_c or 0.0, span.after_c or 0.0)
        if view.is_wet(span.from_s, low_c) is wet and any(may_hide_breach(span, limit) for limit in limits):
            hidden.append(span)
    breaches = [each for each in breaches if view.is_wet(each.from_s, each.low_c) is wet]
    if not wet:
        return _claim(view, name, breaches + ran_after, hidden)
    claim = _claim(view, name, breaches, hidden)
    if ran_after and claim.shown is not ClaimShown.SHOWN:
        doubts = (ClaimDoubt.WATER_LEFT, *claim.doubts)
        claim = Claim(name, ClaimShown.IN_DOUBT, _claim(view, name, ran_after, hidden).evidence, doubts)
    undried = view.went_hot is not ClaimShown.NOT_SHOWN and not view.facts.dry_before and not is_dried(dried)
    if undried and claim.shown is not ClaimShown.SHOWN:
        # No limit need break: a schedule for dry pots lets a wet one climb as fast as steam splits it.
        evidence = claim.evidence or view.evidence_of([each for each in view.stretches if each.from_s <= view.hot_s])
        return Claim(name, ClaimShown.IN_DOUBT, evidence, (*claim.doubts, ClaimDoubt.HEATED_UNDRIED))
    return claim


def judge_cooled(view: HeatView, cooling_seen: Claim) -> Claim:
    """Judge the cooling limits; a record closed over a hot pot leaves them in doubt."""
    breaches = [breach for breach in view.evidence.breaches if breach.kind is BreachKind.COOLED]
    breaches += _proven(view, falling=True)
    hidden = []
    for span in view.spans:
        limits = [limit for segment in span.segments if _cools(segment) for limit in segment.limits]
        if any(may_hide_breach(span, limit, falling=True) for limit in limits):
            hidden.append(span)
    claim = _claim(view, ClaimName.COOLED_TOO_FAST, breaches, hidden)
    was_hot = view.went_hot is not ClaimShown.NOT_SHOWN
    if claim.shown is ClaimShown.NOT_SHOWN and was_hot and ClaimDoubt.CLOSED_WARM in cooling_seen.doubts:
        return Claim(claim.name, ClaimShown.IN_DOUBT, cooling_seen.evidence, (ClaimDoubt.CLOSED_WARM,))
    return claim


def _claim(view: HeatView, name: ClaimName, breaches: Sequence[Breach], hidden: Sequence[BlindSpan]) -> Claim:
    """Give the claim: by the worst that was shown, else by what is in doubt."""
    doubted_s = sum(span.doubted_s for span in hidden)
    unseen_s = sum(span.seconds - span.doubted_s for span in hidden)
    if breaches:
        sure = [breach for breach in breaches if not breach.doubted]
        worst = max(sure or breaches, key=lambda breach: breach.level_c / breach.limit_c)
        lasted_s = worst.to_s - worst.from_s
        evidence = Evidence(
            from_s=worst.from_s,
            to_s=worst.to_s,
            low_c=worst.low_c,
            high_c=worst.high_c,
            place=view.facts.place,
            believed_s=0.0 if worst.doubted else lasted_s,
            doubted_s=doubted_s + (lasted_s if worst.doubted else 0.0),
            unseen_s=unseen_s,
            expanded_c=view.stated(worst.high_c),
            measure=worst.level_c,
            wanted=worst.limit_c,
            unit="°C",
        )
        return (
            Claim(name, ClaimShown.SHOWN, evidence)
            if sure
            else Claim(name, ClaimShown.IN_DOUBT, evidence, (ClaimDoubt.SENSOR,))
        )
    if not hidden:
        return Claim(name, ClaimShown.NOT_SHOWN)
    levels = [level for span in hidden for level in (span.before_c, span.after_c) if level is not None]
    evidence = Evidence(
        from_s=hidden[0].from_s,
        to_s=hidden[-1].to_s,
        low_c=min(levels, default=0.0),
        high_c=max(levels, default=0.0),
        place=view.facts.place,
        doubted_s=doubted_s,
        unseen_s=unseen_s,
        expanded_c=view.stated(max(levels, default=0.0)),
    )
    doubts = (ClaimDoubt.SENSOR,) if doubted_s > 0.0 else ()
    return Claim(name, ClaimShown.IN_DOUBT, evidence, (*doubts, ClaimDoubt.UNSEEN) if unseen_s > 0.0 else doubts)


def _proven(view: HeatView, *, falling: bool) -> list[Breach]:
    """Give the breaches that the levels around a blind time within one segment prove."""
    found = []
    for span in view.spans:
        if span.lies_in is None or _cools(span.lies_in) is not falling:
            continue
        for limit in span.lies_in.limits:
            proven_c = proven_climb_c(span, limit, falling=falling)
            if proven_c is None:
                continue
            levels = (span.before_c or 0.0, span.after_c or 0.0)
            found.append(
                Breach(
                    kind=BreachKind.COOLED if falling else BreachKind.CLIMBED,
                    segment=span.lies_in.number,
                    from_s=span.from_s,
                    to_s=span.to_s,
                    low_c=min(levels),
                    high_c=max(levels),
                    level_c=proven_c,
                    limit_c=limit.climb_c,
                    window_s=limit.window_s,
                )
            )
    return found


def _beyond_top(over: Sequence[EvidenceStretch], top_c: float, *, doubted: bool) -> Breach:
    """Give the time above the maker's top as one breach, from its beginning to its end."""
    high_c = max(each.high_c for each in over)
    return Breach(
        kind=BreachKind.OVERHEATED,
        segment=over[0].segment,
        from_s=over[0].from_s,
        to_s=over[-1].to_s,
        low_c=min(each.low_c for each in over),
        high_c=high_c,
        level_c=high_c,
        limit_c=top_c,
        doubted=doubted,
    )


def _cools(segment: SegmentFacts) -> bool:
    return segment.sort is SegmentSort.COOL
