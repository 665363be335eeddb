"""Every board and every probe of a watch, looked at before lighting up: one after the other, each by its name."""

import os
from collections.abc import Iterator, Sequence
from dataclasses import replace

from rampwarden.assembly.probes import FOLLOWED, BoardInUse, boards_in_use
from rampwarden.checks import (
    LEAST_WAIT_S,
    Check,
    Heard,
    judge_held_port,
    judge_port,
    judge_probe,
    listen_to_board,
    will_not_work,
)
from rampwarden.control import Snapshot, running
from rampwarden.core.instrument import Thermocouple, thermocouple
from rampwarden.core.schedule import Schedule
from rampwarden.settings import Settings


def judge_boards(settings: Settings, schedule: Schedule | None) -> Iterator[Check]:
    """Judge each board and each probe; with a single probe nothing is named, since there is nothing to tell apart."""
    if not settings.board.port:
        yield will_not_work("port", "none set; give --port, or port in the [board] section")
        return
    boards, watches = boards_in_use(settings), running(os.environ)
    for board in boards:
        for found in _judge_board(board, settings, schedule, watches):
            yield found if not settings.probes else _named(found, board, len(boards))


def _judge_board(
    board: BoardInUse, settings: Settings, schedule: Schedule | None, watches: Sequence[Snapshot]
) -> Iterator[Check]:
    held = judge_held_port(board.source.port, watches)
    if held is not None:
        yield held
        return
    heard = listen_to_board(board.source, max(LEAST_WAIT_S, 8 * board.source.interval_s))
    yield judge_port(board.source, heard)
    if heard.readings:
        for channel, probe in board.probes.items():
            yield from _judge_channel(heard.of(channel), channel, probe, settings, schedule)


def _judge_channel(
    heard: Heard, channel: int, probe: str, settings: Settings, schedule: Schedule | None
) -> Iterator[Check]:
    name = "the followed probe" if probe == FOLLOWED else probe
    is_named = bool(settings.probes)
    if is_named and not heard.readings:
        yield will_not_work("probe", f"{name}: no reading of channel {channel} within {heard.lasted_s:.1f} s")
        return
    usual_c = (settings.signal.junction_lowest, settings.signal.junction_highest)
    for found in judge_probe(
        heard, _couple(settings, probe), usual_c, lambda temp_c: _joins_at(schedule, probe, temp_c)
    ):
        yield replace(found, words=f"{name}: {found.words}") if is_named else found


def _named(found: Check, board: BoardInUse, boards: int) -> Check:
    return replace(found, words=f"board {board.name}: {found.words}") if found.part == "port" and boards > 1 else found


def _couple(settings: Settings, probe: str) -> Thermocouple:
    return thermocouple(settings.thermocouple.type if probe == FOLLOWED else settings.probes[probe].type)


def _joins_at(schedule: Schedule | None, probe: str, temp_c: float) -> str:
    """Name the segment that a heat would join: by the followed probe alone."""
    if schedule is None or probe != FOLLOWED:
        return ""
    index = schedule.joining_segment(temp_c)
    return schedule.segments[index].name if index else ""
