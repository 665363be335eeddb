"""Finds the unfinished heat of a port among the records, damaged ones too, and says which it passes over and why."""

import contextlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from rampwarden.clock import Moment
from rampwarden.core.quantities import format_duration
from rampwarden.errors import RecordError
from rampwarden.records.locks import writer_of
from rampwarden.records.record_lines import Header
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.recovery.blind_time import age_s
from rampwarden.records.recovery.legible import LegibleTail

_MOST_ASKED = 50
"""So many of the newest records are asked whether they go on with another: all of one heat's are among them."""


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A record that was not closed. Of a damaged first line `header` is what is left, and `has_whole_header` false."""

    path: Path
    header: Header
    has_whole_header: bool


@dataclass(frozen=True, slots=True)
class Search:
    """What was found, and what is to be said of records that were passed over; `lost` is a heat that is gone."""

    found: Unfinished | None
    remarks: tuple[str, ...] = ()
    lost: str = ""


def find_unfinished(folders: Iterable[Path], port: str, within_s: float, now: Moment) -> Search:
    """Look for the newest record of `port` in `folders`: it must not be closed, and be younger than `within_s` seconds.

    Without a `port` any will do that nobody is writing. What no clock can date is young. Raises nothing.
    """
    remarks: list[str] = []
    lost = ""
    records = sorted(_records(folders), key=written_s, reverse=True)
    for path in records:
        try:
            header, is_whole = _first_line(path)
            tail = LegibleTail(path)
        except RecordError as error:
            remarks.append(f"{error}; passed over")
            continue
        of_port = str(header.board.get("port", "")) if header.board else ""
        if not (of_port == port or (not of_port and not is_whole) or not port):
            if _is_left(path, header, tail, now, within_s):
                remarks.append(f"{path.name}: is an unfinished heat too, of {of_port or 'no port'}; not continued")
            continue
        if not is_whole and tail.last_seq is None:
            # Whose it was cannot be told, and there is nothing in it.
            if _is_young(header, now, None, path, within_s):
                lost = lost or f"{path.name}: holds nothing that can be read; what was watched in it is lost"
            continue
        if (not is_whole or not port) and writer_of(path) is not None:
            continue
        if header.rehearsal or _goes_on_elsewhere(path, header, is_whole, records):
            continue
        if tail.has_ended:
            # Only the newest counts: an older heat left open was given up when the next one began.
            return Search(None, tuple(remarks), lost)
        age = age_s(header, now, tail.last_s, written_s(path))
        if within_s <= 0.0 or (age is not None and age >= within_s):
            if within_s > 0.0 and age is not None:
                remarks.append(_given_up(path, age, within_s))
            return Search(None, tuple(remarks), lost)
        return Search(Unfinished(path, header, is_whole), tuple(remarks), lost)
    return Search(None, tuple(remarks), lost)


def _first_line(path: Path) -> tuple[Header, bool]:
    """Give a record's header, or what is left of it, and whether it is whole; raises `RecordError`."""
    with RecordReader(path, may_be_damaged=True) as reader:
        return reader.header, reader.has_whole_header


def _goes_on_elsewhere(path: Path, header: Header, is_whole: bool, records: list[Path]) -> bool:
    """Tell whether another of the newest `records` says that it goes on where this one broke off.

    Whatever has written into this one since, a hand or a bit that flipped: the heat is over there.
    """
    for other in records[:_MOST_ASKED]:
        if other == path:
            continue
        with contextlib.suppress(RecordError):
            after, _ = _first_line(other)
            if after.continued_id and after.continued_id == header.id:
                return True
            if not is_whole and after.continues == path.name and after.started == header.started:
                return True
    return False


def written_s(path: Path) -> float:
    """Give when a file was written last, s of the wall clock; 0 where nobody can tell."""
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _records(folders: Iterable[Path]) -> list[Path]:
    found: list[Path] = []
    for folder in folders:
        try:
            found += folder.glob("*.jsonl")
        except OSError:
            continue
    return found


def _is_left(path: Path, header: Header, tail: LegibleTail, now: Moment, within_s: float) -> bool:
    """Tell whether a heat was broken off not long ago and nobody goes on with it."""
    if header.rehearsal or tail.has_ended or tail.last_seq is None:
        return False
    return _is_young(header, now, tail.last_s, path, within_s) and writer_of(path) is None


def _is_young(header: Header, now: Moment, last_s: float | None, path: Path, within_s: float) -> bool:
    age = age_s(header, now, last_s, written_s(path))
    return age is None or age < within_s


def _given_up(path: Path, age: float, within_s: float) -> str:
    return (
        f"{path.name}: was broken off {format_duration(age)} ago and not closed; that is longer than "
        f"watch.resume_within ({format_duration(within_s)}), so a new heat begins"
    )
