"""The check before lighting up: one line each, a verdict that is true, and exit status 1 where something will fail."""

import os
import pty
import re
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
import serial
from tests.outputs.mqtt.broker import MOSQUITTO, Broker, Consumer, free_port, wait_until
from tests.running_watch import PATIENCE_S, RAMPWARDEN, environment, running_watch, wait_for
from tests.sources.pty_board import PtyBoard, frame_line

from rampwarden.checks.host import judge_clock, judge_room
from rampwarden.cli import _run
from rampwarden.clock import clock_state
from rampwarden.control import running
from rampwarden.core.instrument.thermocouple import thermocouple

SCHEDULE = """
title = "A short heat"
basis = "invented for a test"

[[segment]]
name = "warming"
kind = "ramp"
to = "200 C"
max_rate = "100 C / h"

[[segment]]
name = "holding"
kind = "soak"
at = "200 C"
hold = "1 h"
"""
VERDICTS = ("fine", "look again", "will not work")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a schedule, where no settings of this computer count, and no watches that may run on it."""
    for name in [name for name in os.environ if name.startswith("RAMPWARDEN_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "run"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "heat.toml").write_text(SCHEDULE, encoding="utf-8")
    return tmp_path


@contextmanager
def sending(path: Path, line: Callable[[int, int], bytes] = frame_line) -> Iterator[PtyBoard]:
    """A board that sends a line each tenth of a second."""
    board, stop, began_s = PtyBoard(path), threading.Event(), time.monotonic()

    def send() -> None:
        seq = 0
        while not stop.wait(0.1):
            try:
                board.send(line(seq, int(1000 * (time.monotonic() - began_s))), patience_s=1.0)
            except TimeoutError:
                continue  # nobody has it open
            seq += 1

    sender = threading.Thread(target=send)
    sender.start()
    try:
        yield board
    finally:
        stop.set()
        sender.join()
        board.unplug()


class Checked:
    """What a check said, by part, and its exit status."""

    def __init__(self, capsys: pytest.CaptureFixture[str], *arguments: str) -> None:
        self.status = _run(["check", *arguments])
        said = capsys.readouterr()
        assert said.err == ""
        self.lines = said.out.splitlines()
        self.verdicts: dict[str, str] = {}
        self.words: dict[str, str] = {}
        for line in self.lines:
            match = re.fullmatch(rf"({'|'.join(VERDICTS)}) +(\w+) +(.+)", line)
            assert match is not None, line
            self.verdicts[match[2]], self.words[match[2]] = match[1], match[3]


def emf_nv(temp_c: float, junction_c: float = 25.0) -> int:
    """Give what a type K thermocouple at `temp_c` sends, nV."""
    couple = thermocouple("K")
    return round(1000 * (couple.emf_uv(temp_c) - couple.emf_uv(junction_c)))


# Everything in order


def test_with_everything_in_order_each_part_has_its_line_and_none_will_not_work(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In the order of a heat. The bell has no terminal here, and the clock is this computer's."""
    with sending(folder / "board"):
        checked = Checked(capsys, "heat.toml", "--port", str(folder / "board"))
    assert checked.status == 0
    assert list(checked.verdicts) == ["settings", "schedule", "port", "probe", "bell", "disk", "clock"]
    assert checked.verdicts["port"] == checked.verdicts["probe"] == checked.verdicts["disk"] == "fine"
    assert checked.words["schedule"] == "A short heat: 2 segments, about 3 h 9 min"
    assert re.fullmatch(rf"5 readings in \d+\.\d s from {folder}/board", checked.words["port"])
    assert checked.words["probe"].startswith("25 °C, the board 25 °C")
    assert "a heat of 3 h 9 min may need" in checked.words["disk"]
    assert checked.words["bell"] == "no bell: this is not running on a screen. Set bell.device"


# Settings and schedule


def test_settings_that_cannot_be_read_are_the_only_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing else can be asked without them."""
    (folder / "s.toml").write_text("[board]\nprot = 'x'\nbuad = 1\n", encoding="utf-8")
    checked = Checked(capsys, "--config", "s.toml")
    assert (checked.status, list(checked.verdicts.values())) == (1, ["will not work"])
    assert checked.words["settings"].startswith("s.toml: unknown key board.prot; did you mean port? (and 1 more")


@pytest.mark.parametrize(
    ("text", "verdict", "words"),
    [
        ("title = 3", "will not work", "heat.toml"),
        (SCHEDULE.replace("to = ", "too = "), "will not work", "did you mean"),
        (SCHEDULE.replace("200 C", "1400 C"), "will not work", "A short heat: 1400 °C, but type K ends at 1372 °C"),
        (
            SCHEDULE.replace('at = "200 C"', 'at = "200 C"\nceiling = "1380 C"'),
            "will not work",
            "1380 °C, but type K ends at 1372 °C",
        ),
        (SCHEDULE.replace('max_rate = "100 C / h"', ""), "fine", "2 segments, no limit says how long it takes"),
    ],
    ids=["no schedule", "unknown key", "too hot", "ceiling too high", "no limit"],
)
def test_a_schedule_is_judged_by_what_can_be_watched(
    folder: Path, capsys: pytest.CaptureFixture[str], text: str, verdict: str, words: str
) -> None:
    """A temperature that the thermocouple cannot tell can never be reached."""
    (folder / "heat.toml").write_text(text, encoding="utf-8")
    checked = Checked(capsys, "heat.toml")
    assert checked.verdicts["schedule"] == verdict
    assert words in checked.words["schedule"]
    assert checked.status == 1  # without a port in any case


def test_without_a_schedule_the_rest_is_checked_all_the_same(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A board can be tried before anything is planned."""
    checked = Checked(capsys)
    assert checked.verdicts["schedule"] == "look again"
    assert "rampwarden check SCHEDULE" in checked.words["schedule"]
    assert checked.verdicts["port"] == "will not work"
    assert "a day and a night may need 20.7 MB" in checked.words["disk"]


# Port and probe


def test_a_port_that_is_not_there_is_said_at_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A watch would wait for it; whoever checks wants to know, and is not told how long nothing came."""
    checked = Checked(capsys, "heat.toml", "--port", str(folder / "absent"))
    assert (checked.status, checked.verdicts["port"]) == (1, "will not work")
    assert checked.words["port"].startswith(f"absent: no port {folder}/absent")
    assert "probe" not in checked.verdicts


def test_a_board_that_sends_nothing_or_rubbish_is_named(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With what it looks like."""
    monkeypatch.setattr("rampwarden.cli.before.check_boards.LEAST_WAIT_S", 1.0)
    (folder / "s.toml").write_text("[board]\ninterval = '0.1 s'\n", encoding="utf-8")
    with sending(folder / "board", lambda _seq, _ms: b""):
        checked = Checked(capsys, "--config", "s.toml", "--port", str(folder / "board"))
    assert re.match(r"no reading within 1\.\d s: nothing comes", checked.words["port"])
    with sending(folder / "board", lambda _seq, _ms: b"temperature: 25 degrees\r\n"):
        checked = Checked(capsys, "--config", "s.toml", "--port", str(folder / "board"))
    assert checked.verdicts["port"] == "will not work"
    assert "check the board's format" in checked.words["port"]
    assert checked.status == 1


def test_a_port_that_a_running_watch_holds_is_left_alone(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever checks in mid-heat must not take a single reading from the watch, and is told that it is ours."""
    with running_watch() as watch:
        monkeypatch.setenv("RUNTIME_DIRECTORY", str(watch.runtime))
        wait_for(lambda: any(each.status.temp_c is not None for each in running(os.environ)), "no temperature shown")
        checked = Checked(capsys, "--port", str(watch.board.path))
        assert checked.verdicts["port"] == "look again"
        assert re.fullmatch(
            r"our own watch \S+ reads it \(-?\d+ °C, process \d+\), so it is left alone; "
            "to begin another heat on it, end that watch first",
            checked.words["port"],
        )
        assert "probe" not in checked.verdicts
        assert checked.status == 0
        before = len(watch.recorded("reading"))
        wait_for(lambda: len(watch.recorded("reading")) > before, "no reading came any more")
        assert not [line for line in watch.recorded("notice") if line["notice"] != "port-opened"]


def test_a_port_that_another_program_holds_will_not_work(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No watch of ours reads it, though one runs beside it: what holds it is named."""
    board = folder / "board"
    with running_watch() as watch, sending(board), serial.Serial(str(board), exclusive=True):
        monkeypatch.setenv("RUNTIME_DIRECTORY", str(watch.runtime))
        wait_for(lambda: running(os.environ), "the watch does not answer")
        checked = Checked(capsys, "--port", str(board))
    assert checked.verdicts["port"] == "will not work"
    assert checked.words["port"].startswith(f"busy: {board} is held by ")


@pytest.mark.parametrize(
    ("line", "verdict", "words"),
    [
        (lambda seq, ms: frame_line(seq, ms, emf_nv(35.0)), "fine", "35 °C, the board 25 °C"),
        (
            lambda seq, ms: frame_line(seq, ms, emf_nv(120.0)),
            "look again",
            "120 °C, the board 25 °C: not a cold furnace",
        ),
        (
            lambda seq, ms: frame_line(seq, ms, emf_nv(195.0)),
            "look again",
            "not a cold furnace; the heat would begin at 'holding'",
        ),
        (lambda seq, ms: frame_line(seq, ms, emf_nv(-20.0)), "look again", "colder than the board; if that cannot be"),
        (lambda seq, ms: frame_line(seq, ms, emf_nv(25.0 + 12 * (seq % 2))), "look again", "scatters by 12 °C"),
        (lambda seq, ms: frame_line(seq, ms, flags=1), "will not work", "the thermocouple is open: check plug"),
        (lambda seq, ms: frame_line(seq, ms, flags=2), "will not work", "touches ground"),
        (lambda seq, ms: frame_line(seq, ms, emf_nv=60_000_000), "will not work", "check type, polarity and wiring"),
    ],
    ids=["cool", "warm", "hot", "colder", "scatters", "open", "short", "out of range"],
)
def test_readings_are_held_against_a_cold_furnace(
    folder: Path, capsys: pytest.CaptureFixture[str], line: Callable[[int, int], bytes], verdict: str, words: str
) -> None:
    """What can be seen before the flame is lit, is."""
    with sending(folder / "board", line):
        checked = Checked(capsys, "heat.toml", "--port", str(folder / "board"))
    assert (checked.verdicts["probe"], words in checked.words["probe"]) == (verdict, True), checked.words["probe"]
    assert checked.status == (1 if verdict == "will not work" else 0)


def test_a_board_that_stands_too_warm_is_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its error is the reading's error."""
    with sending(folder / "board", lambda seq, ms: frame_line(seq, ms, 0, junction_mc=61_000)):
        checked = Checked(capsys, "heat.toml", "--port", str(folder / "board"))
    assert checked.verdicts["board"] == "look again"
    assert checked.words["board"].startswith("it stands at 61 °C, usual is -10 to 50 °C")


# Bell


def test_the_bell_rings_three_strokes_where_it_will_ring(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a person at a terminal nobody is asked, and it is said that nobody was."""
    master, slave = pty.openpty()
    (folder / "s.toml").write_text(f'[bell]\ndevice = "{os.ttyname(slave)}"\n', encoding="utf-8")
    checked = Checked(capsys, "--config", "s.toml")
    heard = b""
    while len(heard) < 3:  # a terminal hands on in its own time
        heard += os.read(master, 100)
    assert heard == b"\a\a\a"
    os.close(master)
    os.close(slave)
    assert checked.verdicts["bell"] == "look again"
    assert "nobody was asked" in checked.words["bell"]


def test_a_bell_that_is_off_or_cannot_ring_is_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Off is a choice; a device that is no terminal is a mistake."""
    (folder / "s.toml").write_text("[bell]\nenabled = false\n", encoding="utf-8")
    assert Checked(capsys, "--config", "s.toml").words["bell"] == "no bell: bell.enabled is false"
    (folder / "s.toml").write_text("[bell]\ndevice = '/dev/null'\n", encoding="utf-8")
    checked = Checked(capsys, "--config", "s.toml")
    assert (checked.verdicts["bell"], "no terminal" in checked.words["bell"]) == ("will not work", True)


@pytest.mark.parametrize(("answer", "verdict"), [("y", "fine"), ("n", "will not work")])
def test_a_person_at_the_terminal_is_asked_whether_the_bell_was_heard(folder: Path, answer: str, verdict: str) -> None:
    """Only an ear can tell."""
    shown = at_a_terminal(folder, "check", answer=answer)
    assert "Were they heard at the furnace?" in shown
    assert re.search(rf"^{verdict} +bell ", shown, re.MULTILINE)


def test_no_questions_asks_none(folder: Path) -> None:
    """For a script that has a terminal all the same."""
    shown = at_a_terminal(folder, "check", "--no-questions")
    assert "Were they heard" not in shown
    assert shown.count("\a") == 3
    assert re.search(
        r"^look again +bell +has rung three strokes; nobody was asked", shown.replace("\a", ""), re.MULTILINE
    )


def at_a_terminal(folder: Path, *arguments: str, answer: str = "") -> str:
    """Run a command at a terminal, answer its question, and give all it showed."""
    master, slave = pty.openpty()
    process = subprocess.Popen(
        [*RAMPWARDEN, *arguments], cwd=folder, env=environment(folder), stdin=slave, stdout=slave, stderr=slave
    )
    os.close(slave)
    shown = b""
    with suppress(OSError):  # how a terminal tells that nobody is left at its other end
        while data := os.read(master, 4096):
            shown += data
            if answer and b"[y/N]: " in shown:
                os.write(master, f"{answer}\n".encode())
                answer = ""
    process.wait(PATIENCE_S)
    os.close(master)
    return shown.decode().replace("\r\n", "\n")


# Broker


needs_broker = pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this computer: see .ci/need-packages")


@contextmanager
def a_broker(folder: Path, settings: str = "", **fill: str) -> Iterator[Broker]:
    """A broker that is gone afterwards."""
    place = folder / "broker"
    place.mkdir()
    broker = Broker(place, settings, fill=fill)
    broker.start()
    try:
        yield broker
    finally:
        broker.thaw()
        broker.kill()


def checked_broker(capsys: pytest.CaptureFixture[str], folder: Path, port: int) -> tuple[str, str]:
    """Give verdict and words for the broker at a port."""
    (folder / "s.toml").write_text(f'[mqtt]\nbroker = ["127.0.0.1:{port}"]\n', encoding="utf-8")
    checked = Checked(capsys, "--config", "s.toml")
    return checked.verdicts["broker"], checked.words["broker"]


@needs_broker
def test_an_alarms_way_is_tried_there_and_back_and_whether_anybody_listens(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A message on the alarms' own topic, which says of itself that it is a check and is not kept."""
    with a_broker(folder) as broker:
        verdict, words = checked_broker(capsys, folder, broker.port)
        assert (verdict, "but nobody else listens for alarms" in words) == ("look again", True)
        consumer = Consumer(broker.port, "homie/5/furnace-1/#")
        verdict, words = checked_broker(capsys, folder, broker.port)
        assert verdict == "fine"
        assert re.fullmatch(rf"127.0.0.1:{broker.port}: a message came back in \d+ ms, and somebody listens", words)
        wait_until(lambda: consumer.heard, "the message at the consumer")
        consumer.close()
    assert {heard.topic for heard in consumer.heard} == {"homie/5/furnace-1/alarm/event"}
    assert all("check before lighting up" in heard.text and not heard.retained for heard in consumer.heard)
    assert not any('"alarm"' in heard.text for heard in consumer.heard)


@needs_broker
def test_a_broker_that_does_not_let_our_alarms_pass_will_not_work(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It lets us in, and refuses what matters."""
    with a_broker(folder, "acl_file {acl}\n", acl="topic read #\n") as broker:
        verdict, words = checked_broker(capsys, folder, broker.port)
    assert verdict == "will not work"
    assert "refuses our alarms" in words


@needs_broker
def test_a_broker_that_is_frozen_is_not_waited_for_for_ever(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It accepts the connection and says nothing."""
    monkeypatch.setattr("rampwarden.checks.broker._CONNECT_S", 1.0)
    with a_broker(folder) as broker:
        broker.freeze()
        verdict, words = checked_broker(capsys, folder, broker.port)
    assert (verdict, words) == ("will not work", f"127.0.0.1:{broker.port}: does not answer")


def test_no_broker_at_the_address_will_not_work(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With the system's own reason."""
    verdict, words = checked_broker(capsys, folder, free_port())
    assert verdict == "will not work"
    assert "refused" in words


# Disk and clock


def test_a_disk_without_room_will_not_work_and_one_with_little_is_to_be_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten hours at four readings a second, twice over, are 34.6 MB."""
    for free, verdict in ((34_000_000, "will not work"), (35_000_000, "look again"), (500_000_000, "fine")):
        monkeypatch.setattr("shutil.disk_usage", lambda _place, free=free: DiskUsage(free))
        finding = judge_room(tmp_path / "heats", 36_000.0, 0.25)
        assert finding.verdict == verdict
        assert finding.words.endswith("a heat of 10 h may need 34.6 MB")


class DiskUsage:
    def __init__(self, free: int) -> None:
        self.free = free


def test_a_folder_that_is_none_or_may_not_be_written_will_not_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is made to find that out."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert judge_room(tmp_path / "file", 1.0, 1.0).words == f"{tmp_path}/file: is a file, not a folder"
    monkeypatch.setattr("os.access", lambda _place, _mode: False)
    finding = judge_room(tmp_path / "deep" / "heats", 1.0, 1.0)
    assert (finding.verdict, finding.words) == ("will not work", f"{tmp_path}: you may not write there")
    assert not (tmp_path / "deep").exists()


@pytest.mark.parametrize(("state", "verdict"), [(0, "fine"), (1, "fine"), (5, "look again"), (None, "look again")])
def test_a_clock_that_is_not_kept_in_step_is_a_reason_to_look_and_none_to_wait(state: int | None, verdict: str) -> None:
    """Durations come from another clock; only dates would be wrong."""
    assert judge_clock(state).verdict == verdict


def test_the_kernel_is_asked_about_the_clock_and_answers() -> None:
    """Six states are known to adjtimex(2)."""
    assert clock_state() in range(6)


def test_where_the_kernel_cannot_be_asked_the_clock_is_unknown(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sandbox may forbid the question."""
    monkeypatch.setattr("ctypes.CDLL", lambda *_arguments, **_more: object())
    assert clock_state() is None


# The page


@pytest.mark.parametrize(
    ("section", "verdict", "words"),
    [
        ("", "fine", "127.0.0.1:8420: whoever sits here may look, and nobody may act"),
        ('address = "0.0.0.0:8420"', "will not work", "page.allow_plain_text = true if that is what you want"),
    ],
)
def test_a_page_is_judged_by_who_could_reach_it(
    folder: Path, capsys: pytest.CaptureFixture[str], section: str, verdict: str, words: str
) -> None:
    """Its settings alone: a running watch may have its place."""
    settings = folder / "page.toml"
    settings.write_text(f"[page]\nenabled = true\n{section}\n", encoding="utf-8")
    checked = Checked(capsys, "--config", str(settings))
    assert checked.verdicts["page"] == verdict
    assert words in checked.words["page"]


# Several probes

SEVERAL = """
[board]
port = "board"

[boards.second]
port = "second"
interval = "0.2 s"

[probes.chamber]
channel = 1
place = "chamber"

[probes.bottle]
board = "second"
channel = 2
place = "bottle"

[probes.room]
board = "second"
channel = 3
place = "room"
"""


def two_channels(seq: int, ms: int) -> bytes:
    """The pot at 25 °C; in the chamber a plug that is open."""
    return frame_line(seq, ms) + frame_line(seq, ms, flags=1, channel=1)


def test_each_board_and_each_probe_is_checked_by_its_name(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What one of them lacks is said of it alone."""
    monkeypatch.setattr("rampwarden.cli.before.check_boards.LEAST_WAIT_S", 2.0)
    (folder / "s.toml").write_text(SEVERAL, encoding="utf-8")
    with (
        sending(folder / "board", two_channels),
        sending(folder / "second", lambda seq, ms: frame_line(seq, ms, emf_nv(20.0), channel=2) * (seq % 2)),
    ):
        _run(["check", "--config", "s.toml", "--no-questions"])
    said = [line for line in capsys.readouterr().out.splitlines() if re.search(" (port|probe) ", line)]
    followed_board, followed, chamber, second, bottle, room = (re.sub(" +", " ", line) for line in said)
    assert re.match(r"fine port board board: 5 readings in", followed_board)
    assert followed.startswith("fine probe the followed probe: 25 °C")
    assert chamber.startswith("will not work probe chamber: the thermocouple is open")
    assert second.startswith("fine port board second: ")
    assert bottle.startswith("fine probe bottle: 20 °C")
    assert room.startswith("will not work probe room: no reading of channel 3 within ")


def test_a_board_that_does_not_come_costs_its_own_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing more is said of its probes than that."""
    (folder / "s.toml").write_text(SEVERAL, encoding="utf-8")
    with sending(folder / "board", two_channels):
        _run(["check", "--config", "s.toml", "--no-questions"])
    said = capsys.readouterr().out
    assert re.search(r"will not work +port +board second: .*absent", said)
    assert "bottle" not in said
