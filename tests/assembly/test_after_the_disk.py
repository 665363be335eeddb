"""What a watch says of a disk that hung: of its own at the end, and of the one before at the start."""

from collections.abc import Iterator, MutableMapping
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest
import structlog

from rampwarden.assembly import running
from rampwarden.assembly.heat_start import WatchedHeat
from rampwarden.clock import present_moment
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records.record_lines import FORMAT, Header
from rampwarden.settings import Settings

TABLE: dict[str, object] = {"title": "T", "segment": [{"name": "up", "kind": "ramp", "to": "1000 C"}]}


@dataclass
class PaperWriter:
    """A record's writer as far as it is asked here."""

    answers: bool = True
    left: str = ""
    lost_lines: int = 0
    trouble: str = ""
    path: Path = Path("heats/heat.jsonl")

    def is_answering(self, within_s: float) -> bool:
        return self.answers

    def keep_note(self, folder: Path, record_id: str, recorded_s: float) -> str:
        assert (record_id, recorded_s) == ("0123", 720.0)
        return self.left


@pytest.fixture
def said() -> Iterator[list[MutableMapping[str, object]]]:
    """Give what is logged."""
    with structlog.testing.capture_logs() as lines:
        yield lines


def heat(writer: PaperWriter, *, boot: str = "", taken_up: str = "taken up again") -> WatchedHeat:
    """Give a heat of twelve minutes so far."""
    monitor = Monitor(parse_schedule(TABLE, "test"))
    monitor.feed(Reading(720.0, temp_c=20.0))
    header = Header(FORMAT, "2026-01-01T09:00:00Z", id="0123", crucible="A-7", boot=boot or present_moment().boot)
    return cast(
        WatchedHeat,
        SimpleNamespace(writer=writer, header=header, monitor=monitor, taken_up=taken_up, trouble_stands=False),
    )


def test_a_heat_whose_disk_hangs_at_the_end_is_not_entered_and_says_how(
    said: list[MutableMapping[str, object]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Or the end of the watch would hang as well, after it had been asked to go."""
    monkeypatch.setattr(running, "enter_heat", lambda *_: pytest.fail("it was read"))
    running._say_what_is_left(Settings(), heat(PaperWriter(answers=False, lost_lines=3, trouble="no answer")))
    sentences = [str(line["event"]) for line in said]
    assert sentences[0] == "no answer; 3 lines of the record are lost"
    assert sentences[-1] == (
        "not entered: its disk does not answer; when that is mended: rampwarden crucible enter heats/heat.jsonl"
    )


def test_a_heat_whose_disk_answers_is_entered(
    said: list[MutableMapping[str, object]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As ever."""
    monkeypatch.setattr(running, "enter_heat", lambda *_: ("entered", True))
    running._say_what_is_left(Settings(), heat(PaperWriter()))
    assert said[-1]["event"] == "entered"


@pytest.mark.parametrize(
    ("left", "boot", "taken_up", "words"),
    [
        ("3 lines are lost", "", "taken up again", "3 lines are lost"),
        ("", "", "taken up again", ""),
        ("", "another start", "", ""),
        (
            "",
            "another start",
            "taken up again",
            "what was seen after 12 min of the heat, before the power went, is not on the disk",
        ),
    ],
)
def test_what_the_run_before_lost_is_said_as_far_as_anybody_knows(
    left: str, boot: str, taken_up: str, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a kill by its note; after a power cut since when; of a fresh heat nothing."""
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    assert running._lost_before(heat(PaperWriter(left=left), boot=boot, taken_up=taken_up)) == words
