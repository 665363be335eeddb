"""How long `rampwarden heats` takes over 50,000 invented heats in a folder and on a PostgreSQL server, all in all.

What is printed is the median of three runs of the whole command, s, and behind it how much of the processor it used, s:
on a busy machine that is what can be compared. The bound is two seconds.
"""

import argparse
import hashlib
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

import msgspec

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.archive.invented_rows import invented_rows
from tests.postgres_server import POSTGRES, shared_server

from rampwarden.archive import ServerArchive, Story
from rampwarden.archive.archived_heat import packed
from rampwarden.archive.folder_archive import _Kept
from rampwarden.archive.keeping import write_row
from rampwarden.records import HeatFigures

QUESTIONS = (
    "heats list",
    "heats list --crucible POT-7 --alarm ramp-high --since 2027-01-01 --csv",
    "heats list --most 1000 --json",
    "heats trend --by pot",
    "heats trend --by furnace --schedule bronze",
    "heats trend --by month --csv",
    "heats show heat-7",
    "heats compare heat-7 heat-8 heat-9 --html overlay.html",
)
BOUND_S = 2.0


def main() -> int:
    """Print one row a question."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--heats", type=int, default=50_000)
    parser.add_argument("--runs", type=int, default=3)
    options = parser.parse_args()
    with ExitStack() as ending:
        folder = Path(ending.enter_context(tempfile.TemporaryDirectory()))
        places = {"folder": fill_folder(folder / "archive", options.heats)}
        if POSTGRES is not None:
            server = ending.enter_context(shared_server(folder))
            places["server"] = fill_server(server.make_database(), options.heats)
        slowest_s = 0.0
        print(f"{options.heats} heats; load {os.getloadavg()[0]:.1f}; s (of the processor), median of {options.runs}")
        print(" " * 72 + "".join(f"{name:>16}" for name in places))
        print(
            f"{'the first question, which makes the index':72}" + shown(asked_s(folder, places["folder"], "heats list"))
        )
        for question in QUESTIONS:
            took = [
                statistics.median_low(asked_s(folder, place, question) for _ in range(options.runs))
                for place in places.values()
            ]
            slowest_s = max(slowest_s, *(took_s for took_s, _ in took))
            print(f"{question:72}" + "".join(map(shown, took)), flush=True)
    print(f"slowest {slowest_s:.2f} s, bound {BOUND_S:.0f} s")
    return int(slowest_s > BOUND_S)


def shown(took: tuple[float, float]) -> str:
    """Give both times as they are printed."""
    return f"{took[0]:9.2f} ({took[1]:.2f})"


def asked_s(folder: Path, place: str, question: str) -> tuple[float, float]:
    """Give how long a whole command takes, and how much of the processor it uses, s."""
    command = [sys.executable, "-c", "from rampwarden.cli import run; run()", *question.split(), "--archive", place]
    began_s, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        command,
        check=True,
        stdout=subprocess.DEVNULL,
        cwd=folder,
        env={**os.environ, "XDG_CACHE_HOME": str(folder / "cache")},
    )
    took_s, after = time.perf_counter() - began_s, resource.getrusage(resource.RUSAGE_CHILDREN)
    return took_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def story_of(row: object) -> bytes:
    """Give a story to draw: 400 points and no events."""
    figures = {
        name: getattr(row, name) for name in ("started", "mark", "metal", "seconds", "peak_c", "soaked_s", "hot_h")
    }
    rest = {"record_id": row.id, "file": "", "title": row.schedule, "thermocouple": "K", "rehearsal": False}  # type: ignore[attr-defined]
    sums = {
        "closed": True,
        "complete": True,
        "readings": 1,
        "dose_min": 0.0,
        "unseen_s": 0.0,
        "alarms": {},
        "segments": (),
    }
    course = tuple((float(number * 40), 20.0 + number * 2.5) for number in range(400))
    return packed(msgspec.json.encode(Story(msgspec.convert({**figures, **rest, **sums}, HeatFigures), (), course)))


def fill_folder(archive: Path, count: int) -> str:
    """Write a folder as the archive would, without waiting for the disk."""
    archive.mkdir()
    (archive / "archive.json").write_bytes(msgspec.json.encode({"format": "rampwarden-archive/1"}))
    for row in invented_rows(count, per_day=40):
        place = archive / row.month / row.id
        place.mkdir(parents=True)
        story = story_of(row)
        (place / "story.json.gz").write_bytes(story)
        (place / "row.json").write_bytes(msgspec.json.encode(_Kept(row, hashlib.sha256(story).hexdigest(), "")))
    return str(archive)


def fill_server(url: str, count: int) -> str:
    """Fill a server's tables."""
    kept = ServerArchive.open(url, create=True, patience_s=600.0)
    with kept.database.changing():
        for row in invented_rows(count, per_day=40):
            write_row(kept.database, row)
            if int(row.id[5:]) < 100:
                content = {"id": row.id, "story": story_of(row), "record": b""}
                kept.database.insert("archived_content", content)
    kept.close()
    return url


if __name__ == "__main__":
    sys.exit(main())
