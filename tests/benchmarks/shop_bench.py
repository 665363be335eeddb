"""Hundreds and thousands of furnaces on one broker with default limits, and one `rampwarden listen` before a terminal.

How long until all are found, what listening costs once they are, how long until an alarm of a furnace that nobody looks
at stands on the screen, and whether the broker had to drop anything. The furnaces are a crowd on one connection
(`tests/shop/crowd.py`): topics, payloads and pace are the product's own. Half of the time to find them is the program
starting; both times are printed. Then how late alarms are at somebody who hears alarms alone, among all that traffic,
and at how many furnaces broker and `listen`, which use one core each, would have filled it. Last, what the ends of a
thousand heats cost an archive. Aims: all found within 20 s, and at 1,000 furnaces below 15 % of a core.

    python tests/benchmarks/shop_bench.py [--furnaces 100 1000 5000] [--seconds 30] [--pace 1.0] [--alarms 10]
"""

import argparse
import contextlib
import json
import multiprocessing
import os
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.many_furnaces import Listening, cpu_s
from tests.benchmarks.shop_archive import archive_lines
from tests.outputs.mqtt.broker import Broker, Consumer, alarm, standing, wait_until
from tests.shop.crowd import Crowd

FOUND_WITHIN_S = 20.0
GREATEST_SHARE = {1000: 15.0}
_GIVEN_UP_S = 60.0
# Parts of a second in which the crowd is let live.
_PARTS = 50
_ALARM_LIMIT_S = 30.0
# Enough that a hundredth of them is a few; one every so often, as no shop has more.
_HEARD_ALARMS = 400
_ALARM_EVERY_S = 0.025
_FIRST_SECOND = 1000.0


class Life:
    """Lets a crowd live in a thread, each furnace once in `pace_s`."""

    def __init__(self, crowd: Crowd, pace_s: float) -> None:
        self.sent = 0
        self._crowd = crowd
        self._pace_s = pace_s
        self._stop = threading.Event()
        self._living = threading.Thread(target=self._live)
        self._living.start()

    def end(self) -> None:
        """Stop."""
        self._stop.set()
        self._living.join()

    def _live(self) -> None:
        size = self._crowd.size
        step = max(1, size // _PARTS)
        due_s, first = time.monotonic(), 0
        while not self._stop.is_set():
            due_s += step / size * self._pace_s
            time.sleep(max(0.0, due_s - time.monotonic()))
            self.sent += self._crowd.live(range(first, min(size, first + step)))
            first = first + step if first + step < size else 0


@dataclass(frozen=True)
class Result:
    """What one shop showed; times in seconds, shares in percent of a core."""

    found: int
    found_s: float
    connected_s: float
    listen: float
    broker: float
    messages_per_s: float
    alarms_s: list[float]
    heard_ms: list[float]
    memory_mb: tuple[float, float]
    dropping: bool


def measure(size: int, seconds: float, pace_s: float, alarms: int) -> Result:
    """Let so many furnaces live on a broker, listen, and measure."""
    with tempfile.TemporaryDirectory() as place, contextlib.ExitStack() as ending:
        broker = Broker(Path(place))
        ending.callback(broker.kill)
        broker.start()
        crowd = Crowd(broker.address, size)
        ending.callback(crowd.close)
        crowd.announce()
        life = Life(crowd, pace_s)
        ending.callback(life.end)
        began_s = time.monotonic()
        listening = Listening(broker.address)
        ending.callback(listening.end)
        wait_until(lambda: "as listen-" in broker.log.read_text(), "listen at the broker", _GIVEN_UP_S)
        connected_s = time.monotonic()
        with contextlib.suppress(AssertionError):
            wait_until(lambda: listening.count == size, "everybody found", _GIVEN_UP_S)
        found_s = time.monotonic()
        # What is asked about each of them comes a little later than its name.
        time.sleep(5.0)
        listened_s, brokered_s, sent, at_s = (
            cpu_s(listening.process.pid),
            cpu_s(broker.pid),
            life.sent,
            time.monotonic(),
        )
        time.sleep(seconds)
        took_s = time.monotonic() - at_s
        percent = 100 / took_s
        listen, held = (cpu_s(listening.process.pid) - listened_s) * percent, (cpu_s(broker.pid) - brokered_s) * percent
        rate = (life.sent - sent) / took_s
        memory_mb = (_memory_mb(listening.process.pid), _memory_mb(broker.pid))
        heard_ms = _heard_ms(crowd, broker.port)
        delays_s = [_alarm_s(crowd, listening, size - 1 - number) for number in range(alarms)]
        return Result(
            listening.count,
            found_s - began_s,
            found_s - connected_s,
            listen,
            held,
            rate,
            delays_s,
            heard_ms,
            memory_mb,
            "being dropped" in broker.log.read_text(),
        )


def _alarm_s(crowd: Crowd, listening: Listening, index: int) -> float:
    """Raise an alarm at a furnace that is not in view; gives how long until it is."""
    crowd.set_alarms(index, standing())
    began_s = time.monotonic()
    crowd.tell(index, alarm(61.0))
    wait_until(lambda: f"furnace-{index + 1:04}" in listening.shown, f"furnace {index + 1} in view", _ALARM_LIMIT_S)
    return time.monotonic() - began_s


def _heard_ms(crowd: Crowd, port: int) -> list[float]:
    """Tell alarms among all the traffic; gives how long each took to another process, ms, sorted; the lost as inf."""
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe()
    ear = context.Process(target=_hear, args=(port, there))
    ear.start()
    here.recv()
    told: dict[float, float] = {}
    for number in range(_HEARD_ALARMS):
        second = _FIRST_SECOND + number
        told[second] = time.monotonic()
        crowd.tell(number % crowd.size, alarm(second))
        time.sleep(_ALARM_EVERY_S)
    time.sleep(2.0)
    here.send("enough")
    heard: dict[float, float] = here.recv()
    ear.join()
    return sorted((heard.get(second, float("inf")) - at_s) * 1000.0 for second, at_s in told.items())


def _hear(port: int, line: Connection) -> None:
    """Hear alarms alone, and give when each was heard."""
    consumer = Consumer(port, "homie/5/+/alarm/event")
    line.send("ready")
    line.recv()
    line.send({json.loads(each.text)["elapsed_s"]: each.at_s for each in list(consumer.heard)})
    consumer.close()


def _memory_mb(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text()
    return next(int(line.split()[1]) / 1024 for line in status.splitlines() if line.startswith("VmRSS"))


def main() -> int:
    """Measure, print, and fail where an aim is missed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--furnaces", type=int, nargs="+", default=[100, 1000, 5000])
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--pace", type=float, default=1.0)
    parser.add_argument("--alarms", type=int, default=10)
    parser.add_argument("--no-archive", action="store_true")
    options = parser.parse_args()
    is_kept = True
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    for size in options.furnaces:
        it = measure(size, options.seconds, options.pace, options.alarms)
        greatest = GREATEST_SHARE.get(size, 100.0)
        kept = it.found == size and it.found_s <= FOUND_WITHIN_S and it.listen < greatest
        is_kept = is_kept and kept
        worst = f"{sorted(it.alarms_s)[len(it.alarms_s) // 2]:.1f} s, at most {max(it.alarms_s):.1f} s"
        print(f"{size} furnaces, {it.messages_per_s:.0f} messages/s: {'aims kept' if kept else 'AIMS MISSED'}")
        print(
            f"  {it.found} found, {it.found_s:.1f} s after the start, {it.connected_s:.1f} s after the broker let it in"
        )
        heard_ms, (listen_mb, broker_mb) = it.heard_ms, it.memory_mb
        median_ms, late_ms = heard_ms[len(heard_ms) // 2], heard_ms[len(heard_ms) * 99 // 100]
        print(f"  listen {it.listen:.1f} % of a core, {listen_mb:.0f} MB; broker {it.broker:.1f} %, {broker_mb:.0f} MB")
        print(f"  a core would be full of listen at {100 * size / it.listen:,.0f} furnaces,", end=" ")
        print(f"of broker at {100 * size / it.broker:,.0f}")
        print(f"  alarms among all that: half of them within {median_ms:.0f} ms,", end=" ")
        print(f"99 of 100 within {late_ms:.0f} ms, the last within {heard_ms[-1]:.0f} ms")
        print(f"  an alarm of a furnace out of view stands in view after {worst}")
        print(f"  the broker dropped {'something' if it.dropping else 'nothing'}", flush=True)
    for line in () if options.no_archive else archive_lines():
        print(line, flush=True)
    return 0 if is_kept else 1


if __name__ == "__main__":
    sys.exit(main())
