"""How long nobody watched, as far as any clock can tell.

Within one start of the machine its own clock tells, which nobody can set. After another start there are two witnesses:
the wall clock as it was when the heat began, and as it was when its record was written last. A host without a battery
wakes in 1970 and is set later, so a date before this program was written is none, and where the two disagree the
later one counts: fewer things happened since. Where neither can be believed, the blind time is at least as long as the
machine has been running.
"""

from dataclasses import dataclass
from datetime import UTC, datetime

from rampwarden.clock import Moment
from rampwarden.records.record_lines import MOST_S, Header

EARLIEST_BELIEVED = datetime(2024, 1, 1, tzinfo=UTC)
"""A wall clock that says less was never set."""


@dataclass(frozen=True, slots=True)
class BlindTime:
    """`now_s` is the present on the heat's clock, `blind_s` how long nobody watched.

    None where no clock can tell; then it was `at_least_s`, and the heat's clock goes on by that much.
    """

    now_s: float
    blind_s: float | None
    at_least_s: float = 0.0


def present_by_host_s(header: Header, now: Moment) -> float | None:
    """Give the present on the heat's clock (s) within one start of the machine; None after another."""
    return now.host_s - header.zero_s if header.boot and header.boot == now.boot else None


def blind_time(header: Header, now: Moment, ended_s: float, written_s: float) -> BlindTime:
    """Work out how long nobody watched since the record's last time `ended_s` (s of the heat).

    `written_s` is when its file was written last, s of the wall clock, 0 where nobody knows.
    """
    present_s = present_by_host_s(header, now)
    if present_s is not None:
        if present_s >= ended_s:
            return _known(present_s, ended_s)
        return BlindTime(ended_s, None)
    since_start_s = _since_start_s(header, now.wall)
    by_start_s = None if since_start_s is None else since_start_s - ended_s
    told = [each_s for each_s in (by_start_s, _since_written_s(written_s, now.wall)) if each_s is not None]
    # Longer than any heat is no blind time but a clock that was set.
    believed = [each_s for each_s in told if 0.0 <= each_s < MOST_S]
    if not believed:
        at_least_s = round(max(0.0, now.host_s), 3) if now.boot and header.boot else 0.0
        return BlindTime(ended_s + at_least_s, None, at_least_s)
    return _known(ended_s + min(believed), ended_s)


def _known(present_s: float, ended_s: float) -> BlindTime:
    # To the millisecond, as every line of a record is dated.
    now_s = round(present_s, 3)
    return BlindTime(now_s, now_s - ended_s)


def age_s(header: Header, now: Moment, last_s: float | None, written_s: float) -> float | None:
    """Give how long nothing was written at least, s; None where no clock can tell.

    Months are believed of a wall clock only that a time server keeps: one set years ahead must not end a heat.
    """
    present_s = present_by_host_s(header, now)
    if present_s is not None and last_s is not None:
        return max(0.0, present_s - last_s)
    since_start_s = _since_start_s(header, now.wall)
    by_start_s = None if since_start_s is None or last_s is None else since_start_s - last_s
    told = [each_s for each_s in (by_start_s, _since_written_s(written_s, now.wall)) if each_s is not None]
    likely = [each_s for each_s in told if 0.0 <= each_s < MOST_S]
    if likely or not told:
        return min(likely, default=None)
    if now.wall_is_kept:
        return max(told)
    # Months by a clock that nobody keeps: it was set ahead, or the heat is of last year. What is certain is for how
    # long this computer has been running without a line of it.
    return max(0.0, now.host_s) if header.boot and now.boot else None


def _since_start_s(header: Header, wall: datetime) -> float | None:
    try:
        started = datetime.fromisoformat(header.started)
    except ValueError:
        return None
    if started.tzinfo is None or started < EARLIEST_BELIEVED or wall < started:
        return None
    return (wall - started).total_seconds()


def _since_written_s(written_s: float, wall: datetime) -> float | None:
    if written_s < EARLIEST_BELIEVED.timestamp() or wall.timestamp() < written_s:
        return None
    return wall.timestamp() - written_s
