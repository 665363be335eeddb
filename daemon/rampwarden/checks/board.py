"""Does the port open, do readings come, and are they those of a cold furnace?

Opens the port as the watch does, and for as long as a handful of readings takes. An opening may restart the board,
which does no harm before the heat; a port that a running watch holds is left alone.
"""

import os
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from rampwarden.checks.check import Check, fine, look_again, will_not_work
from rampwarden.clock import HostClock
from rampwarden.control import Snapshot
from rampwarden.core.instrument import Thermocouple
from rampwarden.core.model import Fault, Notice, NoticeName, Reading
from rampwarden.sources import Board, BoardSettings, open_failure

_ENOUGH = 5
# Longer than the port's own wait for an adapter to wake (3 s), and than five readings of a board that speaks each 2 s.
LEAST_WAIT_S = 10.0
# How the text of a port begins that will not come by itself (`serial_port`); a watch would wait for it all the same.
_HOPELESS = ("absent", "no permission", "busy", "not a serial port")
# A furnace that stood overnight is within this of the board beside it (common practice, no source).
_COLD_WITHIN_C = 15.0
# More scatter than this in a handful of readings from a cold furnace is a bad contact (common practice, no source).
_SCATTER_C = 10.0
_FAULTS = {
    Fault.OPEN: "the thermocouple is open: check plug and wires",
    Fault.SHORT_GROUND: "the thermocouple touches ground: check the wires for contact with the furnace",
    Fault.SHORT_SUPPLY: "the thermocouple touches the board's supply: check the wires",
    Fault.CONVERTER: "the converter reports an error: check the board",
    Fault.JUNCTION: "the board's own temperature sensor has failed",
}


@dataclass(slots=True)
class Heard:
    """What came from the board while it was listened to, `lasted_s` seconds."""

    readings: list[Reading] = field(default_factory=list)
    trouble: str = ""
    garbled: int = 0
    lasted_s: float = 0.0

    def of(self, channel: int) -> "Heard":
        """Give what came from one channel of it."""
        readings = [reading for reading in self.readings if reading.channel == channel]
        return Heard(readings, self.trouble, self.garbled, self.lasted_s)


def listen_to_board(settings: BoardSettings, wait_s: float) -> Heard:
    """Listen until five readings of each channel have come, or until it is plain that none will.

    At most `wait_s` real seconds.
    """
    heard = Heard()
    board = Board(settings, HostClock())
    began_s = time.monotonic()
    board.start()
    try:
        while heard.lasted_s < wait_s and not heard.trouble.startswith(_HOPELESS):
            if all(len(heard.of(channel).readings) >= _ENOUGH for channel in settings.channels):
                break
            item = board.next(0.2)
            heard.lasted_s = time.monotonic() - began_s
            if isinstance(item, Reading):
                heard.readings.append(item)
            elif isinstance(item, Notice):
                _note(item, heard)
    finally:
        board.stop()
    return heard


def _note(notice: Notice, heard: Heard) -> None:
    if notice.notice is NoticeName.PORT_LOST:
        heard.trouble = notice.text
    elif notice.notice is NoticeName.GARBLED:
        heard.garbled += notice.count
        heard.trouble = heard.trouble or notice.text


def judge_held_port(port: str, watches: Iterable[Snapshot]) -> Check | None:
    """Judge a port that one of our own running `watches` reads; None if none does, and it may be opened.

    Whoever checks in mid-heat wants to know that it is watched. Whoever means to begin one must end that watch first.
    """
    device = os.path.realpath(port)
    for snapshot in watches:
        about, status = snapshot.about, snapshot.status
        if os.path.realpath(about.port) == device:
            read = "no temperature yet" if status.temp_c is None else f"{status.temp_c:.0f} °C"
            return look_again(
                "port",
                f"our own watch {about.watch} reads it ({read}, process {about.process}), so it is left alone; "
                "to begin another heat on it, end that watch first",
            )
    return None


def judge_port(settings: BoardSettings, heard: Heard) -> Check:
    """Judge whether readings come, and whole; a board of several channels by the one that says most."""
    heard = max((heard.of(channel) for channel in settings.channels), key=lambda each: len(each.readings))
    if heard.trouble.startswith(_HOPELESS):
        # Looked at once more, because that names the ports that are there.
        return will_not_work("port", open_failure(settings.port) or heard.trouble)
    lasted = f"{heard.lasted_s:.1f} s"
    if not heard.readings:
        why = heard.trouble or "nothing comes (is the board powered, and does it send?)"
        return will_not_work("port", f"no reading within {lasted}: {why}")
    came = f"{len(heard.readings)} readings in {lasted} from {settings.port}"
    if len(heard.readings) < _ENOUGH:
        return look_again("port", f"only {came}; [board] interval says one in {settings.interval_s:g} s")
    if heard.garbled:
        return look_again("port", f"{came}, and {heard.garbled} lines that could not be read: {heard.trouble}")
    return fine("port", came)


def judge_probe(
    heard: Heard,
    couple: Thermocouple,
    usual_junction_c: tuple[float, float],
    joins_at: Callable[[float], str],
) -> Iterator[Check]:
    """Judge what the readings say of thermocouple and board, in a furnace that should be cold.

    `joins_at` gives the name of the segment that a heat would join at a temperature in °C, empty for the first.
    """
    if not heard.readings:
        return
    faults = sorted({fault for reading in heard.readings for fault in reading.faults})
    if faults:
        yield will_not_work("probe", "; ".join(_FAULTS[fault] for fault in faults))
        return
    try:
        temps_c = [_temperature_c(reading, couple) for reading in heard.readings]
    except ValueError as error:
        yield will_not_work("probe", f"{error}: check type, polarity and wiring")
        return
    yield _judge_temperature(temps_c, heard.readings[-1].junction_c, joins_at)
    lowest_c, highest_c = usual_junction_c
    for junction_c in (reading.junction_c for reading in heard.readings[-1:]):
        if junction_c is not None and not lowest_c <= junction_c <= highest_c:
            usual = f"usual is {lowest_c:.0f} to {highest_c:.0f} °C"
            yield look_again("board", f"it stands at {junction_c:.0f} °C, {usual}: move it away from heat or frost")


def _judge_temperature(temps_c: list[float], junction_c: float | None, joins_at: Callable[[float], str]) -> Check:
    temp_c, scatter_c = sorted(temps_c)[len(temps_c) // 2], max(temps_c) - min(temps_c)
    shown = f"{temp_c:.0f} °C" if junction_c is None else f"{temp_c:.0f} °C, the board {junction_c:.0f} °C"
    if scatter_c > _SCATTER_C:
        return look_again("probe", f"{shown}; scatters by {scatter_c:.0f} °C: a loose contact, or noise on the wires?")
    beside_c = 20.0 if junction_c is None else junction_c
    if temp_c < beside_c - _COLD_WITHIN_C:
        return look_again("probe", f"{shown}: colder than the board; if that cannot be, the wires are reversed")
    if temp_c > beside_c + _COLD_WITHIN_C:
        segment = joins_at(temp_c)
        where = f"; the heat would begin at {segment!r}" if segment else ""
        return look_again("probe", f"{shown}: not a cold furnace{where}")
    # A pair that is reversed reads right only here, where there is no difference to measure.
    return fine("probe", f"{shown}; reversed wires show only once it heats")


def _temperature_c(reading: Reading, couple: Thermocouple) -> float:
    if reading.emf_uv is not None:
        return couple.temp_c(reading.emf_uv, reading.junction_c or 0.0)
    if reading.temp_c is None:
        raise ValueError("the reading carries neither an EMF nor a temperature")
    return reading.temp_c
