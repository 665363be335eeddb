"""Commands from another terminal: through the socket into a running watch's record, or one line that says why not."""

import contextlib
import json
import os
import pwd
import re
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.running_watch import RAMPWARDEN, RunningWatch, environment, running_watch, told, wait_for

from rampwarden.control.messages import FORMAT, LONGEST_ANSWER, MARKS

ME = f"socket:{pwd.getpwuid(os.getuid()).pw_name}"


@pytest.fixture(scope="module")
def watch() -> Iterator[RunningWatch]:
    """A watch that has had its first reading; the tests below only add to its record."""
    with running_watch() as running:
        wait_for(lambda: running.recorded("reading"), "no reading came")
        running.manager.hear_until(WATCHDOG="1")
        yield running


def commands(watch: RunningWatch, name: str) -> list[dict[str, object]]:
    return [line for line in watch.recorded("command") if line["command"] == name]


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["acknowledge"], {"command": "acknowledge"}),
        (["acknowledge", "ramp-high"], {"command": "acknowledge", "alarm": "ramp-high"}),
        (["shelve", "ramp-low", "20"], {"command": "shelve", "alarm": "ramp-low", "minutes": 20.0}),
        (["unshelve", "ramp-low"], {"command": "unshelve", "alarm": "ramp-low"}),
        (["wrong"], {"command": "wrong"}),
        (["wrong", "ramp-low"], {"command": "wrong", "alarm": "ramp-low"}),
        (["wrong", "--undo"], {"command": "undo-wrong"}),
        (["note", "gas", "at", "0.04", "bar"], {"command": "note", "text": "gas at 0.04 bar"}),
        (["mark", "bottle-changed"], {"command": "mark", "text": "bottle-changed"}),
        (["mark", "tapped the lid"], {"command": "mark", "text": "tapped the lid"}),
    ],
    ids=" ".join,
)
def test_each_command_is_taken_and_stands_in_the_record_with_whoever_gave_it(
    watch: RunningWatch, arguments: list[str], expected: dict[str, object]
) -> None:
    """An input of the core: dated, recorded, and so replayed."""
    done = told(watch.runtime, *arguments)
    assert (done.returncode, done.stderr) == (0, "")
    assert re.match(r"(Noted|Marked '.+'|Passed on) at \d\d:\d\d", done.stdout)

    def is_recorded() -> bool:
        return any(
            line["by"] == ME and expected.items() <= line.items() for line in commands(watch, str(expected["command"]))
        )

    wait_for(is_recorded, f"{expected} is not in the record")


def test_a_word_that_is_no_usual_mark_is_taken_and_remarked_upon(watch: RunningWatch) -> None:
    """Whoever mistypes 'transfer' should see it."""
    assert told(watch.runtime, "mark", "transfr").stdout.endswith(f"the usual marks, which are {', '.join(MARKS)}\n")


def test_the_status_says_how_hot_where_what_alarms_and_which_watch(watch: RunningWatch) -> None:
    """On a few lines, the alarm most urgent first."""
    assert told(watch.runtime, "shelve", "soak-deviation", "5").stderr == ""

    def shown() -> list[str]:
        return told(watch.runtime, "status").stdout.splitlines()

    wait_for(lambda: any("soak-deviation" in line for line in shown()), "the status does not show it")
    lines = shown()
    assert re.fullmatch(
        rf"furnace-1 · A short heat · watching for \d:\d\d:\d\d · process {watch.process.pid}", lines[0]
    )
    assert lines[1].startswith("25 °C")
    assert "warming (1 of 2)" in lines[1]
    assert any(re.match(r"SHELVED .*soak-deviation since ", line) for line in lines), lines
    assert lines[-1] == f"record {watch.record} · port {watch.board.path}"


def test_the_status_for_programs_is_one_json_object(watch: RunningWatch) -> None:
    """With the units in its names."""
    status = json.loads(told(watch.runtime, "status", "--json").stdout)
    assert status["format"] == FORMAT
    assert status["about"]["process"] == watch.process.pid
    assert abs(status["status"]["temp_c"] - 25.0) < 0.5
    assert status["status"]["segment"] == "warming"


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["acknowledge", "ramp-hihg"], "furnace-1: acknowledge: no alarm 'ramp-hihg'; there are ramp-high"),
        (["shelve", "ramp-low", "0"], "Invalid value for 'minutes'"),
        (["shelve", "ramp-low", "nan"], "Invalid value for 'minutes'"),
        (["shelve", "ramp-low"], "Missing argument 'minutes'"),
        (["note", " "], "furnace-1: a note needs its text"),
        (["note", "x" * 501], "furnace-1: note: a text of 501 letters; at most 500"),
        (["skip-segment"], "Missing option '--why'"),
        (["skip-segment", "--why", ""], "furnace-1: skipping a segment needs its reason"),
        (["status", "--watch", "oven"], "no watch 'oven'; running: furnace-1"),
    ],
    ids=lambda value: " ".join(value)[:30] if isinstance(value, list) else "",
)
def test_a_command_that_cannot_be_is_one_line_and_exit_status_2(
    watch: RunningWatch, arguments: list[str], why: str
) -> None:
    """And does not reach the record."""
    refused = told(watch.runtime, *arguments)
    assert refused.returncode == 2
    assert refused.stdout == ""
    assert why in refused.stderr
    assert refused.stderr.count("\n") == 1


def test_skipping_a_segment_and_ending_the_heat_move_the_heat_and_carry_their_reason() -> None:
    """The record says why; the status says so afterwards."""
    with running_watch() as watch:
        wait_for(lambda: watch.recorded("reading"), "no reading came")
        watch.manager.hear_until(WATCHDOG="1")
        assert told(watch.runtime, "skip-segment", "--why", "dried yesterday").returncode == 0
        wait_for(lambda: watch.says("holding"), "the segment was not skipped")
        assert told(watch.runtime, "end-heat", "--why", "the pot is cracked").returncode == 0
        wait_for(lambda: watch.says("the pot is cracked"), "the heat was not ended")
        texts = [line["text"] for line in watch.recorded("command")]
        assert texts == ["dried yesterday", "the pot is cracked"]


def test_without_a_watch_every_command_says_so_in_one_line() -> None:
    """Also where a dead watch has left its socket."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        dead = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        dead.bind(f"{folder}/dead.sock")
        dead.close()
        for arguments in (["status"], ["acknowledge"], ["note", "x"], ["end-heat"]):
            assert is_refused(Path(folder), arguments) == (
                "no watch is running; start one with: rampwarden watch SCHEDULE --port PORT"
            )
        assert is_refused(Path(folder), ["status", "--watch", "dead"]) == "no watch 'dead' is running any more"


def is_refused(runtime: Path, arguments: list[str]) -> str:
    """Give the one line on standard error of a command that ends with exit status 2."""
    refused = told(runtime, *arguments)
    assert (refused.returncode, refused.stdout) == (2, "")
    return refused.stderr.removeprefix("rampwarden: ").removesuffix("\n")


def test_with_two_watches_one_must_be_chosen_and_a_third_of_the_same_name_is_refused() -> None:
    """Whoever acknowledges the wrong furnace has acknowledged nothing."""
    with (
        tempfile.TemporaryDirectory(prefix="rw") as name,
        running_watch("east", folder=Path(name)) as east,
        running_watch("west", folder=Path(name)) as west,
    ):
        for watch in (east, west):
            wait_for(lambda watch=watch: watch.recorded("reading"), "no reading came")  # type: ignore[misc]
        assert is_refused(east.runtime, ["acknowledge"]) == (
            "several watches are running; choose with --watch: east, west"
        )
        assert told(east.runtime, "note", "for the west", "--watch", "west").returncode == 0
        wait_for(lambda: commands(west, "note"), "the note did not reach the west")
        assert not commands(east, "note")
        # The first keeps its board open, so a port of its own for the third.
        (east.folder / "third").symlink_to("/nowhere")
        third = ["watch", str(east.folder / "schedule.toml"), "--port", str(east.folder / "third")]
        third += ["--config", str(east.settings), "--record", str(east.folder / "third.jsonl")]
        told_why = is_refused(east.runtime, third)
        assert f"control.name 'east' is taken by the watch that is process {east.process.pid};" in told_why
        assert not (east.folder / "third.jsonl").exists()


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        (b"", "the watch gave no whole answer; is it of another version?"),
        (b"not json\n", "no JSON object"),
        (b'{"format":"rampwarden-control/9","taken":true}\n', "'rampwarden-control/9', but this command speaks"),
        (b'{"format":"rampwarden-control/1","taken":true}\n', "the watch gave no status; is it of another version?"),
        (b'{"format":"rampwarden-control/1","taken":false,"text":"a\\u001b[2Jb"}\n', "x: a�[2Jb"),
        (b'{"format":"rampwarden-control/1","taken":"perhaps"}\n', "not an answer"),
        (b"x" * (LONGEST_ANSWER + 100_000), "the watch gave no whole answer; is it of another version?"),
    ],
    ids=["nothing", "no JSON", "newer", "no status", "control characters", "wrong type", "endless"],
)
def test_what_listens_may_be_no_watch_at_all(answer: bytes, why: str) -> None:
    """One line, and nothing that steers the terminal."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder, socket.socket(socket.AF_UNIX) as listener:
        listener.bind(f"{folder}/x.sock")
        listener.listen()
        asking = subprocess.Popen(
            [*RAMPWARDEN, "status"], env=environment(Path(folder)), stderr=subprocess.PIPE, stdout=subprocess.PIPE
        )
        # First whoever looks which watches live, then the request itself.
        listener.accept()[0].close()
        peer, _ = listener.accept()
        with peer:
            peer.recv(65_536)
            with contextlib.suppress(BrokenPipeError, ConnectionResetError):  # it has heard enough
                peer.sendall(answer)
        shown, error = asking.communicate(timeout=20.0)
        assert (asking.returncode, shown) == (2, b"")
        assert why in error.decode()
        assert b"\x1b" not in error
