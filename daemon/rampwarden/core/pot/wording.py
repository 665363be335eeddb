"""Every sentence that the product says of a pot's account and readiness, in one place, so that none gainsays another.

A claim is said as what was seen; only `readiness_sentence` says what to do next.
"""

from rampwarden.core.pot.claims import Claim, ClaimDoubt, ClaimName, ClaimShown, Evidence, Place, PotAccount
from rampwarden.core.pot.readiness import Readiness, Ready, Reason, Why
from rampwarden.core.quantities import format_duration

_READY = {
    Ready.INSPECT_FIRST: "Inspect it first: look at it and tap it cold before the next heat.",
    Ready.DRY_FIRST: "Dry it first.",
    Ready.FIRE_FIRST: "Fire it before it takes up water.",
    Ready.FINISH_FIRST_HEAT: "Its first heat is still to finish.",
    Ready.READY: "Ready for a later heat, if it has been kept dry.",
}
_WHY = {
    Why.NEW: "It was new, and no drying has been shown since.",
    Why.STORED_DAMP: "It was stored damp.",
    Why.STOOD_LONG: "It has stood for long enough to take up water.",
    Why.HEATED_DAMP: "It was heated through the steam range damp, without having been dried.",
    Why.BEGAN_WARM: "The watch began on a warm pot whose first heat is not behind it: what came before was not seen.",
    Why.NOT_FIRED: "It has not been shown to have been through red heat.",
    Why.NOT_SOAKED: "The soak at working temperature has not been shown.",
    Why.NOT_SOAKED_BY_CHAMBER: "The soak at working temperature has not been shown: the probe hung in the chamber, "
    "and the pot lags behind it.",
    Why.NOT_OVER: "The heat is not over.",
    Why.ALL_DONE: "Its first heat is behind it.",
    Why.ON_TRUST: "It is in use by its owner's word; its first heat was not watched.",
}
_HELP = {
    ClaimName.DRIED: "dried",
    ClaimName.FIRED: "fired",
    ClaimName.SOAKED: "soaked at working temperature",
    ClaimName.COOLING_SEEN: "cooling seen",
}
_HARM = {
    ClaimName.OVERHEATED: "overheated",
    ClaimName.CLIMBED_WHILE_WET: "climbed too fast while wet",
    ClaimName.CLIMBED_TOO_FAST: "climbed too fast",
    ClaimName.COOLED_TOO_FAST: "cooled too fast",
}
_DOUBTS = {
    ClaimDoubt.NOT_WEIGHED: "a clock proves time and no dryness: weigh it before and after",
    ClaimDoubt.UNCONFIRMED: "the reading stood still and nothing confirmed it",
    ClaimDoubt.SENSOR: "the sensor was in doubt",
    ClaimDoubt.UNSEEN: "nobody watched for a time",
    ClaimDoubt.HEATED_UNDRIED: "it went through the steam range without a drying that was shown",
    ClaimDoubt.BEGAN_WARM: "the watch began on a warm pot, and what came before was not seen",
    ClaimDoubt.CLOSED_WARM: "the account was closed before the pot was cold: cooling not seen",
    ClaimDoubt.STILL_RUNNING: "the heat is not over",
    ClaimDoubt.CHAMBER: "the probe hung in the chamber, and the pot lags behind it",
    ClaimDoubt.WATER_LEFT: "before that its climb had slowed near 100 °C and recovered, as when water has left and a "
    "pot runs after its oven",
}
_PLACES = {
    Place.POT: "probe on the pot",
    Place.CHAMBER: "probe in the chamber, which runs ahead of the pot",
    Place.UNKNOWN: "the probe's place was not told",
}


def readiness_sentence(readiness: Readiness) -> str:
    """Say what to do next, in the one sentence that every display shows.

    >>> readiness_sentence(Readiness(Ready.DRY_FIRST, ()))
    'Dry it first.'
    """
    return _READY[readiness.ready]


def reason_sentences(readiness: Readiness, *, figures: bool = True) -> tuple[str, ...]:
    """Say why, one sentence a reason, the gravest first; without `figures` for who shows the evidence himself."""
    return tuple(_reason(reason, figures=figures) for reason in readiness.reasons)


def account_sentences(account: PotAccount) -> tuple[str, ...]:
    """Say every claim of an account that was a heat; one sentence where there was none."""
    if not account.was_heat:
        return ("This was no heat: nothing was ever warm.",)
    return tuple(
        claim_sentence(claim) for claim in account.claims if claim.name is not ClaimName.SOAKED or account.soak_asked
    )


def claim_sentence(claim: Claim, *, figures: bool = True) -> str:
    """Say one claim, how well it is shown, by what (save without `figures`), and what leaves it in doubt."""
    text = _head(claim)
    if claim.evidence is not None and figures:
        text += f" ({_evidence(claim.name, claim.evidence)})"
    # What was shown is not talked down by what else was unclear; of unwatched time the doubts are the fact itself.
    if claim.doubts and (claim.shown is not ClaimShown.SHOWN or claim.name is ClaimName.UNWATCHED):
        text += ": " + "; ".join(_DOUBTS[doubt] for doubt in claim.doubts)
    return f"{text}."


def _head(claim: Claim) -> str:
    shown, name = claim.shown, claim.name
    if name in _HELP:
        standing = {ClaimShown.SHOWN: "shown", ClaimShown.NOT_SHOWN: "not shown", ClaimShown.IN_DOUBT: "in doubt"}[
            shown
        ]
        if name is ClaimName.COOLING_SEEN:
            return {ClaimShown.SHOWN: "Cooling seen to the end", ClaimShown.NOT_SHOWN: "Cooling not seen"}.get(
                shown, "Cooling in doubt"
            )
        return f"{_HELP[name].capitalize()}: {standing}"
    if name in _HARM:
        harm = _HARM[name].capitalize()
        if shown is ClaimShown.SHOWN:
            return harm
        return f"{harm}: {'not seen' if shown is ClaimShown.NOT_SHOWN else 'cannot be excluded'}"
    if name is ClaimName.OXIDISED:
        return {
            ClaimShown.SHOWN: "Oxidised: a heavy dose before the glaze sealed, so mind its mass",
            ClaimShown.NOT_SHOWN: "Oxidised: no heavy dose",
            ClaimShown.IN_DOUBT: "Oxidised: a heavy dose cannot be excluded",
        }[shown]
    moments = claim.evidence is not None and claim.evidence.doubted_s + claim.evidence.unseen_s > 0.0
    return {
        ClaimShown.SHOWN: "Unwatched in part",
        ClaimShown.NOT_SHOWN: "Watched, save for moments" if moments else "Watched throughout",
        ClaimShown.IN_DOUBT: "Watched, with readings that did not move",
    }[shown]


def _reason(reason: Reason, *, figures: bool) -> str:
    if reason.why is Why.CLAIM and reason.claim is not None:
        return claim_sentence(reason.claim, figures=figures)
    return _WHY[reason.why]


def _evidence(name: ClaimName, evidence: Evidence) -> str:
    """Say from when to when, how much of it counts, and how hot it was read where."""
    parts = [f"from {format_duration(evidence.from_s)} to {format_duration(evidence.to_s)}"]
    if evidence.measure is not None and evidence.wanted is not None:
        parts.append(_measure(name, evidence.measure, evidence.wanted))
    elif evidence.believed_s > 0.0:
        parts.append(f"{format_duration(evidence.believed_s)} believed")
    for seconds, what in (
        (evidence.unconfirmed_s, "not confirmed"),
        (evidence.doubted_s, "in doubt"),
        (evidence.unseen_s, "unseen"),
    ):
        if seconds > 0.0:
            parts.append(f"{format_duration(seconds)} {what}")
    stated = "" if evidence.expanded_c is None else f" ± {evidence.expanded_c:.0f} °C, k = 2"
    parts.append(f"{evidence.low_c:.0f} to {evidence.high_c:.0f} °C{stated}")
    parts.append(_PLACES[evidence.place])
    return ", ".join(parts)


def _measure(name: ClaimName, measure: float, wanted: float) -> str:
    """Say what was reached of what is wanted; of a limit, what was reached where so much is allowed."""
    match name:
        case ClaimName.DRIED:
            return f"{measure / wanted:.0%} of the shortest advised drying"
        case ClaimName.FIRED:
            return f"{format_duration(measure)} above 650 °C in a furnace, {format_duration(wanted)} wanted"
        case ClaimName.SOAKED:
            return f"{format_duration(measure)} in its band, {format_duration(wanted)} wanted"
        case ClaimName.OXIDISED:
            return f"{measure:.0f} equivalent min at 600 °C, heavy from {wanted:.0f}"
        case _:
            return f"{measure:.0f} °C, limit {wanted:.0f} °C"
