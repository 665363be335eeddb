"""`rampwarden check`: before lighting up, one line for each thing that must work, and exit status 1 when one will not.

The order is that of a heat: what was written down, what is measured, who is told, what is kept. A question that cannot
be asked because one before it failed is left out.
"""

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.assembly.bell import bell_descriptor
from rampwarden.assembly.mqtt import broker_access
from rampwarden.assembly.page import page_access
from rampwarden.assembly.probes import check_probes
from rampwarden.checks import (
    Check,
    CheckOutcome,
    fine,
    judge_broker,
    judge_clock,
    judge_room,
    look_again,
    will_not_work,
)
from rampwarden.cli.before.check_boards import judge_boards
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.during.heat_options import ScheduleArgument
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.cli.saying import say
from rampwarden.clock import clock_state
from rampwarden.core.heat import planned_s
from rampwarden.core.instrument import Thermocouple, thermocouple
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RampwardenError, ScheduleError, SettingsError
from rampwarden.outputs.mqtt import Device
from rampwarden.schedule_files import find_schedule, read_schedule
from rampwarden.settings import Settings, load_settings
from rampwarden.terminal_text import error_lines, shortened

_ROOM_C = 20.0
_STROKES = 3
_BETWEEN_STROKES_S = 0.35


def check(
    schedule: ScheduleArgument = None,
    port: Annotated[str | None, typer.Option(help="Serial port (a /dev/serial/by-id path) or pyserial URL.")] = None,
    config: ConfigOption = None,
    questions: Annotated[bool, typer.Option(help="Ask whether the bell was heard, on a terminal.")] = True,
) -> int:
    """Check before lighting up whether everything a heat needs will work. Exit status 1 when something will not."""
    status = FINE
    for finding in _findings(schedule, port, config, ask=questions and sys.stdin.isatty()):
        say(shortened(f"{finding.verdict:<13}  {finding.part:<8}  {finding.words}"), hanging=25)
        if finding.verdict is CheckOutcome.WILL_NOT_WORK:
            status = FOUND_SOMETHING
    return status


def _findings(schedule_name: Path | None, port: str | None, config: Path | None, *, ask: bool) -> Iterator[Check]:
    flags = {"board.port": port, "watch.schedule": schedule_name}
    try:
        settings = load_settings(config, flags, os.environ).settings
        check_probes(settings)
    except SettingsError as error:
        yield will_not_work("settings", _one_line(error))
        return
    yield fine("settings", str(config) if config else "no settings file, so the defaults")
    couple = thermocouple(settings.thermocouple.type)
    schedule: Schedule | None = None
    try:
        if settings.watch.schedule is not None:
            schedule, _ = read_schedule(find_schedule(settings.watch.schedule))
        yield _judge_schedule(schedule, couple)
    except ScheduleError as error:
        yield will_not_work("schedule", _one_line(error))
    yield from judge_boards(settings, schedule)
    yield from _judge_broker(settings)
    yield from _judge_page(settings)
    yield _judge_bell(settings, ask=ask)
    yield judge_room(settings.watch.records, None if schedule is None else _length_s(schedule), settings.board.interval)
    yield judge_clock(clock_state())


def _judge_schedule(schedule: Schedule | None, couple: Thermocouple) -> Check:
    if schedule is None:
        return look_again("schedule", "none given; name the one you mean to watch: rampwarden check SCHEDULE")
    temps_c = [temp_c for each in schedule.segments for temp_c in (each.target_c, each.ceiling_c) if temp_c is not None]
    hottest_c, end_c = max(temps_c, default=0.0), couple.range_c[1]
    if hottest_c > end_c:
        return will_not_work(
            "schedule", f"{schedule.title}: {hottest_c:.0f} °C, but type {couple.letter} ends at {end_c:.0f} °C"
        )
    length_s = _length_s(schedule)
    lasts = "no limit says how long it takes" if length_s is None else f"about {format_duration(length_s)}"
    return fine("schedule", f"{schedule.title}: {len(schedule.segments)} segments, {lasts}")


def _judge_broker(settings: Settings) -> Iterator[Check]:
    section = settings.mqtt
    try:
        access = broker_access(section, section.device, os.environ)
    except RampwardenError as error:
        yield will_not_work("broker", str(error))
        return
    if access is not None:
        yield judge_broker(access, Device(section.prefix, section.device, section.name))


def _judge_page(settings: Settings) -> Iterator[Check]:
    if settings.page.enabled:
        try:
            access, tls = page_access(settings.page, os.environ)
        except SettingsError as error:
            yield will_not_work("page", str(error))
            return
        lets_in = "whoever sits here may look" if access.rules.reading_is_open else "a token is asked for"
        acting = "" if access.rules.act_token else ", and nobody may act"
        yield fine("page", f"{settings.page.address}{', by TLS' if tls else ''}: {lets_in}{acting}")


def _judge_bell(settings: Settings, *, ask: bool) -> Check:
    try:
        descriptor = bell_descriptor(settings)
    except SettingsError as error:
        return will_not_work("bell", str(error))
    if descriptor is None:
        why = "this is not running on a screen. Set bell.device" if settings.bell.enabled else "bell.enabled is false"
        return look_again("bell", f"no bell: {why}")
    try:
        _ring(descriptor)
    except OSError as error:
        return will_not_work("bell", f"{settings.bell.device or 'this terminal'}: {error.strerror}")
    finally:
        if settings.bell.device:
            os.close(descriptor)
    if not ask:
        return look_again("bell", "has rung three strokes; nobody was asked whether they were heard")
    if typer.confirm("The bell has rung three strokes. Were they heard at the furnace?", err=True):
        return fine("bell", "three strokes, heard")
    return will_not_work("bell", "not heard: turn the terminal's bell on, or set bell.device to one that is audible")


def _ring(descriptor: int) -> None:
    for stroke in range(_STROKES):
        if stroke:
            time.sleep(_BETWEEN_STROKES_S)
        os.write(descriptor, b"\a")


def _length_s(schedule: Schedule) -> float | None:
    """Give how long the schedule takes from a cold furnace, seconds; None when it does not tell."""
    return planned_s(schedule, _ROOM_C)


def _one_line(error: RampwardenError) -> str:
    first, *more = error_lines(str(error))
    return f"{first} (and {len(more)} more: see rampwarden settings, or rampwarden schedule check)" if more else first
