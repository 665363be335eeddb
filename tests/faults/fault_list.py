"""The faults, each a function that is given a running bench, and the cases they make. Not a test itself.

A fault that must cost no reading opens no window on the bench; what it may cost stands in its body.
"""

import contextlib
import os
import pty
import random
import resource
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.faults.fault_bench import PATIENCE_S, Bench, Fault
from tests.faults.model_board import CLIMBING_S, EARLY_S, HEAT_S, SOAKING_S
from tests.faults.two_boards import TwoBoards, both_pulled, first_pulled, ports_swapped, second_pulled
from tests.outputs.mqtt.broker import wait_until

from small_disk import SmallDisk, small_disk

A_DAY_S = 86_400.0
_SEED = 20_260_101


def nothing(_bench: Bench) -> None:
    """The undisturbed twin itself, as a process."""


# The watch


def killed(bench: Bench) -> None:
    """SIGKILL, and the service manager starts it again."""
    with bench.window():
        bench.kill()
        bench.start_watch()


def killed_and_wall_stepped(by_s: float, bench: Bench) -> None:
    """The same, and the wall clock is another when it comes back."""
    with bench.window():
        bench.kill()
        bench.wall.write_text(str(by_s))
        bench.start_watch()


def halted(heat_seconds: float, bench: Bench) -> None:
    """SIGSTOP: a suspended process finds what the kernel kept for it."""
    bench.signal(signal.SIGSTOP)
    bench.pass_heat(heat_seconds)
    bench.signal(signal.SIGCONT)
    bench.await_reading()


def wall_stepped(by_s: float, bench: Bench) -> None:
    """Somebody sets the wall clock, or the network does."""
    bench.wall.write_text(str(by_s))
    bench.pass_heat(60.0)


# The port and the board


def port_gone(heat_seconds: float, bench: Bench) -> None:
    """The cable is pulled, and put back under the same name."""
    with bench.window():
        bench.board.unplug()
        bench.pass_heat(heat_seconds)
        if heat_seconds > 3.0 * bench.speed:
            wait_until(lambda: bench.has_alarm("signal-lost"), "silence is an alarm", PATIENCE_S)
        bench.board.plug_in()


def port_renamed(bench: Bench) -> None:
    """It comes back as another device behind its lasting name."""
    before = bench.board.line.node
    with bench.window():
        bench.board.unplug()
        takers = []
        while not takers or os.ttyname(takers[-1][1]) != before:
            takers.append(pty.openpty())
        bench.board.plug_in()
    assert bench.board.line.node != before
    for master, slave in takers:
        os.close(master)
        os.close(slave)


def permission_denied(bench: Bench) -> None:
    """Its group is not ours for a while."""
    with bench.window():
        bench.board.unplug()
        bench.board.plug_in(mode=0)
        wait_until(lambda: any("no permission" in line for line in bench.lines()), "the reason is said", PATIENCE_S)
        Path(bench.board.line.node).chmod(0o666)


def board_restarted(bench: Bench) -> None:
    """Its numbers and milliseconds begin at zero again; not one reading may be lost."""
    bench.board.restart()
    wait_until(lambda: bench.has_alarm("board-restarted"), "it is an alarm", PATIENCE_S)


def twice_as_fast(bench: Bench) -> None:
    """It sends every half interval from now on."""
    bench.board.interval_s /= 2.0
    bench.pass_heat(60.0)


def garbage(share: float, bench: Bench) -> None:
    """For a real second, this share of the line's bytes is anything. What came whole must be recorded."""
    chance = random.Random(_SEED)
    spoilt = []

    def spoil(frame: bytes) -> bytes:
        mask = [chance.random() < share for _ in frame]
        spoilt.append(any(mask))
        return bytes(chance.randrange(256) if hit else byte for hit, byte in zip(mask, frame, strict=True))

    bench.board.spoil = spoil
    bench.pass_heat(bench.speed)
    while not any(spoilt):
        bench.pass_heat(bench.interval_s)
    bench.board.spoil = None
    bench.await_reading()
    wait_until(lambda: bench.has_notice("garbled"), "garbage is said", PATIENCE_S)


# The broker


def broker_gone(heat_seconds: float, bench: Bench) -> None:
    """It is away for a while."""
    bench.kept.stop()
    bench.pass_heat(heat_seconds)
    bench.kept.start()


def broker_restarts(times: int, bench: Bench) -> None:
    """It restarts again and again, each time as soon as it is back."""
    chance = random.Random(_SEED)
    for _ in range(times):
        bench.kept.stop()
        time.sleep(chance.uniform(0.0, 0.3))
        bench.kept.start()
        time.sleep(chance.uniform(0.0, 0.6))


# The disk


def disk_refuses(bench: Bench) -> None:
    """Not one more file may grow, from the middle of a line on; then it may again."""
    assert bench.process is not None
    size = bench.record.stat().st_size + 37
    before = resource.prlimit(bench.process.pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
    heard_at_broker(bench, "record-failing")
    resource.prlimit(bench.process.pid, resource.RLIMIT_FSIZE, before)
    wait_until(lambda: bench.has_notice("record-written"), "the record is written again", PATIENCE_S)


def disk_full(disk: SmallDisk, bench: Bench) -> None:
    """No space is left; later somebody makes some."""
    disk.fill()
    heard_at_broker(bench, "record-failing")
    bench.pass_heat(60.0)
    disk.free()
    wait_until(lambda: bench.has_notice("record-written"), "the record is written again", PATIENCE_S)


def record_deleted(bench: Bench) -> None:
    """Somebody tidies up; the record is put back from its open handle."""
    record = bench.record
    record.unlink()
    wait_until(record.exists, "the record is put back", PATIENCE_S)


def record_cut_short(bench: Bench) -> None:
    """Somebody empties the file in which it is; it is written anew, and what was left of it keeps another name."""
    record = bench.record
    os.truncate(record, record.stat().st_size // 2)
    aside = record.with_name(f"{record.name}.aside-1")
    wait_until(lambda: aside.exists() and record.exists(), "the record is written anew", PATIENCE_S)


def heard_at_broker(bench: Bench, alarm: str) -> None:
    """Wait until somebody far away has heard of an alarm that the record cannot take."""
    wait_until(
        lambda: any(alarm in text for _, _, text in list(bench.listener.heard)), f"{alarm} at the broker", PATIENCE_S
    )


# Those who ask


def flooded(clients: int, bench: Bench) -> None:
    """So many clients at once that say nonsense, drip, ask for ever or never; one of good will still gets through."""
    until_s = time.monotonic() + 2.0
    path = next(bench.runtime.glob("*.sock"))
    workers = [threading.Thread(target=_pester, args=(path, number, until_s), daemon=True) for number in range(clients)]
    for worker in workers:
        worker.start()
    answered = 0
    while time.monotonic() < until_s:
        with contextlib.suppress(Exception):
            bench.status()
            answered += 1
    for worker in workers:
        worker.join()
    assert answered, "nobody of good will was answered during the flood"


def _pester(path: Path, number: int, until_s: float) -> None:
    chance = random.Random(number)
    said = (
        b"\x00" * 5000,
        b'{"format":',
        b'{"format":"rampwarden-control/1","request":"status"}\n',
        b"",
        b"[" * 900 + b"\n",
    )
    while time.monotonic() < until_s:
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX) as line:
            line.settimeout(0.2)
            line.connect(str(path))
            line.sendall(said[number % len(said)])
            if number % 2:
                line.recv(4096)
            time.sleep(chance.uniform(0.0, 0.05))


# Cases


@dataclass(frozen=True)
class Case:
    """A heat, and at which of its seconds what goes wrong."""

    name: str
    plan: tuple[tuple[float, Fault], ...]
    speed: float = 30.0
    interval_s: float = 1.0
    until_s: float = HEAT_S
    broker_from_s: float | None = None
    stdout_blocked: bool = False
    disk: str = ""
    two_boards: bool = False

    @property
    def needs_root(self) -> bool:
        """Whether only root can arrange this."""
        return bool(self.disk)


@dataclass(frozen=True)
class Verdict:
    """What a case came to: nothing in `found` means that nothing was lost."""

    name: str
    found: list[str]
    sent: int
    recorded: int
    lost: int
    events: int
    repeated: int
    took_s: float


def run_case(case: Case, folder: Path) -> Verdict:
    """Watch one heat while everything in the plan goes wrong."""
    began_s = time.monotonic()
    with contextlib.ExitStack() as ending:
        folder.mkdir(parents=True, exist_ok=True)
        disk = ending.enter_context(small_disk(folder / "disk", case.disk)) if case.disk else None
        stdout = ending.enter_context(_full_pipe()) if case.stdout_blocked else subprocess.DEVNULL
        bench = (TwoBoards if case.two_boards else Bench)(
            folder,
            case.speed,
            case.interval_s,
            no_override=os.geteuid() == 0,
            stdout=stdout,
            records=None if disk is None else disk.folder,
        )
        ending.callback(bench.close)
        plan = list(case.plan)
        if disk is not None:
            plan.append((EARLY_S, partial(disk_full, disk)))
        if case.broker_from_s is None:
            bench.begin()
        else:
            # Whom the broker keeps messages for is known to it from an earlier life.
            bench.kept.start()
            bench.listener.begin()
            bench.kept.stop()
            bench.begin(broker=False)
            plan.append((case.broker_from_s, lambda bench: bench.kept.start()))
        for at_s, fault in sorted(plan, key=lambda step: step[0]):
            bench.reach(at_s)
            fault(bench)
        found = bench.finish(case.until_s)
        keys = [key for key, _, _ in bench.listener.heard]
        took_s = time.monotonic() - began_s
        repeated = len(keys) - len(set(keys))
        return Verdict(
            case.name, found, len(bench.board.sent), bench.recorded, bench.lost, bench.events, repeated, took_s
        )


@contextlib.contextmanager
def _full_pipe() -> Iterator[int]:
    """Give an end to write to that takes nothing: the other end is held and never read."""
    unread, full = os.pipe()
    os.set_blocking(full, False)
    with contextlib.suppress(BlockingIOError):
        while True:
            os.write(full, b"x" * 4096)
    os.set_blocking(full, True)
    try:
        yield full
    finally:
        os.close(full)
        os.close(unread)


def kills(seed: int, count: int) -> tuple[tuple[float, Fault], ...]:
    """Give so many seeded moments of the heat at which the watch is killed."""
    chance = random.Random(_SEED + seed)
    return tuple((chance.uniform(2.0, HEAT_S - 60.0), killed) for _ in range(count))


def everything_alone() -> list[Case]:
    """Give every fault in a heat of its own: the full matrix."""
    moments = (("early", EARLY_S), ("in a soak", SOAKING_S), ("in a ramp", CLIMBING_S))
    cases = [Case("nothing goes wrong", ((EARLY_S, nothing),))]
    cases += [Case(f"kill -9 at 10 moments, seed {seed}", kills(seed, 10), speed=5.0) for seed in range(5)]
    for named, fault in (
        ("port gone 1 s", partial(port_gone, 1.0)),
        ("port gone 60 s", partial(port_gone, 60.0)),
        ("port back under another name", port_renamed),
        ("board restarted", board_restarted),
        *((f"garbage, {share:.1%} of bytes", partial(garbage, share)) for share in (0.001, 0.01, 0.1, 0.5)),
        ("broker gone", partial(broker_gone, 150.0)),
        ("SIGSTOP for 2 min", partial(halted, 120.0)),
        ("disk takes nothing, then again", disk_refuses),
        ("record deleted", record_deleted),
        ("record cut short", record_cut_short),
        ("socket flooded by 100 clients", partial(flooded, 100)),
    ):
        cases += [Case(f"{named}, {when}", ((at_s, fault),)) for when, at_s in moments]
    cases += [
        # As long as in life: the waits between openings of a port are real seconds in any case.
        Case("port gone 10 min", ((CLIMBING_S + 190.0, partial(port_gone, 600.0)),), until_s=CLIMBING_S + 1300.0),
        Case("permission denied", ((CLIMBING_S, permission_denied),)),
        Case("board sends twice as fast", ((CLIMBING_S, twice_as_fast),)),
        Case("broker gone from the start", ((EARLY_S, nothing),), broker_from_s=400.0),
        Case("broker restarted 20 times", ((EARLY_S, partial(broker_restarts, 20)),)),
        Case("wall clock 1 day on", ((SOAKING_S, partial(wall_stepped, A_DAY_S)),)),
        Case("wall clock 1 day back", ((SOAKING_S, partial(wall_stepped, -A_DAY_S)),)),
        Case("killed, wall clock 1 day on", ((CLIMBING_S, partial(killed_and_wall_stepped, A_DAY_S)),), speed=15.0),
        Case("killed, wall clock 1 day back", ((CLIMBING_S, partial(killed_and_wall_stepped, -A_DAY_S)),), speed=15.0),
        Case("stdout blocked", ((EARLY_S, nothing),), stdout_blocked=True),
        Case("disk full and freed", (), disk="256k"),
    ]
    for named, fault in (
        ("first board pulled", first_pulled),
        ("second board pulled", second_pulled),
        ("both boards pulled", both_pulled),
        ("ports swapped", ports_swapped),
    ):
        cases += [Case(f"two boards: {named}, {when}", ((at_s, fault),), two_boards=True) for when, at_s in moments]
    return cases


def everything_at_once() -> list[Case]:
    """Give every fault once, many to a heat: what the tests have time for."""
    return [
        Case(
            "a bad line",
            (
                (20.0, board_restarted),
                (40.0, partial(garbage, 0.001)),
                (300.0, partial(garbage, 0.5)),
                (510.0, port_renamed),
                (580.0, twice_as_fast),
                (780.0, partial(port_gone, 600.0)),
            ),
            speed=60.0,
            interval_s=2.0,
            until_s=1600.0,
        ),
        Case(
            "a bad host",
            (
                (280.0, disk_refuses),
                (510.0, partial(halted, 120.0)),
                (640.0, partial(wall_stepped, A_DAY_S)),
                (700.0, partial(wall_stepped, -A_DAY_S)),
                # At this pace starting takes minutes of the heat: only where nothing begins or ends meanwhile.
                (780.0, killed),
                (1000.0, killed),
            ),
            speed=60.0,
            interval_s=2.0,
            until_s=1300.0,
            stdout_blocked=True,
        ),
        Case(
            "meddling hands",
            ((60.0, record_deleted), (300.0, record_cut_short), (540.0, record_deleted)),
            speed=60.0,
            interval_s=2.0,
            until_s=800.0,
        ),
        Case(
            "bad company",
            (
                (20.0, partial(flooded, 100)),
                (300.0, partial(garbage, 0.01)),
                (420.0, partial(port_gone, 1.0)),
                (510.0, permission_denied),
                (640.0, partial(broker_restarts, 3)),
                (800.0, partial(garbage, 0.1)),
            ),
            speed=60.0,
            interval_s=2.0,
            until_s=1100.0,
            broker_from_s=240.0,
        ),
    ]
