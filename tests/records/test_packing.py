"""Finished records are packed after a while, and nothing of a heat is ever lost by it."""

import errno
import fcntl
import gzip
import os
from pathlib import Path

import pytest

from rampwarden.core.model import Reading
from rampwarden.records import FORMAT, End, Header, RecordReader, encode_line, pack_finished, packing

OLD_S = 1_000_000.0
LIMIT_S = 2_000_000.0
LATEST = "latest.jsonl"
READINGS = [Reading(float(second), emf_uv=1000.0 + second, junction_c=25.0) for second in range(500)]


def record(folder: Path, name: str = "heat", *, record_id: str = "0123", end: bytes | None = None) -> Path:
    """Give a record that was closed long ago, and a newer one of its port; `end` is what its last line is instead."""
    path, latest = folder / f"{name}.jsonl", folder / LATEST
    lines = [encode_line(line) for line in (Header(FORMAT, "2026-01-01T09:00:00Z", id=record_id), *READINGS)]
    path.write_bytes(b"".join(lines) + (encode_line(End(500.0)) if end is None else end))
    os.utime(path, (OLD_S, OLD_S))
    latest.write_bytes(b"".join((lines[0], encode_line(End(500.0)))))
    os.utime(latest, (LIMIT_S + 10, LIMIT_S + 10))
    return path


def names(folder: Path) -> list[str]:
    """Give what lies beside the port's newest record."""
    return sorted(each.name for each in folder.iterdir() if each.name != LATEST)


def packed(folder: Path, *owed: str) -> packing.Packed:
    """Pack what is to be packed."""
    return pack_finished(folder, LIMIT_S, owed, lambda: False)


def test_a_finished_record_is_packed_to_a_fraction_and_reads_the_same_by_both_names(tmp_path: Path) -> None:
    """The time it was written last stays, for by that earlier heats are looked for; its mode too."""
    path = record(tmp_path)
    path.chmod(0o640)
    content = path.read_bytes()
    done = packed(tmp_path)
    assert names(tmp_path) == ["heat.jsonl.gz"]
    smaller = tmp_path / "heat.jsonl.gz"
    assert (done.records, done.before, done.after, done.trouble) == (1, len(content), smaller.stat().st_size, "")
    assert done.after < done.before / 5
    assert gzip.decompress(smaller.read_bytes()) == content
    assert (smaller.stat().st_mtime, smaller.stat().st_mode & 0o777) == (OLD_S, 0o640)
    for name in (path, smaller):
        with RecordReader(name) as reader:
            assert [line for line in reader if isinstance(line, Reading)] == READINGS
    assert packed(tmp_path) == packing.Packed()


def test_a_record_packed_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    """Neither name nor hour of packing goes into it."""
    found = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        record(tmp_path / name, name)
        packed(tmp_path / name)
        found.append((tmp_path / name / f"{name}.jsonl.gz").read_bytes())
    assert found[0] == found[1]


@pytest.mark.parametrize("end", [b"", b'{"kind":"end","time', encode_line(READINGS[-1]), b"rubbish\n"])
def test_a_record_that_was_not_closed_stays(tmp_path: Path, end: bytes) -> None:
    """It may yet be taken up again."""
    path = record(tmp_path, end=end)
    assert packed(tmp_path) == packing.Packed()
    assert path.exists()


def test_a_record_stays_that_is_young_owed_without_an_id_or_being_written(tmp_path: Path) -> None:
    """The broker's outbox reads on in the plain file, and what has no id is known by its bytes."""
    young, owed, nameless, held = (
        record(tmp_path, "young"),
        record(tmp_path, "owed"),
        record(tmp_path, "nameless", record_id=""),
        record(tmp_path, "held"),
    )
    os.utime(young, (LIMIT_S, LIMIT_S))
    foreign = tmp_path / "notes.jsonl"
    foreign.write_text('{"kind":"end","time_s":1.0}\n', encoding="utf-8")
    os.utime(foreign, (OLD_S, OLD_S))
    with held.open("rb") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        assert packed(tmp_path, owed.name) == packing.Packed()
    assert all(path.exists() for path in (young, owed, nameless, held, foreign))
    assert packed(tmp_path, owed.name).records == 1
    assert not held.exists()


def test_whoever_was_interrupted_before_the_plain_record_was_deleted_ends_it(tmp_path: Path) -> None:
    """Both are the same heat, and it must not count twice."""
    path = record(tmp_path)
    (tmp_path / "heat.jsonl.gz").write_bytes(gzip.compress(path.read_bytes()))
    assert packed(tmp_path).records == 1
    assert not path.exists()


def test_another_heat_of_that_name_is_not_written_over(tmp_path: Path) -> None:
    """Two heats, two records."""
    path, other = record(tmp_path), tmp_path / "heat.jsonl.gz"
    other.write_bytes(gzip.compress(b"another heat"))
    assert packed(tmp_path).trouble == f"{path}: cannot be packed: heat.jsonl.gz is another's"
    assert path.exists()
    assert gzip.decompress(other.read_bytes()) == b"another heat"


def test_a_full_disk_or_one_that_keeps_other_bytes_leaves_the_record_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is deleted only after the packed one was read back."""
    path = record(tmp_path)
    content = path.read_bytes()
    part = tmp_path / ".heat.jsonl.gz.part"

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    def rot(_: int) -> None:
        data = bytearray(part.read_bytes())
        data[len(data) // 2] ^= 1
        part.write_bytes(data)

    for mishap in (full, rot):
        monkeypatch.setattr(packing.os, "fsync", mishap)
        done = packed(tmp_path)
        assert done.records == 0
        assert done.trouble.startswith(f"{path}: cannot be packed: ")
        assert names(tmp_path) == ["heat.jsonl"]
        assert path.read_bytes() == content


def test_a_record_that_is_written_to_meanwhile_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody edits it, who would lose the edit."""
    path = record(tmp_path)
    monkeypatch.setattr(packing.os, "fsync", lambda _: os.utime(path, (OLD_S + 1, OLD_S + 1)))
    assert "was written to meanwhile" in packed(tmp_path).trouble
    assert path.exists()


def test_it_ends_when_it_is_told_to_and_leaves_nothing_half_done(tmp_path: Path) -> None:
    """Between two records, and in the midst of one."""
    path = record(tmp_path)
    for asked in (1, 2, 3):
        answers = iter([False] * (asked - 1) + [True] * 5)
        assert pack_finished(tmp_path, LIMIT_S, (), lambda answers=answers: next(answers)) == packing.Packed()
        assert names(tmp_path) == [path.name]


def test_the_newest_record_of_each_port_stays(tmp_path: Path) -> None:
    """By it a watch sees that the last heat of its port was closed, and goes on with none before it."""
    record(tmp_path)
    assert packed(tmp_path).records == 1
    other = Header(FORMAT, "2026-01-01T09:00:00Z", id="4", board={"port": "/dev/ttyUSB1"})
    for name, written_s in (("old", OLD_S - 100.0), ("older", OLD_S - 200.0)):
        path = tmp_path / f"{name}.jsonl"
        path.write_bytes(encode_line(other) + encode_line(End(1.0)))
        os.utime(path, (written_s, written_s))
    assert packed(tmp_path).records == 1
    assert sorted(each.name for each in tmp_path.iterdir()) == [
        "heat.jsonl.gz",
        "latest.jsonl",
        "old.jsonl",
        "older.jsonl.gz",
    ]
