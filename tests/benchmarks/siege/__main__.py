"""The siege: every fault at random into a real watch for half an hour, beside a twin to which nothing is done.

    python tests/benchmarks/siege [--seed 1] [--minutes 30] [--starts-within 20] [--no-disk] [--keep FOLDER]

Real: the watch and its twin, a mosquitto, pseudo-terminals, a small file system of its own for the records, mounted
from a file (that needs root; `--no-disk` goes without it and its faults). Which faults come, in which order, is drawn
from the seed. Exit status 1 unless the six columns are zero, 2 where it cannot be held here.
"""

import argparse
import contextlib
import random
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.siege import disk_faults, siege_faults
from tests.benchmarks.siege.reckoning import COLUMNS, Tally, reckon
from tests.benchmarks.siege.siege_disk import NoDiskError, SiegeDisk
from tests.benchmarks.siege.siege_faults import SiegeFault
from tests.benchmarks.siege.stronghold import STARTS_WITHIN_S, Span, Stronghold
from tests.outputs.mqtt.broker import MOSQUITTO

ANYWHERE: tuple[SiegeFault, ...] = (
    *(siege_faults.intermittent, siege_faults.hostile_line, siege_faults.cable_pulled, siege_faults.killed),
    *(siege_faults.killed_twice, siege_faults.halted, siege_faults.clock_stepped, siege_faults.broker_killed),
    *(siege_faults.broker_frozen, siege_faults.broker_restarted, siege_faults.hostile_commands),
    *(siege_faults.socket_flood, siege_faults.page_attacked, disk_faults.sync_hangs),
    *(disk_faults.killed_while_disk_hangs, disk_faults.record_meddled, disk_faults.started_on_damage),
    *(disk_faults.cursor_damaged, disk_faults.files_broken, disk_faults.calibration_broken),
    *(disk_faults.secrets_opened, disk_faults.folder_gone, disk_faults.reloaded),
)
OF_A_DISK: tuple[SiegeFault, ...] = (
    *(disk_faults.disk_hangs, disk_faults.disk_full, disk_faults.started_read_only, disk_faults.disk_dies),
    disk_faults.record_refused,
)
_QUIET_S = 20.0
_DELIVERED_WITHIN_S = 60.0


def besiege(siege: Stronghold, lasts_s: float) -> Tally:
    """Do one thing after another to it, and reckon."""
    chance = random.Random(f"faults {siege.seed}")
    siege.begin()
    time.sleep(10.0)
    deck: list[SiegeFault] = []
    drawn = 0
    while siege.now_s() < lasts_s - _QUIET_S:
        if not deck:
            deck = list(ANYWHERE + (OF_A_DISK if siege.disk is not None else ()))
            chance.shuffle(deck)
        fault = deck.pop()
        drawn += 1
        from_s = siege.now_s()
        if not siege.watch.lives_on:
            siege.bad_starts.append(f"{from_s:.0f} s: it is gone by itself: {siege.watch.errors()}")
            with siege.blinding("gone by itself"):
                siege.start_again()
        try:
            fault(siege, random.Random(f"{siege.seed} {drawn}"))
            what = fault.__name__
        except Exception as error:  # a fault that could not be arranged is said, and the siege goes on
            what = f"{fault.__name__} ({type(error).__name__}: {error})"
        siege.done.append(Span(from_s, siege.now_s(), what))
        print(f"{from_s:6.0f} s  {what}, {siege.now_s() - from_s:.0f} s", file=sys.stderr, flush=True)
        time.sleep(chance.uniform(2.0, 10.0))
    time.sleep(max(0.0, lasts_s - siege.now_s()))
    return _end(siege)


def _end(siege: Stronghold) -> Tally:
    """Let what is on its way arrive, then close the record."""
    siege.line.board.stop()
    end_s = time.monotonic()
    time.sleep(min(_DELIVERED_WITHIN_S, 15.0))
    for watch in (siege.watch, siege.twin):
        if watch.lives_on and watch.process is not None:
            watch.process.terminate()
            with contextlib.suppress(Exception):
                watch.process.wait(30.0)
    time.sleep(2.0)
    tally = reckon(siege, end_s)
    tally.columns["starts that did not watch"] += siege.watch.tracebacks()
    return tally


def print_table(siege: Stronghold, tally: Tally) -> None:
    """Print the one table, and what stands behind each figure that is not zero."""
    print(
        f"seed {siege.seed}: {siege.lasts_s / 60:g} min, readings {siege.interval_s} s apart; {len(siege.done)} faults"
    )
    print(f"{siege.watch.lives} starts, {siege.starts_within_s:g} s for each at most")
    print(f"the twin raised {tally.twin_alarms} alarms, {tally.over_unseen} of them over")
    print("or beyond judging while the watch was dead, blind or said that its sensor was bad")
    for name in COLUMNS:
        print(f"{name:<40}{len(tally.columns[name]):>6}")
    print(f"{'apart: taken by a kill, disk not taking':<40}{len(tally.taken):>6}")
    for name in COLUMNS:
        for each in tally.columns[name][:12]:
            print(f"  {name}: {each}")


def main() -> int:
    """Hold one siege."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument(
        "--starts-within", type=float, default=STARTS_WITHIN_S, help="s a start may take; more where much else runs"
    )
    parser.add_argument(
        "--no-disk", action="store_true", help="without a disk of its own, and the faults that need one"
    )
    parser.add_argument("--keep", type=Path, help="leave logs and records in this new folder")
    options = parser.parse_args()
    if MOSQUITTO is None:
        print("no siege: there is no mosquitto on this computer", file=sys.stderr)
        return 2
    with contextlib.ExitStack() as ending:
        folder = options.keep or Path(ending.enter_context(tempfile.TemporaryDirectory(prefix="rw")))
        if options.keep and folder.exists():
            print(f"no siege: {folder} is there already; another siege's watch may hold its board", file=sys.stderr)
            return 2
        folder.mkdir(parents=True, exist_ok=True)
        runtime = Path(ending.enter_context(tempfile.TemporaryDirectory(prefix="rw", dir="/dev/shm")))
        try:
            disk = None if options.no_disk else SiegeDisk(folder / "disk")
        except NoDiskError as error:
            print(f"no siege: {error}; --no-disk goes without", file=sys.stderr)
            return 2
        siege = Stronghold(folder, runtime, options.seed, 60.0 * options.minutes, disk, options.starts_within)
        ending.callback(siege.close)
        tally = besiege(siege, siege.lasts_s)
        print_table(siege, tally)
    return 0 if tally.is_clean else 1


if __name__ == "__main__":
    sys.exit(main())
