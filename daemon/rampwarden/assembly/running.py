"""One watch from its parts to its end: outputs put together, keys or typed lines taken, what is left said.

The order matters: whatever can refuse the start does so before the record is touched or anything is said.
"""

import os
import sys
from collections.abc import Callable, Sequence
from contextlib import ExitStack, closing
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from rampwarden.assembly.archive import hand_in
from rampwarden.assembly.audible import Audible, voice_command
from rampwarden.assembly.bell import bell_descriptor
from rampwarden.assembly.buttons import display_buttons, heard_buttons
from rampwarden.assembly.crucible import start_warnings
from rampwarden.assembly.display import display_terminal, showing, watch_keys
from rampwarden.assembly.entering import enter_heat
from rampwarden.assembly.heat_start import WatchedHeat
from rampwarden.assembly.record_places import bring_home
from rampwarden.assembly.register_place import register_place
from rampwarden.assembly.spared_outputs import SparedOutputs
from rampwarden.assembly.stop_signals import stop_on_signals
from rampwarden.assembly.watch_services import Live, Upkeep
from rampwarden.clock import Clock, present_moment
from rampwarden.control import make_folder
from rampwarden.core.model import Notice, NoticeName, Priority
from rampwarden.core.quantities import format_duration
from rampwarden.database import is_server
from rampwarden.errors import ControlError, RampwardenError
from rampwarden.log_lines import LogLines
from rampwarden.log_setup import RecentLines, configure_logging
from rampwarden.outputs.buzzer import Buzzer
from rampwarden.outputs.in_fahrenheit import in_fahrenheit
from rampwarden.outputs.status_line import place_words
from rampwarden.plain_logs import structlog
from rampwarden.service import Source, Watch
from rampwarden.settings import Settings
from rampwarden.sources import HELP, listen_to_keyboard

if TYPE_CHECKING:
    from rampwarden.assembly.mqtt import BrokerAccess
    from rampwarden.outputs.mqtt import MqttOutput

CAUTION = (
    "rampwarden watches and warns. It controls no gas and can shut nothing off: stay within reach of the valve. "
    "The crucible maker's sheet and your local rules outrank every number here."
)
# A disk that owes the record's end an answer for this long is not asked for anything else.
_STILL_SILENT_S = 1.0


def run_watch(
    settings: Settings,
    heat: WatchedHeat,
    source: Source,
    clock: Clock,
    finished: Callable[[], bool],
    live: Live | None = None,
    *,
    plain: bool = False,
) -> Watch:
    """Assemble one watch around a source and run it until SIGINT, SIGTERM, or the source is finished."""
    with closing(LogLines(sys.stdout.fileno(), sys.stdout.encoding)) as lines:
        recent = RecentLines()
        fahrenheit = settings.watch.degrees == "F"
        configure_logging(settings.log.format, lines, recent, in_fahrenheit if fahrenheit else str)
        log = structlog.get_logger()
        path = heat.writer.path
        with ExitStack() as ending:
            try:
                spared = SparedOutputs(is_under_way=bool(heat.taken_up))
                descriptor = spared.make("the bell", lambda: bell_descriptor(settings))
                command = spared.make("the voice", lambda: voice_command(settings))
                access = spared.make("MQTT", lambda: _broker(settings))
                upkeep = ending.enter_context(
                    closing(Upkeep(settings, heat.schedule.title, path, live, os.environ, spared))
                )
            except RampwardenError:
                heat.give_up()
                raise
            stop = stop_on_signals()
            log.info(CAUTION)
            log.info(f"{heat.schedule.title} [{heat.schedule.basis or 'no basis given'}] · {_sources(heat)}")
            if heat.monitor.calibration.is_made:
                log.info(f"calibration of the board: {heat.monitor.calibration.words()}")
            buzzer = Buzzer(live.board.outgoing, stop.is_set) if live is not None and settings.board.buzzer else None
            audible = ending.enter_context(closing(Audible(settings, descriptor, command, buzzer)))
            # Every display draws from it: a further one takes `keeper`, and tells the watch by `running.hear`.
            keeper = ending.enter_context(closing(heat.keeper))
            keeper.set_pace(clock.speed, paused=False)
            on_reach = _tell_all([keeper.note_reach, audible.note_reach])
            mqtt = None if access is None else _mqtt_output(settings, access, heat, on_reach)
            outputs = [*audible.outputs, *filter(None, [mqtt]), keeper, *upkeep.outputs]
            running = Watch(source, clock, heat.monitor, heat.writer, outputs, settings.watch.status_every, keeper)
            upkeep.start(running, heat, None if mqtt is None else lambda: mqtt.waiting)
            audible.start(running.hear)
            if mqtt is not None:
                ending.enter_context(mqtt).start(running.hear)
            ending.enter_context(heard_buttons(settings, running.hear))
            terminal = display_terminal(os.environ, plain=plain)
            if terminal is not None:
                say_state = audible.say_state if command else None
                own, hear = display_buttons(settings), running.hear
                keys = watch_keys(keeper, hear, stop.set, say_state, fahrenheit=fahrenheit, own=own)
                ending.enter_context(showing(terminal, keeper, keys, recent, running.hear))
            else:
                _take_typed_lines(running)
            lost = _lost_before(heat) if live is not None else ""
            if heat.taken_up:
                # Only what is heard here sounds again: to a broker these went, or still go, by the record.
                audible.tell_again(heat.unacknowledged)
                running.take_up("; ".join(filter(None, (heat.taken_up, lost))), heat.untold)
            _say_in_what_shape(running, heat, spared.sentences, _warnings(settings, heat))
            running.run(stop, finished)
        _say_what_is_left(settings, heat)
        return running


def _broker(settings: Settings) -> "BrokerAccess | None":
    """Give how to reach the broker; without one nothing of MQTT is loaded, a tenth of a watch's memory."""
    if not settings.mqtt.broker:
        return None
    from rampwarden.assembly.mqtt import broker_access, client_id  # noqa: PLC0415

    return broker_access(settings.mqtt, client_id(settings.mqtt), os.environ)


def _mqtt_output(
    settings: Settings, access: "BrokerAccess", heat: WatchedHeat, on_reach: Callable[[bool], None]
) -> "MqttOutput":
    from rampwarden.assembly.mqtt import mqtt_output  # noqa: PLC0415

    return mqtt_output(settings.mqtt, access, heat.header, heat.writer, on_reach)


def _lost_before(heat: WatchedHeat) -> str:
    """Say what the run before had seen and its disk had not taken, as far as anybody knows; notes the same of this one.

    Known after a kill, by its note. After a power cut there is none: then it is said since when it may be.
    """
    recorded_s = heat.monitor.time_s or 0.0
    try:
        lost = heat.writer.keep_note(make_folder(os.environ), heat.header.id, recorded_s)
    except ControlError:
        lost = ""
    if lost or not heat.taken_up or heat.header.boot == present_moment().boot:
        return lost
    return f"what was seen after {format_duration(recorded_s)} of the heat, before the power went, is not on the disk"


def _sources(heat: WatchedHeat) -> str:
    """Name the record, and whose temperature goes into it if that is known."""
    watched = place_words(heat.monitor.status().place)
    return " · ".join(part for part in (f"record {heat.writer.path}", watched) if part)


def _take_typed_lines(running: Watch) -> None:
    """Let somebody at the terminal type words to the watch."""
    if sys.stdin.isatty():
        log = structlog.get_logger()
        log.info(HELP)
        listen_to_keyboard(running.hear, log.info)


def _warnings(settings: Settings, heat: WatchedHeat) -> list[str]:
    """Say in the log what there is to say of the record's header and of the pot; give what speaks against the heat.

    What one that is taken up was warned of stands in its record already.
    """
    about_record = (f"{heat.writer.path.name}: {remark}" for remark in heat.remarks)
    about_pot = []
    if not (heat.is_pot_unknown and is_server(register_place(settings))):
        about_pot = start_warnings(settings, heat.header.crucible, heat.schedule, datetime.now(UTC).date())
    for sentence in (*about_record, *about_pot):
        structlog.get_logger().warning(sentence)
    return [] if heat.taken_up else about_pot


def _say_in_what_shape(running: Watch, heat: WatchedHeat, off: Sequence[str], against: Sequence[str]) -> None:
    """Say on every output, and in the record, what is not as it should be; a record that is in trouble rings.

    `against` is what speaks against this heat: it stands until somebody has acknowledged it.
    """
    if against:
        running.hear(Notice(0.0, NoticeName.START_WARNING, text="; ".join(against)))
    for sentence in heat.shape:
        running.say(sentence)
    if off:
        running.hear(Notice(0.0, NoticeName.OUTPUT_FAILING, text="; ".join(off)))
    if heat.trouble:
        running.hear(Notice(0.0, NoticeName.RECORD_FAILING, text=heat.trouble))
        if not heat.trouble_stands:
            # It rings until somebody has seen it, though there is nothing left to be done.
            running.hear(Notice(0.0, NoticeName.RECORD_WRITTEN, text="the record is written"))


def _say_what_is_left(settings: Settings, heat: WatchedHeat) -> None:
    """Say where the record is, and enter it for its crucible."""
    log, writer = structlog.get_logger(), heat.writer
    if writer.lost_lines:
        log.warning(f"{writer.trouble}; {writer.lost_lines} lines of the record are lost", priority=Priority.HIGH)
    path = writer.path
    is_answering = writer.is_answering(_STILL_SILENT_S)
    if heat.trouble_stands and is_answering:
        path, sentence = bring_home(path, settings.watch.records, settings.mqtt.device)
        log.warning(sentence)
    log.info(f"record closed: {path} · look at it again with: rampwarden replay {path}")
    if settings.archive.enabled and is_answering:
        sentence, is_well = hand_in(settings, path)
        (log.info if is_well else log.warning)(sentence)
    if heat.header.crucible and not is_answering:
        # To enter it is to read and sync as well, and somebody waits for us to go.
        log.warning(f"not entered: its disk does not answer; when that is mended: rampwarden crucible enter {path}")
    elif heat.header.crucible:
        sentence, is_well = enter_heat(settings, heat.header.crucible, path)
        (log.info if is_well else log.warning)(sentence)


def _tell_all(hearers: Sequence[Callable[[bool], None]]) -> Callable[[bool], None]:
    """Give what passes on to all of them whether anybody is reached."""

    def tell(reached: bool) -> None:
        for hear in hearers:
            hear(reached)

    return tell
