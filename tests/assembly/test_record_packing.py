"""A watch has old records packed beside its work, but none that a broker still waits for."""

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from structlog.testing import capture_logs

from rampwarden.assembly.record_packing import RecordPacker
from rampwarden.outputs.outbox.cursor import Cursor, CursorPosition, encoded
from rampwarden.records import FORMAT, End, Header, encode_line
from running_watch import running_watch, wait_for

NOW_S = 2_000_000.0


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a folder with two records of two heats, each closed a day ago, and a newer one."""
    for name, ago_s in (("one", 86_400.0), ("two", 86_400.0), ("latest", 10.0)):
        closed_record(tmp_path, name, NOW_S - ago_s)
    return tmp_path


def closed_record(folder: Path, name: str, written_s: float) -> None:
    """Make one; the newest of its port is never packed."""
    path = folder / f"{name}.jsonl"
    path.write_bytes(encode_line(Header(FORMAT, "2026-01-01T09:00:00Z", id=name)) + encode_line(End(1.0)))
    os.utime(path, (written_s, written_s))


def told(folder: Path, after_s: float) -> list[str]:
    """Give what is logged while the folder's records are packed."""
    with capture_logs() as log:
        packer = RecordPacker(folder, after_s, lambda: NOW_S)
        packer._thread.join(10.0)
        packer.close()
    return [str(entry["event"]) for entry in log]


def names(folder: Path) -> list[str]:
    """Give the records that lie there beside the newest."""
    return sorted(path.name for path in folder.glob("*.jsonl*") if path.name != "latest.jsonl")


def test_what_is_old_enough_is_packed_and_told(folder: Path) -> None:
    """In one sentence."""
    assert told(folder, 86_401.0) == []
    assert told(folder, 86_399.0) == ["packed 2 finished records: 0.0 MB are 0.0 MB now"]
    assert names(folder) == ["one.jsonl.gz", "two.jsonl.gz"]


def test_what_a_broker_still_waits_for_stays(folder: Path) -> None:
    """The outbox goes on in it where it left off."""
    cursor = folder / ".mqtt-cursor-furnace-1.json"
    cursor.write_bytes(encoded(Cursor(records=[CursorPosition("two", "two.jsonl")])))
    told(folder, 0.0)
    assert names(folder) == ["one.jsonl.gz", "two.jsonl"]


@pytest.mark.parametrize("data", [b"", b"{", encoded(Cursor()).replace(b"-cursor/1", b"-cursor/9")])
def test_with_a_cursor_that_cannot_be_read_nothing_is_packed(folder: Path, data: bytes) -> None:
    """It may be any of them that somebody waits for."""
    (folder / ".mqtt-cursor-furnace-1.json").write_bytes(data)
    assert told(folder, 0.0) == ["records are not packed: what a broker has not got of them cannot be told"]
    assert names(folder) == ["one.jsonl", "two.jsonl"]


@pytest.fixture
def short() -> Iterator[Path]:
    """Give a folder with a short name, as a control socket needs one."""
    with tempfile.TemporaryDirectory(prefix="rw") as name:
        yield Path(name)


@pytest.mark.parametrize(("after", "packs"), [("1 d", True), ("0 s", False)])
def test_a_watch_packs_what_its_settings_say(short: Path, after: str, packs: bool) -> None:
    """A while after a heat, or never."""
    records = short / "heats"
    records.mkdir()
    closed_record(records, "one", NOW_S)
    closed_record(records, "latest", NOW_S + 10.0)
    (short / "furnace-1.toml").write_text(
        f'[control]\nname = "furnace-1"\n[watch]\nrecords = "{records}"\npack_after = "{after}"\n', encoding="utf-8"
    )
    with running_watch(folder=short) as watch:
        wait_for(lambda: watch.recorded("reading"), "the first reading")
        if packs:
            wait_for(lambda: names(records) == ["one.jsonl.gz"], "the packed record")
    assert names(records) == (["one.jsonl.gz"] if packs else ["one.jsonl"])
