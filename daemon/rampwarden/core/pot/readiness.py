"""What a pot is ready for: one value, worked out from the accounts of its heats and what happened between them.

Theory of operation. A pot stands in a `Standing`: what of its first heat is behind it (dry, fired, soaked), and what
has not been looked at yet. Heats and happenings between them move it on, in order, and `readiness_of` reads the one
value off it: the first of the five that holds, worst first. Three rules.

1. What harms is never set off by what helps: a breach, shown or in doubt, stays until somebody has looked.
2. Only what is shown moves a pot on. Drying by the clock is the one exception, since no probe can show more; it moves
   the pot on and is said to be in doubt.
3. What never was a heat leaves everything as it was.

Report, register, plan, page and terminal say this value and no other. Knows no files and no dates.
"""

from collections.abc import Iterable
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from rampwarden.core.pot.claims import HARMFUL, Claim, ClaimDoubt, ClaimName, ClaimShown, Place, PotAccount
from rampwarden.core.pot.evidence import COLD_C
from rampwarden.core.pot.helpful import is_dried


class Ready(StrEnum):
    """What a pot is ready for, worst first."""

    INSPECT_FIRST = "inspect-first"
    DRY_FIRST = "dry-it-first"
    FIRE_FIRST = "fire-it-before-it-takes-up-water"
    FINISH_FIRST_HEAT = "first-heat-still-to-finish"
    READY = "ready-for-a-later-heat"


# A pot that nobody looks at for years is kept back by its first reasons; more of them would change nothing.
_MOST_REASONS = 16

ORDER = tuple(Ready)
"""Worst first: of two judgements the one that stands earlier is the more cautious."""


class Why(StrEnum):
    """What a readiness rests on."""

    CLAIM = "claim"  # the reason is the claim itself
    NEW = "new"
    STORED_DAMP = "stored-damp"
    STOOD_LONG = "stood-long"
    HEATED_DAMP = "heated-damp"
    BEGAN_WARM = "began-warm"
    NOT_FIRED = "not-fired"
    NOT_SOAKED = "not-soaked"
    NOT_SOAKED_BY_CHAMBER = "not-soaked-by-chamber"
    NOT_OVER = "not-over"
    ALL_DONE = "all-done"
    ON_TRUST = "on-trust"


class Reason(Struct, frozen=True):
    """One reason: a claim of the last heats as it was judged, or what else `why` says."""

    why: Why
    claim: Claim | None = None


class Readiness(Struct, frozen=True):
    """The one value with its reasons, the gravest first. Plain JSON by msgspec."""

    ready: Ready
    reasons: tuple[Reason, ...]


class PotHappening(StrEnum):
    """What may befall a pot between two heats."""

    STORED_DAMP = "stored-damp"
    STORED_DRY = "stored-dry"
    STOOD_LONG = "stood-long"
    INSPECTED = "inspected"  # looked at and tapped, nothing found
    WEIGHED_DRY = "weighed-dry"


class PotStanding(Struct, frozen=True):
    """Where a pot stands in its life.

    `trusted`: its first heat is known by somebody's word alone. `dried` is the drying of its last heat. `damp_since`
    says why it is damp, if it is. `left_warm`: its last account ended in a drying oven, before it was cold. `running`:
    its last heat is not over.
    """

    dry: bool = False
    fired: bool = False
    soaked: bool = False
    trusted: bool = False
    dried: Claim | None = None
    damp_since: Why = Why.NEW
    to_inspect: tuple[Reason, ...] = ()
    left_warm: bool = False
    running: bool = False


NEW_POT = PotStanding()
IN_USE = PotStanding(dry=True, fired=True, soaked=True, trusted=True)
"""A pot whose first heat nobody watched, in use by its owner's word."""


def accumulate(life: Iterable[PotAccount | PotHappening], start: PotStanding = NEW_POT) -> Readiness:
    """Give what a pot is ready for after a life of heats and happenings, in the order in which they came."""
    standing = start
    for event in life:
        standing = after_heat(standing, event) if isinstance(event, PotAccount) else after(standing, event)
    return readiness_of(standing)


def after_heat(standing: PotStanding, account: PotAccount) -> PotStanding:
    """Give where a pot stands after a heat."""
    if not account.was_heat:
        return standing
    dried = account.claim(ClaimName.DRIED)
    dries = is_dried(dried)
    fires = account.claim(ClaimName.FIRED).shown is ClaimShown.SHOWN
    soaks = account.claim(ClaimName.SOAKED).shown is ClaimShown.SHOWN or not account.soak_asked
    return replace(
        standing,
        dry=standing.dry or dries or fires,
        fired=standing.fired or fires,
        soaked=standing.soaked or (fires and soaks),
        dried=dried,
        to_inspect=(*standing.to_inspect, *_to_inspect(standing, account))[:_MOST_REASONS],
        left_warm=_in_oven(standing, account) and _ended_warm(account),
        running=not account.closed,
    )


def after(standing: PotStanding, happening: PotHappening) -> PotStanding:
    """Give where a pot stands after what befell it between two heats."""
    match happening:
        case PotHappening.STORED_DAMP:
            return replace(standing, dry=False, dried=None, damp_since=Why.STORED_DAMP)
        case PotHappening.STOOD_LONG:
            return replace(standing, dry=False, dried=None, damp_since=Why.STOOD_LONG)
        case PotHappening.WEIGHED_DRY:
            return replace(standing, dry=True, dried=None)
        case PotHappening.INSPECTED:
            return replace(standing, to_inspect=(), left_warm=False)
        case PotHappening.STORED_DRY:
            return standing


def readiness_of(standing: PotStanding) -> Readiness:
    """Read the one value off: the first that holds, worst first."""
    if standing.to_inspect:
        return Readiness(Ready.INSPECT_FIRST, standing.to_inspect)
    by_clock = () if standing.dried is None else (Reason(Why.CLAIM, standing.dried),)
    if not standing.dry:
        return Readiness(Ready.DRY_FIRST, (Reason(standing.damp_since), *by_clock))
    if not standing.fired:
        return Readiness(Ready.FIRE_FIRST, (Reason(Why.NOT_FIRED), *by_clock))
    if standing.running:
        return Readiness(Ready.FINISH_FIRST_HEAT, (Reason(Why.NOT_OVER),))
    if not standing.soaked:
        why = Why.NOT_SOAKED_BY_CHAMBER if _was_chambers(standing.dried) else Why.NOT_SOAKED
        return Readiness(Ready.FINISH_FIRST_HEAT, (Reason(why),))
    return Readiness(Ready.READY, (Reason(Why.ON_TRUST if standing.trusted else Why.ALL_DONE),))


def _to_inspect(standing: PotStanding, account: PotAccount) -> list[Reason]:
    """Give what somebody has to look at the pot for, gravest first: the shown before the doubtful."""
    reasons = []
    for shown in (ClaimShown.SHOWN, ClaimShown.IN_DOUBT):
        for name in HARMFUL:
            claim = account.claim(name)
            if claim.shown is shown:
                reasons.append(Reason(Why.CLAIM, claim))
    dried = account.claim(ClaimName.DRIED)
    undried = not (standing.dry or is_dried(dried))
    if undried and account.went_hot is not ClaimShown.NOT_SHOWN and not _any_says(reasons, ClaimDoubt.HEATED_UNDRIED):
        reasons.append(Reason(Why.HEATED_DAMP))
    # A first heat in pieces: between an oven's account and this one nobody saw whether it climbed.
    warm = account.began_c is None or account.began_c > COLD_C
    if warm and (standing.left_warm or not standing.fired):
        reasons.append(Reason(Why.BEGAN_WARM))
    if _ended_warm(account) and not _in_oven(standing, account) and not _any_says(reasons, ClaimDoubt.CLOSED_WARM):
        reasons.append(Reason(Why.CLAIM, account.claim(ClaimName.COOLING_SEEN)))
    return reasons


def _in_oven(standing: PotStanding, account: PotAccount) -> bool:
    """Tell whether this was a drying: only that may end warm and be ready for what comes next."""
    return account.went_hot is ClaimShown.NOT_SHOWN and not (standing.fired and standing.dry)


def _was_chambers(claim: Claim | None) -> bool:
    """Tell whether the temperatures behind a claim were the chamber's and not the pot's."""
    return claim is not None and claim.evidence is not None and claim.evidence.place is Place.CHAMBER


def _ended_warm(account: PotAccount) -> bool:
    return account.closed and account.claim(ClaimName.COOLING_SEEN).shown is not ClaimShown.SHOWN


def _any_says(reasons: Iterable[Reason], doubt: ClaimDoubt) -> bool:
    return any(reason.claim is not None and doubt in reason.claim.doubts for reason in reasons)
