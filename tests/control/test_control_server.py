"""The control socket: what it answers, whom it refuses, and that no client can hold it up."""

import errno
import json
import os
import pwd
import socket
import stat
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from rampwarden.control import server as server_module
from rampwarden.control.client import running
from rampwarden.control.messages import FORMAT, LONGEST_REQUEST, STATUS, AboutWatch, Request, encode
from rampwarden.control.server import ControlServer
from rampwarden.core.model import Command, CommandName, HeatStatus
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.errors import ControlError, SettingsError

ME = pwd.getpwuid(os.getuid()).pw_name
PATIENCE_S = 10.0


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder with a short name: a socket's path has room for 100 bytes."""
    with tempfile.TemporaryDirectory(prefix="rw") as name:
        yield Path(name)


class Served:
    """A control socket in service, and the commands that came through it."""

    def __init__(self, folder: Path) -> None:
        self.heard: list[Command] = []
        self.came = threading.Semaphore(0)
        self.server = ControlServer(folder, about())
        self.server.show(a_status())
        self.server.serve(self.hear)

    def hear(self, command: Command) -> None:
        self.heard.append(command)
        self.came.release()

    def connect(self) -> socket.socket:
        line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        line.connect(str(self.server.path))  # without a timeout, which would fail where it had to wait for a place
        line.settimeout(PATIENCE_S)
        return line

    def ask(self, line: bytes) -> dict[str, object]:
        """Send raw bytes and give the answer as whoever reads JSON would see it."""
        with self.connect() as peer:
            peer.sendall(line)
            return answer(peer)

    def request(self, request: str, **more: object) -> dict[str, object]:
        return self.ask(json.dumps({"format": FORMAT, "request": request, **more}).encode() + b"\n")


@pytest.fixture
def served(folder: Path) -> Iterator[Served]:
    """A socket in service."""
    running = Served(folder)
    yield running
    running.server.close()


def about(watch: str = "furnace-1") -> AboutWatch:
    return AboutWatch(watch, os.getpid(), "/dev/ttyUSB0", "A first heat", "heats/a.jsonl", "rampwarden 0")


def a_status() -> HeatStatus:
    """Give the status of a watch that has only just begun."""
    monitor = Monitor(Schedule("A first heat", (Segment("drying", SegmentKind.RAMP, to_c=200.0),)))
    return monitor.status()


def answer(peer: socket.socket) -> dict[str, object]:
    """Read one answer; fails when the socket is closed without one."""
    received = b""
    while not received.endswith(b"\n"):
        data = peer.recv(65_536)
        assert data, f"closed after {received!r}"
        received += data
    decoded = json.loads(received)
    assert isinstance(decoded, dict)
    assert decoded["format"] == FORMAT
    return decoded


def is_closed(peer: socket.socket) -> bool:
    """Wait until the other end is closed."""
    try:
        while peer.recv(65_536):
            pass
    except ConnectionResetError:
        pass
    return True


# What it answers


def test_a_status_says_which_watch_this_is_where_the_heat_stands_and_how_old_that_is(served: Served) -> None:
    """Everything a display needs, in one answer."""
    snapshot = served.request(STATUS)["snapshot"]
    assert isinstance(snapshot, dict)
    assert snapshot["about"]["watch"] == "furnace-1"
    assert snapshot["about"]["process"] == os.getpid()
    assert snapshot["status"]["phase"] == "waiting for the first temperature"
    assert 0 <= snapshot["age_s"] < PATIENCE_S


def test_every_watch_that_answers_is_found_and_one_that_died_or_has_nothing_to_tell_is_left_out(folder: Path) -> None:
    """Each with how it stands; nothing is raised for those that do not answer."""
    environment = {"RUNTIME_DIRECTORY": str(folder)}
    assert running(environment) == []
    servers = [ControlServer(folder, about(name)) for name in ("furnace-1", "furnace-2", "silent")]
    dead = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    dead.bind(str(folder / "dead.sock"))
    dead.close()
    try:
        for server in servers:
            server.serve(lambda _command: None)
        for server in servers[:2]:
            server.show(a_status())
        assert sorted(each.about.watch for each in running(environment)) == ["furnace-1", "furnace-2"]
    finally:
        for server in servers:
            server.close()


def test_before_the_watch_has_shown_itself_there_is_no_status(folder: Path) -> None:
    """No status is invented."""
    server = ControlServer(folder, about())
    server.serve(lambda _command: None)
    line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    with line:
        line.connect(str(server.path))
        line.sendall(encode(Request(FORMAT, STATUS)))
        refused = answer(line)
    server.close()
    assert (refused["taken"], "only just begun" in str(refused["text"])) == (False, True)


@pytest.mark.parametrize(
    ("request_", "expected"),
    [
        ({"request": "acknowledge"}, Command(0.0, CommandName.ACKNOWLEDGE)),
        ({"request": "acknowledge", "alarm": "ramp-high"}, Command(0.0, CommandName.ACKNOWLEDGE, alarm="ramp-high")),
        (
            {"request": "shelve", "alarm": "ramp-low", "minutes": 20},
            Command(0.0, CommandName.SHELVE, alarm="ramp-low", minutes=20.0),
        ),
        ({"request": "unshelve", "alarm": "ramp-low"}, Command(0.0, CommandName.UNSHELVE, alarm="ramp-low")),
        ({"request": "wrong"}, Command(0.0, CommandName.WRONG)),
        ({"request": "wrong", "alarm": "ramp-low"}, Command(0.0, CommandName.WRONG, alarm="ramp-low")),
        ({"request": "wrong", "text": "the lid"}, Command(0.0, CommandName.WRONG, text="the lid")),
        ({"request": "undo-wrong", "alarm": "ramp-low"}, Command(0.0, CommandName.UNDO_WRONG, alarm="ramp-low")),
        ({"request": "note", "text": "gas at 0.04 bar"}, Command(0.0, CommandName.NOTE, text="gas at 0.04 bar")),
        ({"request": "mark", "text": "lid-open"}, Command(0.0, CommandName.MARK, text="lid-open")),
        ({"request": "skip-segment", "text": "dry"}, Command(0.0, CommandName.SKIP_SEGMENT, text="dry")),
        ({"request": "end-heat"}, Command(0.0, CommandName.END_HEAT)),
    ],
    ids=lambda value: value["request"] if isinstance(value, dict) else "",
)
def test_each_command_reaches_the_watch_with_the_name_the_kernel_gives_its_sender(
    served: Served, request_: dict[str, object], expected: Command
) -> None:
    """Whatever the client calls itself."""
    taken = served.request(**request_, by="somebody else")  # type: ignore[arg-type]
    assert taken["taken"] is True
    assert served.came.acquire(timeout=PATIENCE_S)
    assert served.heard == [
        Command(0.0, expected.command, expected.alarm, expected.minutes, expected.text, f"socket:{ME}")
    ]


def test_an_unusual_mark_is_taken_with_a_remark(served: Served) -> None:
    """Free words are welcome in a record, but a mistyped 'transfer' moves nothing and should be noticed."""
    usual, unusual = served.request("mark", text="transfer"), served.request("mark", text="transfr")
    assert (usual["taken"], unusual["taken"]) == (True, True)
    assert "not one of the usual marks" in str(unusual["text"])
    assert "not one of the usual marks" not in str(usual["text"])
    assert str(usual["text"]).endswith("Where it does not fit, the watch asks: see rampwarden status")
    assert str(served.request("mark", text="lid-open")["text"]).endswith(".")


def test_of_a_watch_that_does_not_move_nothing_is_promised(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """The socket's own thread goes on answering when the watch is stuck; it must not make it look well."""
    now_s = time.monotonic()
    monkeypatch.setattr("rampwarden.control.server.time.monotonic", lambda: now_s - 40.0)
    served.server.show(a_status())
    monkeypatch.undo()
    assert "has not moved for 40 s" in str(served.request("note", text="x")["text"])
    snapshot = served.request(STATUS)["snapshot"]
    assert isinstance(snapshot, dict)
    assert snapshot["age_s"] >= 40.0


# What it refuses


@pytest.mark.parametrize(
    ("request_", "why"),
    [
        ({"request": "open-valve"}, "no request 'open-valve'; known: status, acknowledge"),
        ({"request": "acknowledge", "alarm": "ramp-hihg"}, "no alarm 'ramp-hihg'; there are ramp-high"),
        ({"request": "shelve", "minutes": 5}, "shelve: which alarm?"),
        ({"request": "shelve", "alarm": "ramp-low", "minutes": 0.5}, "0.5 minutes; between 1 minute and 24 hours"),
        ({"request": "shelve", "alarm": "ramp-low", "minutes": 1441}, "between 1 minute and 24 hours"),
        ({"request": "shelve", "alarm": "ramp-low", "minutes": "x"}, "Expected `float`, got `str`"),
        ({"request": "unshelve"}, "unshelve: which alarm?"),
        ({"request": "wrong", "alarm": "ramp-hihg"}, "wrong: no alarm 'ramp-hihg'; there are ramp-high"),
        ({"request": "note"}, "a note needs its text"),
        ({"request": "note", "text": " \t\n "}, "a note needs its text"),
        ({"request": "note", "text": "x" * 501}, "a text of 501 letters; at most 500"),
        (
            {"request": "mark", "text": "pot weighs 3,520 kg"},
            "mark: pot-weighs 3,520 kg: 3,520 may mean 3.52 kg or 3520 kg; write one of these two",
        ),
        ({"request": "mark"}, "a mark needs its word, such as lid-open"),
        ({"request": "skip-segment"}, "skipping a segment needs its reason"),
    ],
)
def test_what_cannot_be_done_is_refused_with_the_reason_and_never_reaches_the_watch(
    served: Served, request_: dict[str, object], why: str
) -> None:
    """One line that says what would be right."""
    refused = served.request(**request_)  # type: ignore[arg-type]
    assert refused["taken"] is False
    assert why in str(refused["text"])
    assert not served.heard


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b'{"request":"status"}\n', "format none, but the watch speaks 'rampwarden-control/1'"),
        (b'{"format":"rampwarden-control/0","request":"status"}\n', "format 'rampwarden-control/0', but the watch"),
        (b'{"format":"rampwarden-control/2","ask":["status"]}\n', "format 'rampwarden-control/2', but the watch"),
        (b'{"format":7,"request":"status"}\n', "format none"),
        (b"status\n", "no JSON object"),
        (b"\n", "no JSON object"),
        (b"[1]\n", "no JSON object"),
        (b"\xff\xfe\n", "no JSON object"),
        (b"GET / HTTP/1.1\r\n\r\n", "no JSON object"),
        (b"[" * 20_000 + b"\n", "no JSON object"),
        (b'{"format":' + b"[" * 20_000 + b"]" * 20_000 + b"}\n", "no JSON object"),
        (b'{"format":"rampwarden-control/1"}\n', "not a request"),
        (b'{"format":"rampwarden-control/1","request":7}\n', "not a request"),
    ],
)
def test_foreign_and_old_clients_are_told_what_is_spoken_here(served: Served, line: bytes, why: str) -> None:
    """Version first: all else may have changed its shape."""
    refused = served.ask(line)
    assert refused["taken"] is False
    assert why in str(refused["text"])


def test_unknown_keys_are_passed_over(served: Served) -> None:
    """A newer client of the same format is understood."""
    assert served.request("note", text="x", colour="red")["taken"] is True


def test_control_characters_reach_neither_the_watch_nor_whoever_reads_the_answer(served: Served) -> None:
    """A note must not clear the operator's screen."""
    evil = "a\x1b[2Jb\x07c\u202ed\u2028e\nf\x00"
    assert served.request("note", text=evil)["taken"] is True
    assert served.came.acquire(timeout=PATIENCE_S)
    assert served.heard[0].text == "a�[2Jb�c�d e f�"
    for name in ("request", "alarm"):
        refused = str(served.request(**{"request": "acknowledge", name: evil})["text"])  # type: ignore[arg-type]
        assert refused.isprintable()
        assert refused.isascii()


def test_more_than_twenty_commands_in_ten_seconds_are_refused_but_a_status_is_not(served: Served) -> None:
    """Each command is written into the record, so a loop gone wild is stopped here."""
    taken = [served.request("note", text=str(number))["taken"] for number in range(25)]
    assert taken == [True] * 20 + [False] * 5
    assert served.request(STATUS)["taken"] is True
    assert len(served.heard) == 20


# Clients that mean no good


def test_a_request_in_pieces_is_waited_for(served: Served) -> None:
    """A slow client is no hostile one."""
    line = encode(Request(FORMAT, "note", text="in pieces"))
    with served.connect() as peer:
        for index in range(len(line)):
            peer.sendall(line[index : index + 1])
        assert answer(peer)["taken"] is True


def test_half_a_line_and_silence_is_cut_off_at_the_deadline(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also when a byte comes now and then: the deadline is for the whole exchange."""
    monkeypatch.setattr("rampwarden.control.server._DEADLINE_S", 0.2)
    with served.connect() as silent, served.connect() as dripping:
        silent.sendall(b'{"format":')
        dripping.sendall(b"{")
        assert is_closed(silent)
        assert is_closed(dripping)
    assert served.request(STATUS)["taken"] is True


def test_a_client_that_leaves_in_the_middle_is_forgotten(served: Served) -> None:
    """Nothing of half a command is heard."""
    for _ in range(50):
        with served.connect() as peer:
            peer.sendall(b'{"format":"rampwarden-control/1","request":"end-heat"}')
    assert served.request(STATUS)["taken"] is True
    assert not served.heard


def test_megabytes_without_a_newline_are_cut_off_after_64_kib(served: Served) -> None:
    """With a reason, for whoever reads it before being cut off."""
    with served.connect() as peer:
        peer.sendall(b"x" * LONGEST_REQUEST)
        assert "more than 65536 bytes" in str(answer(peer)["text"])
    with served.connect() as peer:
        peer.settimeout(PATIENCE_S)
        with pytest.raises((BrokenPipeError, ConnectionResetError)):
            peer.sendall(b"x" * 100_000_000)
    assert served.request(STATUS)["taken"] is True


def test_a_client_that_asks_and_never_reads_holds_up_nobody(served: Served) -> None:
    """The answer waits in its own buffer or is dropped with it."""
    held = [served.connect() for _ in range(15)]
    for peer in held:
        peer.sendall(encode(Request(FORMAT, STATUS)))
    assert served.request(STATUS)["taken"] is True
    for peer in held:
        peer.close()


def test_an_answer_that_does_not_fit_the_buffer_is_sent_as_it_is_read(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And cut off at the deadline when it is not."""
    monkeypatch.setattr("rampwarden.control.server._DEADLINE_S", 1.0)
    long = AboutWatch("furnace-1", 1, "/dev/ttyUSB0", "x" * 3_000_000, "", "")
    server = ControlServer(folder, long)
    server.show(a_status())
    server.serve(lambda _command: None)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as reads, socket.socket(socket.AF_UNIX) as never:
        for peer in (reads, never):
            peer.settimeout(PATIENCE_S)
            peer.connect(str(server.path))
            peer.sendall(encode(Request(FORMAT, STATUS)))
        whole = answer(reads)["snapshot"]
        assert isinstance(whole, dict)
        assert len(whole["about"]["schedule"]) == 3_000_000
        wait_for(lambda: not server._clients)
    server.close()


def test_a_hundred_clients_that_linger_cannot_keep_out_one_that_means_it(served: Served) -> None:
    """The one who has lingered longest goes first; at no time are there more than 64, and one being taken in."""
    lingering: list[socket.socket] = []
    for _ in range(100):
        lingering.append(served.connect())
        lingering[-1].send(b"{")
        assert len(served.server._clients) <= 65
    for _ in range(20):
        assert served.request(STATUS)["taken"] is True
    # Those who came last are still being waited for, those who came first are not.
    assert is_closed(lingering[0])
    lingering[-1].sendall(b"}\n")
    assert answer(lingering[-1])["taken"] is False
    for peer in lingering:
        peer.close()


def test_of_fifteen_hundred_clients_at_once_whoever_asks_is_answered(folder: Path) -> None:
    """The kernel keeps a place for each; who has asked by the time they are taken in never waits among the others."""
    server = ControlServer(folder, about())
    server.show(a_status())
    peers: list[socket.socket] = []
    asking: list[socket.socket] = []
    for number in range(1500):
        peer = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        peer.setblocking(False)  # to be turned away at once, were there no place
        peer.connect(str(server.path))
        peer.settimeout(PATIENCE_S)
        peers.append(peer)
        if number % 150 == 8:
            peer.sendall(encode(Request(FORMAT, STATUS)))
            asking.append(peer)
    server.serve(lambda _command: None)
    assert [answer(peer)["taken"] for peer in asking] == [True] * 10
    server.close()
    for peer in peers:
        peer.close()


def test_a_process_with_many_connections_pushes_out_its_own(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not the one connection of somebody who types slowly."""
    processes = iter([7, *[8] * 200])
    monkeypatch.setattr("rampwarden.control.server._peer", lambda _line: (next(processes), 0))
    slow = served.connect()
    slow.send(b"{")
    wait_for(lambda: len(served.server._clients) == 1)
    crowd = [served.connect() for _ in range(100)]
    wait_for(lambda: is_closed(crowd[35]))
    slow.sendall(b"}\n")
    assert answer(slow)["taken"] is False
    for peer in (slow, *crowd):
        peer.close()


def test_a_flood_of_clients_does_not_hold_up_the_watch(served: Served) -> None:
    """It shows itself, whatever goes on at the socket, and who asks afterwards is answered."""
    stop = threading.Event()

    def flood() -> None:
        while not stop.is_set():
            try:
                with served.connect() as peer:
                    peer.sendall(b"x" * 1000)
            except OSError:
                pass

    floods = [threading.Thread(target=flood) for _ in range(4)]
    for each in floods:
        each.start()
    status = a_status()
    for _ in range(200):
        served.server.show(status)
    stop.set()
    for each in floods:
        each.join()
    assert served.request(STATUS)["taken"] is True


def test_the_watch_does_not_wait_for_an_answer_in_the_making(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """It shows itself while the socket's thread is stuck in a request, and goes on."""
    begun, shown, in_time = threading.Event(), threading.Event(), list[bool]()
    read_request = server_module.read_request

    def stuck(line: bytes) -> object:
        begun.set()
        in_time.append(shown.wait(PATIENCE_S))
        return read_request(line)

    monkeypatch.setattr(server_module, "read_request", stuck)
    answers: list[dict[str, object]] = []
    asking = threading.Thread(target=lambda: answers.append(served.request(STATUS)))
    asking.start()
    assert begun.wait(PATIENCE_S)
    served.server.show(a_status())
    shown.set()
    asking.join()
    assert in_time == [True]
    assert answers[0]["taken"] is True


def test_a_defect_while_answering_costs_that_client_and_not_the_socket(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody may kill the worker and leave a socket that nobody answers."""
    monkeypatch.setattr("rampwarden.control.server._REST_S", 0.01)

    def fail(line: bytes) -> Request:
        raise ZeroDivisionError

    with monkeypatch.context() as broken:
        broken.setattr("rampwarden.control.server.read_request", fail)
        with served.connect() as peer:
            peer.sendall(b"{}\n")
            assert is_closed(peer)
    assert served.request(STATUS)["taken"] is True


# The socket's own life


def test_only_owner_and_group_may_use_the_socket(served: Served) -> None:
    """Mode 0660, whatever the umask."""
    status = served.server.path.stat()
    assert stat.S_ISSOCK(status.st_mode)
    assert stat.S_IMODE(status.st_mode) == 0o660


def test_closing_removes_the_socket_and_ends_the_thread(folder: Path) -> None:
    """And closing one that never served does no harm."""
    served, never = Served(folder), ControlServer(folder, about("other"))
    served.server.close()
    never.close()
    assert not list(folder.iterdir())


def test_a_living_watch_is_not_replaced_and_is_named(served: Served, folder: Path) -> None:
    """By its process: that is what a person needs to end it."""
    with pytest.raises(SettingsError, match=f"'furnace-1' is taken by the watch that is process {os.getpid()};"):
        ControlServer(folder, about())
    assert served.request(STATUS)["taken"] is True


def test_a_living_watch_that_is_overrun_is_not_taken_for_a_dead_one(folder: Path) -> None:
    """Its backlog is full, and it cannot even be asked who it is."""
    server = ControlServer(folder, about())
    waiting = []
    while not waiting or waiting[-1].connect_ex(str(server.path)) != errno.EAGAIN:
        waiting.append(socket.socket(socket.AF_UNIX, socket.SOCK_STREAM))
        waiting[-1].setblocking(False)
    with pytest.raises(SettingsError, match="is taken by a watch"):
        ControlServer(folder, about())
    for peer in waiting:
        peer.close()
    server.close()


def test_the_socket_of_a_watch_that_was_killed_is_replaced(folder: Path) -> None:
    """A crash leaves the file behind; nobody should have to remove it by hand."""
    script = (
        "import os, sys; from pathlib import Path; from rampwarden.control.server import ControlServer; "
        "from rampwarden.control.messages import AboutWatch; "
        "ControlServer(Path(sys.argv[1]), AboutWatch('furnace-1', 0, '', '', '', '')); os.kill(os.getpid(), 9)"
    )
    died = subprocess.run([sys.executable, "-c", script, str(folder)], check=False)
    assert died.returncode == -9
    assert (folder / "furnace-1.sock").is_socket()
    served = Served(folder)
    assert served.request(STATUS)["taken"] is True
    served.server.close()


def test_a_socket_that_cannot_be_made_says_why(folder: Path) -> None:
    """The watch goes on without; the reason is for the log."""
    (folder / "furnace-1.sock").mkdir()
    with pytest.raises(ControlError, match=r"furnace-1\.sock: cannot make the control socket: Is a directory"):
        ControlServer(folder, about())
    with pytest.raises(ControlError, match="cannot make the control socket: No such file"):
        ControlServer(folder / "absent", about())


def wait_for(condition: object) -> None:
    """Wait until the condition holds."""
    until_s = time.monotonic() + PATIENCE_S
    while not condition():  # type: ignore[operator]
        assert time.monotonic() < until_s
        time.sleep(0.01)
