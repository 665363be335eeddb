"""What is done to the records, their disk, and what a start reads: a function each, given the siege and chance."""

import os
import random
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.benchmarks.siege.siege_faults import killed
from tests.benchmarks.siege.stronghold import YOUNG_S, Span, Stronghold

DISK_ALARMS = ("record-failing", "output-failing")
# Readings are written each half second, and brought onto the medium with the next event or when the kernel does.
UNSYNCED_S = 35.0


# The disk


def disk_hangs(siege: Stronghold, chance: random.Random) -> None:
    """Writes and syncs wait in the kernel; nobody may wait for them."""
    assert siege.disk is not None
    with siege.explaining("disk hangs", *DISK_ALARMS, afterwards_s=30.0):
        siege.disk.freeze()
        try:
            time.sleep(chance.uniform(5.0, 25.0))
        finally:
            siege.disk.thaw()
        _until_caught_up(siege)


def sync_hangs(siege: Stronghold, chance: random.Random) -> None:
    """The disk takes what is written and never says that it has it."""
    with siege.explaining("syncs hang", *DISK_ALARMS, afterwards_s=30.0):
        siege.shim.hanging.touch()
        time.sleep(chance.uniform(5.0, 25.0))
        siege.shim.hanging.unlink()
        _until_caught_up(siege)


def killed_while_disk_hangs(siege: Stronghold, chance: random.Random) -> None:
    """The kill takes what the disk has not got; what that is, is counted apart."""
    kernel = siege.disk is not None and chance.random() < 0.5
    from_s = time.monotonic() - YOUNG_S
    with siege.explaining("killed while the disk hangs", *DISK_ALARMS, afterwards_s=30.0):
        if kernel and siege.disk is not None:
            siege.disk.freeze()
        else:
            siege.shim.hanging.touch()
        time.sleep(chance.uniform(3.0, 15.0))
        with siege.blinding("killed while the disk hangs"):
            assert siege.watch.process is not None
            siege.watch.process.send_signal(signal.SIGKILL)
            time.sleep(0.5)
            siege.unwritten.append(Span(from_s, time.monotonic(), "killed while the disk hangs"))
            if kernel and siege.disk is not None:
                siege.disk.thaw()
            else:
                siege.shim.hanging.unlink()
            siege.watch.kill()
            siege.start_again()


def disk_full(siege: Stronghold, chance: random.Random) -> None:
    """No room is left; later somebody makes some. Perhaps it is killed and started meanwhile."""
    assert siege.disk is not None
    from_s = time.monotonic() - YOUNG_S
    with siege.explaining("disk full", *DISK_ALARMS, afterwards_s=30.0):
        siege.disk.fill()
        try:
            time.sleep(chance.uniform(4.0, 12.0))
            if chance.random() < 0.3:
                siege.unwritten.append(Span(from_s, time.monotonic(), "killed while the disk is full"))
                killed(siege, chance)
                time.sleep(chance.uniform(1.0, 5.0))
        finally:
            siege.disk.free()
        _until_caught_up(siege)


def started_read_only(siege: Stronghold, chance: random.Random) -> None:
    """It is killed and its disk remounted read-only; it starts all the same. Later the disk can be written again."""
    assert siege.disk is not None
    with siege.explaining("read-only remount", *DISK_ALARMS, "broker-unreachable", afterwards_s=30.0):
        with siege.blinding("read-only remount"):
            siege.watch.kill()
            siege.disk.turn_read_only()
            siege.start_again()
        time.sleep(chance.uniform(3.0, 12.0))
        siege.disk.turn_writable()
        time.sleep(chance.uniform(1.0, 5.0))
        if chance.random() < 0.5:
            killed(siege, chance)


def disk_dies(siege: Stronghold, chance: random.Random) -> None:
    """The kernel gives the file system up under the watch; it is killed, the disk mended, and it starts again."""
    assert siege.disk is not None
    # What was written and not synced goes with the file system, as in a power cut: apart, like what a kill takes.
    from_s = time.monotonic() - UNSYNCED_S
    with siege.explaining("disk dies", *DISK_ALARMS, afterwards_s=30.0):
        siege.disk.fail()
        time.sleep(chance.uniform(4.0, 12.0))
        with siege.blinding("disk dies"):
            siege.watch.kill()
            siege.unwritten.append(Span(from_s, time.monotonic(), "killed while the disk is dead"))
            siege.disk.mend()
            siege.start_again()


def record_refused(siege: Stronghold, chance: random.Random) -> None:
    """Its record takes nothing more, though there is room: somebody made it immutable."""
    record = siege.newest_record()
    if record is None or siege.disk is None:
        return
    with siege.explaining("record refused", *DISK_ALARMS, afterwards_s=30.0):
        subprocess.run(["chattr", "+i", str(record)], check=True, capture_output=True)
        try:
            time.sleep(chance.uniform(4.0, 10.0))
        finally:
            subprocess.run(["chattr", "-i", str(record)], check=True, capture_output=True)
        _until_caught_up(siege)


# The record under a running watch


def record_meddled(siege: Stronghold, chance: random.Random) -> None:
    """Deleted, moved, cut short or overwritten in the middle, under the watch."""
    record = siege.newest_record()
    if record is None:
        return
    kind = chance.choice(("deleted", "moved", "cut", "emptied", "flipped"))
    with siege.explaining(f"record {kind}", *DISK_ALARMS, afterwards_s=30.0):
        if kind == "deleted":
            record.unlink()
        elif kind == "moved":
            record.rename(record.with_name(f"{record.name}.moved-{chance.randrange(1000)}"))
        elif kind == "cut":
            os.truncate(record, chance.randrange(record.stat().st_size))
        elif kind == "emptied":
            os.truncate(record, 0)
        else:
            with siege.destroying(record):
                _flip(record, chance)
        time.sleep(6.0)
        _until_caught_up(siege)


# What a start finds


def started_on_damage(siege: Stronghold, chance: random.Random) -> None:
    """Killed, its record damaged, and started: cut, zeroed, or bits flipped in it."""
    what = "record damaged at a start"
    with siege.explaining(what, *DISK_ALARMS, afterwards_s=40.0), siege.blinding(what):
        siege.watch.kill()
        record = siege.newest_record()
        if record is not None and record.stat().st_size > 1000:
            with siege.destroying(record):
                _damage(record, chance)
        siege.start_again()


def cursor_damaged(siege: Stronghold, chance: random.Random) -> None:
    """Killed, and the note of how far the broker has it is spoilt, emptied or gone."""
    with siege.explaining("cursor damaged", *DISK_ALARMS), siege.blinding("cursor damaged"):
        siege.watch.kill()
        for cursor in siege.records.glob("*cursor*"):
            _spoil(cursor, chance)
        siege.start_again()


def files_broken(siege: Stronghold, chance: random.Random) -> None:
    """Settings, schedule or register cannot be read: at a reload, or at a start; later they are put right."""
    broken = chance.sample((siege.settings, siege.schedule, siege.register), chance.randrange(1, 4))
    what = "broken: " + ", ".join(path.name for path in broken)
    kept = {path: path.read_bytes() if path.exists() else None for path in broken}
    with siege.explaining(what, *DISK_ALARMS, "signal-lost", "broker-unreachable", afterwards_s=30.0):
        for path in broken:
            _spoil(path, chance) if path.exists() else path.write_bytes(chance.randbytes(3000))
        if chance.random() < 0.4:
            _reload(siege, chance)
        else:
            killed(siege, chance)
            time.sleep(chance.uniform(1.0, 5.0))
        for path, content in kept.items():
            path.unlink(missing_ok=True)
            if content is not None:
                path.write_bytes(content)
        if siege.settings in broken:
            # Outputs that could not be read of begin again with the next start.
            killed(siege, chance)


def calibration_broken(siege: Stronghold, chance: random.Random) -> None:
    """A calibration is named that is none, at a start."""
    text = siege.settings.read_text()
    siege.calibration.write_bytes(chance.choice((b"", b"\x00" * 500, chance.randbytes(400), b"[board\n")))
    with siege.explaining("calibration broken", *DISK_ALARMS):
        siege.settings.write_text(text.replace('calibration = "none"', f'calibration = "{siege.calibration}"'))
        try:
            killed(siege, chance)
        finally:
            siege.settings.write_text(text)


def secrets_opened(siege: Stronghold, chance: random.Random) -> None:
    """Everybody may read its secrets, at a reload or a start; then they are closed again."""
    secret = chance.choice(siege.secrets)
    with siege.troubling_broker(f"{secret.name} open"), siege.explaining("secret open", *DISK_ALARMS):
        secret.chmod(0o644)
        for folder in (siege.folder, *siege.folder.parents[:1]):
            folder.chmod(0o755)
        if chance.random() < 0.3:
            _reload(siege, chance)
        else:
            killed(siege, chance)
            time.sleep(chance.uniform(1.0, 4.0))
        secret.chmod(0o600)
        killed(siege, chance)


def folder_gone(siege: Stronghold, chance: random.Random) -> None:
    """The records' folder is moved away under the watch, and later put back where nothing stands in its way."""
    away = siege.records.with_name(f"moved-{chance.randrange(10_000)}")
    with siege.explaining("folder moved", *DISK_ALARMS, afterwards_s=40.0):
        siege.records.rename(away)
        time.sleep(chance.uniform(5.0, 10.0))
        _until_caught_up(siege)


def _reload(siege: Stronghold, chance: random.Random) -> None:
    """SIGHUP: the port is opened anew, the settings are read again."""
    assert siege.watch.process is not None
    with siege.blinding("reload"):
        siege.watch.process.send_signal(signal.SIGHUP)
        time.sleep(chance.uniform(1.0, 3.0))


def reloaded(siege: Stronghold, chance: random.Random) -> None:
    """A reload with nothing wrong."""
    _reload(siege, chance)


@contextmanager
def _open(path: Path) -> Iterator[bytearray]:
    content = bytearray(path.read_bytes())
    yield content
    with path.open("r+b") as file:
        file.write(content)
        file.truncate(len(content))


def _damage(record: Path, chance: random.Random) -> None:
    size = record.stat().st_size
    kind = chance.choice(("cut", "cut deep", "zeroed", "flipped", "noise", "first line"))
    at = chance.randrange(size // 2, size)
    if kind == "cut":
        os.truncate(record, size - chance.randrange(1, 4096))
    elif kind == "cut deep":
        os.truncate(record, at)
    elif kind == "flipped":
        for _ in range(chance.randrange(1, 8)):
            _flip(record, chance)
    else:
        length = chance.randrange(1, 4096)
        with _open(record) as content:
            if kind == "first line":
                content[chance.randrange(300)] ^= 1 << chance.randrange(8)
            else:
                piece = content[at : at + length]
                content[at : at + length] = bytes(len(piece)) if kind == "zeroed" else chance.randbytes(len(piece))


def _flip(path: Path, chance: random.Random) -> None:
    size = path.stat().st_size
    if not size:
        return
    at = chance.randrange(size)
    descriptor = os.open(path, os.O_RDWR)
    try:
        [byte] = os.pread(descriptor, 1, at)
        os.pwrite(descriptor, bytes([byte ^ 1 << chance.randrange(8)]), at)
    finally:
        os.close(descriptor)


def _spoil(path: Path, chance: random.Random) -> None:
    kind = chance.choice(("emptied", "cut", "noise", "gone", "flipped"))
    size = path.stat().st_size
    if kind == "emptied" or not size:
        os.truncate(path, 0)
    elif kind == "cut":
        os.truncate(path, chance.randrange(size))
    elif kind == "noise":
        path.write_bytes(chance.randbytes(size))
    elif kind == "gone":
        path.unlink()
    else:
        for _ in range(5):
            _flip(path, chance)


def _until_caught_up(siege: Stronghold) -> None:
    """Wait until the record grows again, for so long as a start may take at most."""
    until_s = time.monotonic() + siege.starts_within_s
    record = siege.newest_record()
    size = record.stat().st_size if record is not None else 0
    while time.monotonic() < until_s:
        record = siege.newest_record()
        if record is not None and record.stat().st_size != size:
            return
        time.sleep(0.1)
