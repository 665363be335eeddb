"""The account of the pot as a report prints it: every claim with its evidence, in the units of the report.

Says no claim in words of its own: those are the pot's room's. Judges nothing.
"""

from rampwarden.core.pot import Claim, ClaimName, Evidence, Place, PotAccount, account_sentences, claim_sentence
from rampwarden.core.quantities import format_duration
from rampwarden.report.content import Section, Table
from rampwarden.report.units import Scale, clock

_PLACES = {
    Place.POT: "on the pot",
    Place.CHAMBER: "in the chamber",
    Place.UNKNOWN: "not told",
}
_HEADINGS = ("claim", "from", "to", "believed", "not confirmed, in doubt, unseen", "temperatures (k = 2)", "probe")


def claims_section(account: PotAccount, scale: Scale) -> Section:
    """Give what the heat has shown of its pot, a claim a row."""
    if not account.was_heat:
        return Section("What was seen of the pot", account_sentences(account))
    rows = tuple(
        (claim_sentence(claim, figures=False), *_evidence(claim, scale))
        for claim in account.claims
        if claim.name is not ClaimName.SOAKED or account.soak_asked
    )
    return Section("What was seen of the pot", (), Table(_HEADINGS, rows, numbers=(1, 2, 3)))


def _evidence(claim: Claim, scale: Scale) -> tuple[str, ...]:
    evidence = claim.evidence
    if evidence is None:
        return ("–",) * (len(_HEADINGS) - 1)
    return (
        clock(evidence.from_s),
        clock(evidence.to_s),
        format_duration(evidence.believed_s),
        _not_believed(evidence),
        _temperatures(evidence, scale),
        _PLACES[evidence.place],
    )


def _not_believed(evidence: Evidence) -> str:
    times = (evidence.unconfirmed_s, evidence.doubted_s, evidence.unseen_s)
    return ", ".join(format_duration(seconds) if seconds > 0.0 else "–" for seconds in times) if any(times) else "–"


def _temperatures(evidence: Evidence, scale: Scale) -> str:
    text = f"{scale.temp(evidence.low_c):.0f} to {scale.show_temp(evidence.high_c)}"
    return text if evidence.expanded_c is None else f"{text} ± {scale.show_difference(evidence.expanded_c)}"
