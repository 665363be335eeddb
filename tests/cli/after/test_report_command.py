"""`rampwarden report`: formats, several records, and input that cannot be reported."""

import gzip
import importlib
import json
from pathlib import Path

import pytest

from command_line import CommandLine
from invented_heat import FAST, GOOD, write_record
from rampwarden.records.heat_figures import figures_of

pytestmark = pytest.mark.long


def test_a_page_is_written_and_its_verdict_said(rampwarden: CommandLine, tmp_path: Path) -> None:
    record = write_record(tmp_path / "a.jsonl", GOOD)
    outcome = rampwarden("report", record)
    assert (outcome.status, outcome.errors) == (0, "")
    assert outcome.output == f"This heat was kept within its schedule.\nreport in {tmp_path / 'a.html'}\n"
    assert (tmp_path / "a.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(("ending", "magic"), [("pdf", b"%PDF-"), ("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_paper_and_pictures_are_written_too(rampwarden: CommandLine, tmp_path: Path, ending: str, magic: bytes) -> None:
    record = write_record(tmp_path / "a.jsonl", FAST)
    target = tmp_path / f"heat.{ending}"
    assert rampwarden("report", record, "--output", target, "--fahrenheit").status == 0
    assert target.read_bytes().startswith(magic)


def test_several_heats_are_laid_over_one_another(rampwarden: CommandLine, tmp_path: Path) -> None:
    records = [write_record(tmp_path / f"{name}.jsonl", course) for name, course in (("a", GOOD), ("b", FAST))]
    outcome = rampwarden("report", *records, "--align-at", "200 C")
    assert outcome.status == 0
    page = (tmp_path / "heats.html").read_text(encoding="utf-8")
    assert "2 heats side by side" in page
    assert "time of each heat since it passed 200 °C" in page
    assert "1: This heat was kept within its schedule." in page
    assert "2: This heat broke its schedule: ramp-high." in page
    assert page.count("a.jsonl of 2026-01-01") >= 2


def test_an_older_report_is_not_written_over_unasked(rampwarden: CommandLine, tmp_path: Path) -> None:
    record = write_record(tmp_path / "a.jsonl", GOOD)
    (tmp_path / "a.html").write_text("mine")
    assert "--replace" in rampwarden.refusal("report", record)
    assert (tmp_path / "a.html").read_text() == "mine"
    assert rampwarden("report", record, "--replace").status == 0


def test_a_heat_without_a_valid_reading_is_refused_and_leaves_no_page(rampwarden: CommandLine, tmp_path: Path) -> None:
    record = write_record(tmp_path / "a.jsonl", GOOD)
    lines = record.read_text().splitlines()
    opened = [line.replace('"emf_uv"', '"faults": ["open"], "emf_uv"') for line in lines]
    record.write_text("\n".join(opened) + "\n")
    assert "no temperature that could be believed" in rampwarden.refusal("report", record)
    assert not (tmp_path / "a.html").exists()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "no heat record"),
        (b"time,temp\n1,2\n", "no heat record"),
        (b'{"kind":"header","format":"rampwarden-heat/9","started":"2026-01-01T09:00:00Z"}\n', "rampwarden-heat/9"),
        (b'{"kind":"header","format":"rampwarden-heat/1","started":"2026-01-01T09:00:00Z"}\n', "--schedule"),
        (gzip.compress(b"nothing of ours", mtime=0), "no heat record"),
        (bytes(range(256)), "no heat record"),
    ],
)
def test_a_foreign_file_is_refused_in_one_line(
    rampwarden: CommandLine, tmp_path: Path, content: bytes, said: str
) -> None:
    (tmp_path / "foreign").write_bytes(content)
    assert said in rampwarden.refusal("report", tmp_path / "foreign")
    assert not (tmp_path / "a.html").exists()


def test_what_cannot_be_drawn_or_written_is_refused_in_one_line(rampwarden: CommandLine, tmp_path: Path) -> None:
    good = write_record(tmp_path / "a.jsonl", GOOD)
    other = write_record(tmp_path / "b.jsonl", GOOD)
    assert "cannot read" in rampwarden.refusal("report", tmp_path / "none.jsonl")
    assert ".html" in rampwarden.refusal("report", good, "--output", "heat.doc")
    assert "cannot write" in rampwarden.refusal("report", good, "--output", "no/such/folder/heat.html")
    assert "cannot write" in rampwarden.refusal("report", good, "--output", "no/such/folder/heat.pdf")
    assert "two records" in rampwarden.refusal("report", good, "--align-at", "200 C")
    assert "--align-at" in rampwarden.refusal("report", good, other, "--align-at", "hot")
    assert "never came to 1500 °C" in rampwarden.refusal("report", good, other, "--align-at", "1500 C")
    assert "more than 8" in rampwarden.refusal("report", *[good] * 9)


def test_without_matplotlib_it_says_what_to_install(
    rampwarden: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The module by its own name: the package has a function of the same.
    monkeypatch.setattr(importlib.import_module("rampwarden.cli.after.report"), "find_spec", lambda _: None)
    record = write_record(tmp_path / "a.jsonl", GOOD)
    assert "rampwarden[report]" in rampwarden.refusal("report", record)


def test_a_record_of_a_later_version_is_reported_and_that_is_said(rampwarden: CommandLine, tmp_path: Path) -> None:
    """On standard error, once; the figures a register enters come by the same way."""
    record = write_record(tmp_path / "a.jsonl", GOOD)
    first, rest = record.read_text(encoding="utf-8").split("\n", 1)
    later = json.loads(first) | {"software": "rampwarden 99.1", "parameters": {"alarms": {"gas-low": {}}}}
    record.write_text(json.dumps(later) + "\n" + rest, encoding="utf-8")
    outcome = rampwarden("report", record)
    assert outcome.status == 0
    newer, unknown = outcome.errors.splitlines()
    assert "a.jsonl: written by rampwarden 99.1, which is newer than this rampwarden " in newer
    assert unknown.endswith("was left out: alarms.gas-low")
    assert figures_of(record).complete
