"""Records that the first version wrote are replayed, exported, reported and taken up again as it did."""

import gzip
import json
from pathlib import Path

import pytest

from old_records import renew
from rampwarden.records.record_lines import Header, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay
from rampwarden.report.assembling import edit
from rampwarden.report.course import read_course
from rampwarden.report.units import Scale

pytestmark = pytest.mark.long


RECORDS = renew.record_names()
UNFINISHED = [name for name in RECORDS if renew.is_unfinished(name)]
# What the first version knew; a later one may know more, and has no kept record of it.
FAULTS = (
    "fast-ramp gas-failing open-sensor spikes silence board-restart slow-red-heat oven-notches soak-drift overshoot "
    "flame-out lid-open charge shorted-sensor stuck-sensor reversed-sensor noisy-sensor hot-board"
)
NOTICES = (
    "board-restarted port-opened port-lost garbled frames-lost record-failing record-written watch-resumed "
    "broker-lost broker-reached output-failing"
)
COMMANDS = "acknowledge shelve unshelve note mark skip-segment end-heat"
ALARMS = (
    "ramp-high ramp-forecast ramp-low cooling-fast temperature-high ceiling-forecast soak-deviation segment-overdue "
    "signal-lost sensor-open sensor-short sensor-range sensor-stuck sensor-reversed sensor-noisy sensor-type-suspect "
    "sensor-lagging junction-range junction-racing heat-failing flame-out board-restarted record-failing "
    "broker-unreachable output-failing"
)


def test_no_record_has_gone() -> None:
    """A rehearsal with each fault, every notice, command and event, every alarm changed and out of service."""
    found: dict[str, set[str]] = {"notice": set(), "command": set(), "event": set()}
    for name in RECORDS:
        text = gzip.decompress(renew.record_file(name).read_bytes()).decode()
        for line in text.splitlines():
            for kind, seen in found.items():
                if f'"kind":"{kind}"' in line and line.endswith("}"):
                    seen.add(json.loads(line)[kind])
    assert set(FAULTS.split()) <= set(RECORDS)
    assert set(NOTICES.split()) <= found["notice"]
    assert set(COMMANDS.split()) <= found["command"]
    assert {"alarm", "soak-complete", "heat-complete", "heat-ended", "observed", "command-refused"} <= found["event"]
    customised = renew.expected_said("every-word-customised")["alarms"]
    out_of_service = renew.expected_said("all-out-of-service")["out_of_service"]
    assert isinstance(customised, dict)
    assert isinstance(out_of_service, list)
    assert set(customised) == set(out_of_service) == set(ALARMS.split())
    assert len(UNFINISHED) >= 3


@pytest.mark.parametrize("name", RECORDS)
def test_an_old_record_replays_to_exactly_the_kept_events(name: str) -> None:
    assert renew.events_of(name) == renew.expected_events(name)


@pytest.mark.parametrize("name", RECORDS)
def test_an_old_record_is_read_exported_reported_and_taken_up_as_ever(name: str) -> None:
    """Figure by figure and sentence by sentence; `renew.py` shows differences line by line."""
    said, kept = renew.said_of(name), renew.expected_said(name)
    assert said.keys() == kept.keys()
    for about, expected in kept.items():
        assert said[about] == expected, f"{name}: {about}"


@pytest.mark.parametrize("name", ["unfinished-in-soak", "unfinished-out-of-band"])
def test_a_heat_taken_up_goes_on_as_it_did_under_the_first_version(name: str, tmp_path: Path) -> None:
    """The rest of the heat, as the next watches recorded it, gives the events that its whole record gives."""
    taken = renew.taken_up(name, tmp_path)
    left_s = taken.monitor.time_s or 0.0
    with RecordReader(renew.record_file("several-watches")) as reader:
        rest = [line for line in reader if not isinstance(line, Header) and line.time_s > left_s]
    made = [*taken.untold, *Replay(taken.monitor).events(rest)]
    kept = [line for line in renew.expected_events("several-watches") if json.loads(line)["time_s"] > left_s]
    assert kept, "something is told after the watch was killed"
    assert [encode_line(event).decode().rstrip("\n") for event in made] == kept


def test_a_report_of_an_old_record_can_be_drawn(tmp_path: Path) -> None:
    """Alarms, notes, marks, a late reading and a gap on one page."""
    page = tmp_path / "heat.html"
    edit([read_course(renew.record_file("every-word"))], Scale(True), None).save(page)
    assert "<svg" in page.read_text(encoding="utf-8")
