"""A hundred furnaces on one broker: latency, what each costs, and whether one listener keeps up.

Light furnaces: model heat, decoder, monitor, record, outbox and MQTT are the real ones, at one reading a second and in
real time; only the serial line is left out, so that twenty-five fit in a process. Each says a note now and then that
carries the second it was told; the difference to the second it was heard, on the same steady clock, is the latency, the
record's sync included. Beside them a `rampwarden listen` draws on a terminal.

    python tests/benchmarks/many_furnaces.py [--furnaces 100] [--processes 4] [--seconds 40]
"""

import argparse
import contextlib
import fcntl
import multiprocessing
import os
import pty
import random
import re
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from multiprocessing.synchronize import Event as Flag
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import structlog
from tests.benchmarks.alarm_latency import worded
from tests.outputs.mqtt.broker import Broker, Consumer, Furnace, Heard, wait_until

from rampwarden.core.instrument.framing import FrameDecoder
from rampwarden.core.model import Command, CommandName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule
from rampwarden.outputs.mqtt.broker import BrokerAddress
from rampwarden.schedule_files import read_schedule
from rampwarden.sources.rehearsal_board import ModelHeat

SCHEDULE = Path(__file__).resolve().parents[2] / "config" / "schedules" / "bronze-first-heat.toml"
NOTE_EVERY_S = 4.0
_TICK_S = 1 / os.sysconf("SC_CLK_TCK")


class LightFurnace:
    """One furnace without a serial line: a second of its life at a call."""

    def __init__(self, folder: Path, number: int, broker: BrokerAddress, schedule: Schedule) -> None:
        name = f"furnace-{number:03}"
        place = folder / name
        place.mkdir()
        self._heat = ModelHeat(schedule, seed=number)
        self._monitor = Monitor(schedule)
        self._decoder = FrameDecoder()
        self._furnace = Furnace(place, broker, device_id=name, record_id=name)
        self._chance = random.Random(number)
        self._next_note_s = time.monotonic() + self._chance.uniform(0, NOTE_EVERY_S)
        self._furnace.output.start(lambda _word: None)

    def live_a_second(self) -> None:
        """Take one reading, and perhaps a note, through everything."""
        frame = self._heat.next_frame()
        time_s = self._heat.time_s
        events = []
        for got in self._decoder.feed(frame or b""):
            reading = Reading(time_s, got.emf_uv, got.junction_c, got.temp_c, got.faults, got.channel)
            self._furnace.record.write(reading)
            events += self._monitor.feed(reading)
        now_s = time.monotonic()
        if now_s >= self._next_note_s:
            self._next_note_s = now_s + self._chance.uniform(0.5, 1.5) * NOTE_EVERY_S
            note = Command(time_s, CommandName.NOTE, text=f"told at {time.monotonic():.6f}")
            events += self._monitor.feed(note)
        self._furnace.record.flush()
        if events:
            self._furnace.tell(*events)
        self._furnace.output.show(self._monitor.status())

    def end(self) -> None:
        """Say goodbye."""
        self._furnace.end()


def burn(folder: Path, numbers: range, broker: BrokerAddress, stop: Flag) -> None:
    """Let some furnaces live in this process until told to stop."""
    structlog.configure(logger_factory=structlog.ReturnLoggerFactory())
    schedule, _ = read_schedule(SCHEDULE)
    furnaces = [LightFurnace(folder, number, broker, schedule) for number in numbers]
    due_s = time.monotonic()
    pace_s = 1 / len(furnaces)
    while not stop.is_set():
        for furnace in furnaces:
            # Spread over the second, as a hundred boards would be.
            due_s += pace_s
            time.sleep(max(0.0, due_s - time.monotonic()))
            furnace.live_a_second()
    endings = [threading.Thread(target=furnace.end) for furnace in furnaces]
    for ending in endings:
        ending.start()
    for ending in endings:
        ending.join()


def cpu_s(pid: int) -> float:
    """Give the processor time a process has used, seconds."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) * _TICK_S


def milliseconds(note: Heard) -> float:
    """Give how long a note was on its way."""
    told = re.search(r"told at ([0-9.]+)", note.text)
    return (note.at_s - float(told[1])) * 1000 if told else float("nan")


class Listening:
    """A `rampwarden listen` before a terminal of its own, which somebody reads."""

    def __init__(self, broker: BrokerAddress) -> None:
        master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 50, 160, 0, 0))
        command = [sys.executable, "-c", "from rampwarden.cli import run; run()", "listen", "--broker", str(broker)]
        environment = {**os.environ, "TERM": "xterm-256color"}
        self.process = subprocess.Popen(command, stdin=slave, stdout=slave, stderr=slave, env=environment)
        os.close(slave)
        self._master = master
        self.shown = ""
        self._reading = threading.Thread(target=self._read)
        self._reading.start()

    @property
    def count(self) -> int:
        """How many furnaces its title says it has found."""
        found = re.findall(r"([\d,]+) furnaces", self.shown[-20_000:])
        return int(found[-1].replace(",", "")) if found else 0

    def end(self) -> None:
        """End it."""
        self.process.terminate()
        self.process.wait()
        self._reading.join()
        os.close(self._master)

    def _read(self) -> None:
        with contextlib.suppress(OSError):
            while data := os.read(self._master, 65_536):
                self.shown = (self.shown + data.decode(errors="replace"))[-100_000:]


def main() -> int:
    """Let them burn, listen, and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--furnaces", type=int, default=100)
    parser.add_argument("--processes", type=int, default=4)
    parser.add_argument("--seconds", type=float, default=40.0)
    options = parser.parse_args()
    context = multiprocessing.get_context("spawn")
    stop = context.Event()
    with tempfile.TemporaryDirectory() as place, contextlib.ExitStack() as ending:
        folder = Path(place)
        broker = Broker(folder)
        ending.callback(broker.kill)
        broker.start()
        consumer = Consumer(broker.port, "homie/5/+/heat/event", "homie/5/+/$state")
        ending.callback(consumer.close)
        share = -(-options.furnaces // options.processes)
        parts = [range(first, min(first + share, options.furnaces)) for first in range(0, options.furnaces, share)]
        crowd = [context.Process(target=burn, args=(folder, part, broker.address, stop)) for part in parts]
        for process in crowd:
            process.start()
        listening = Listening(broker.address)
        ending.callback(listening.end)

        def ready() -> bool:
            return len({heard.topic for heard in list(consumer.heard) if heard.text == "ready"}) == options.furnaces

        wait_until(ready, "every furnace ready", 120.0)
        wait_until(lambda: listening.count == options.furnaces, "every furnace found by listen", 60.0)
        consumer.heard.clear()
        pids = {
            "furnaces": [process.pid for process in crowd],
            "broker": [broker.pid],
            "listen": [listening.process.pid],
        }
        before = {name: sum(cpu_s(pid) for pid in of if pid) for name, of in pids.items()}
        time.sleep(options.seconds)
        used = {name: sum(cpu_s(pid) for pid in of if pid) - before[name] for name, of in pids.items()}
        heard = list(consumer.heard)
        stop.set()
        for process in crowd:
            process.join()
    notes = [milliseconds(each) for each in heard if "told at" in each.text]
    print(f"{options.furnaces} furnaces in {len(parts)} processes, {options.seconds:.0f} s")
    print(f"{len(notes)} notes, told to heard: {worded(notes)}")
    for name, seconds in used.items():
        print(f"{name}: {100 * seconds / options.seconds:.1f} % of a core")
    percent = 100 * used["listen"] / options.seconds
    print(f"aim: listen under 20 % of a core: {'kept' if percent < 20 else 'missed'}")
    return 0 if percent < 20 else 1


if __name__ == "__main__":
    sys.exit(main())
