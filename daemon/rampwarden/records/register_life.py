"""A crucible's life as the register tells it: its heats and what befell it between them, and what it is ready for.

Puts heats and happenings in order and leaves the judging to the core. A heat entered before accounts were kept has
none: its owner's word stands for it where it was hot for long enough, and else it counts for nothing.
"""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from rampwarden.core.pot import (
    IN_USE,
    NEW_POT,
    PotAccount,
    PotHappening,
    PotStanding,
    Readiness,
    after,
    after_heat,
    readiness_of,
)
from rampwarden.records.crucibles import Crucible

# After one to two weeks in damp air a pot is dried again; the longer, for most workshops are heated.
# Common practice, no source.
_IDLE_DAYS = 14
# Hours above 700 °C from which a heat without an account is taken for one: twice what an account asks of a furnace.
_HEAT_ON_TRUST_H = 600.0 / 3600.0
_NEVER = datetime.max.replace(tzinfo=UTC)


class Happened(Struct, frozen=True):
    """What befell a crucible between heats: `at` is ISO 8601, `note` is in the words of whoever said it."""

    what: PotHappening
    at: str
    note: str = ""


class EnteredHeat(Struct, frozen=True):
    """What of a heat bears on the pot's life; `account` is None for one entered before accounts were kept."""

    started: str
    seconds: float
    hot_h: float
    account: PotAccount | None


class PotLife(Struct, frozen=True):
    """What a crucible's life comes to.

    `heats` are its real ones, `without_account` those of them that nothing is shown of. `stood_days` is for how long
    it has stood now, 0 unless that is long enough to take up water.
    """

    standing: PotStanding
    readiness: Readiness
    heats: int = 0
    without_account: int = 0
    stood_days: int = 0


def pot_life(crucible: Crucible, heats: Sequence[EnteredHeat], happenings: Iterable[Happened], today: date) -> PotLife:
    """Give what a crucible's life comes to as of `today` (in UTC); `heats` are the real ones, oldest first."""
    first = min((day for heat in heats if (day := day_of(heat.started)) is not None), default=None)
    used = day_of(crucible.first_used)
    # Its first entered heat dates the first use too: only an earlier day is the owner's word.
    on_trust = used is not None and (not heats or (first is not None and used < first))
    standing, used = (IN_USE, used) if on_trust else (NEW_POT, None)
    # By its end: whoever looked while the pot was hot has not seen what the heat did to it.
    events: list[tuple[datetime, EnteredHeat | Happened]] = [(_end(heat), heat) for heat in heats]
    events += [(_moment(each.at) or _NEVER, each) for each in happenings]
    for _, event in sorted(events, key=lambda each: each[0]):
        if isinstance(event, Happened):
            standing = after(standing, event.what)
            continue
        day = day_of(event.started)
        standing, _ = _stood(standing, used, day)
        if event.account is not None:
            standing = after_heat(standing, event.account)
        elif event.hot_h >= _HEAT_ON_TRUST_H:
            standing = replace(IN_USE, to_inspect=standing.to_inspect)
        if day is not None and (event.hot_h >= _HEAT_ON_TRUST_H if event.account is None else event.account.was_heat):
            used = day
    standing, stood_days = _stood(standing, used, today)
    without = sum(1 for heat in heats if heat.account is None)
    return PotLife(standing, readiness_of(standing), len(heats), without, stood_days)


def day_of(text: str) -> date | None:
    """Give the day of an ISO 8601 moment or day; None if it is none."""
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        return None


def _stood(standing: PotStanding, used: date | None, day: date | None) -> tuple[PotStanding, int]:
    """Let a dry pot stand from when it was last used until `day`; gives for how many days, 0 if that is no matter."""
    if used is None or day is None or not standing.dry or (day - used).days <= _IDLE_DAYS:
        return standing, 0
    return after(standing, PotHappening.STOOD_LONG), (day - used).days


def _end(heat: EnteredHeat) -> datetime:
    """Give when a heat was over; one whose beginning cannot be read comes last, where nothing sets it off."""
    began = _moment(heat.started)
    return _NEVER if began is None else began + timedelta(seconds=heat.seconds)


def _moment(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
