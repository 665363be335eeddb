"""Learns from the records' folder how earlier heats of the same furnace and pot went, for a guess of how long still.

The same furnace is the same port, the same pot the same crucible's name, or none named. Reads the newest records first
and no more than are enough; what cannot be read is passed over and counted, for nothing depends on it. Made for a
thread of its own: `stop` is asked again and again.
"""

from collections.abc import Callable, Collection, Iterable
from pathlib import Path
from typing import NamedTuple

from rampwarden.core.heat import HeatCourse
from rampwarden.core.instrument import InstrumentChain
from rampwarden.core.model import EarlierHeat, Event, EventName, Notice, NoticeName, Quality, Reading
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RampwardenError, RecordError
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import Header, Line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.recovery import written_s
from rampwarden.records.replay import schedule_of

# The goal of a good guess is reached with three; more than six teach nothing new.
_MOST_LEARNT = 6
# Of a folder of years only the newest are looked at.
_MOST_LOOKED_AT = 300
# A day at ten readings a second is 80 MB; what is much larger is no heat of a furnace, and would be read for minutes.
_LARGEST_BYTES = 512 * 1024 * 1024
# A course in means of ten seconds needs no more than a reading a second, and a folder may hold ten times that.
_APART_S = 0.95
# Lines between two questions whether to stop.
_ASK_EVERY = 2000
_LEAVING = (EventName.SCHEDULE_DONE, EventName.HEAT_COMPLETE, EventName.HEAT_ENDED)


class Learnt(NamedTuple):
    """The earlier heats that were found, oldest first, and how many records could not be read or were too large."""

    heats: list[EarlierHeat]
    unreadable: int


def learn_earlier_heats(folder: Path, present: Header, known: Collection[str], stop: Callable[[], bool]) -> Learnt:
    """Give the earlier heats of this furnace and pot; those `known` (ids) and the present one are not.

    Raises nothing; gives what it has when `stop` says so. Records of other furnaces and pots are not counted.
    """
    learnt: list[EarlierHeat] = []
    unreadable = 0
    for path in sorted(folder.glob("*.jsonl*"), key=written_s, reverse=True)[:_MOST_LOOKED_AT]:
        if stop() or len(learnt) + len(known) >= _MOST_LEARNT:
            break
        try:
            heat = _learnt_from(path, present, known, stop)
        except (RampwardenError, OSError):
            unreadable += 1
            continue
        if heat is not None and heat.legs:
            learnt.append(heat)
    return Learnt(learnt[::-1], unreadable)


def _learnt_from(path: Path, present: Header, known: Collection[str], stop: Callable[[], bool]) -> EarlierHeat | None:
    """Give what a record tells; None for another furnace's, pot's or the present one. Raises what reading raises."""
    with RecordReader(path) as reader:
        header = reader.header
        name = header.id or path.name
        if not _is_of_same(header, present) or name in known:
            return None
        if path.stat().st_size > _LARGEST_BYTES:
            raise RecordError(f"{path}: larger than any heat")
        schedule = schedule_of(header, str(path))
        parameters = parameters_of(header, str(path))
        chain = InstrumentChain(parameters.thermocouple_type, parameters.tolerance_class, parameters.calibration)
        return _course_of(reader, name, schedule, chain, stop)


def _is_of_same(header: Header, present: Header) -> bool:
    return (
        header.id not in (present.id, present.continued_id)
        and not header.rehearsal
        and header.board.get("port") == present.board.get("port")
        and header.crucible == present.crucible
    )


def _course_of(
    lines: Iterable[Line],
    name: str,
    schedule: Schedule,
    chain: InstrumentChain,
    stop: Callable[[], bool],
) -> EarlierHeat | None:
    """Follow a record by its own events, measuring just enough of its readings."""
    course = HeatCourse(schedule)
    measured_s = float("-inf")
    for number, line in enumerate(lines):
        if number % _ASK_EVERY == 0 and stop():
            return None
        if isinstance(line, Reading):
            if line.time_s - measured_s < _APART_S and not line.faults:
                continue
            measured_s = line.time_s
            measurement, _ = chain.measure(line)
            if measurement.quality is Quality.GOOD and measurement.temp_c is not None:
                course.feed(line.time_s, measurement.temp_c)
        elif isinstance(line, Event):
            if line.event is EventName.SEGMENT_STARTED:
                course.enter(_index(line, schedule), line.time_s)
            elif line.event in _LEAVING:
                course.enter(None, line.time_s)
        elif isinstance(line, Notice) and line.notice is NoticeName.WATCH_RESUMED:
            course.blind()
    return EarlierHeat(time_s=0.0, heat=name, legs=tuple(leg for _, leg in course.ended))


def _index(event: Event, schedule: Schedule) -> int | None:
    """Give a begun segment's index; records of the first version carry the name alone."""
    if event.segment_number is not None:
        return event.segment_number - 1 if 0 < event.segment_number <= len(schedule.segments) else None
    named = [index for index, segment in enumerate(schedule.segments) if segment.name == event.segment]
    return named[0] if len(named) == 1 else None
