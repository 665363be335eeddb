"""`rampwarden listen` at a real broker: lines in a pipe, a picture on a terminal, and an acknowledgement."""

import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.outputs.mqtt.broker import MOSQUITTO, Broker, Consumer, Furnace, alarm, standing, wait_until
from tests.shop.crowd import Crowd

from rampwarden.core.model import Command, CommandName
from rampwarden.outputs.mqtt.broker import LinkParameters
from rampwarden.shop.listener import CommandAnswer, Listener

_RUN = [sys.executable, "-c", "from rampwarden.cli import run; run()", "listen"]
_ALL = (CommandName.ACKNOWLEDGE,)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    """Give a broker that lets everybody in."""
    if MOSQUITTO is None:
        pytest.skip("no mosquitto on this computer: see .ci/need-packages")
    broker = Broker(tmp_path)
    broker.start()
    yield broker
    broker.kill()


@pytest.fixture
def furnace(tmp_path: Path, broker: Broker) -> Iterator[Furnace]:
    """Give a furnace that takes acknowledgements and shows itself each half second."""
    furnace = Furnace(tmp_path, broker.address, commands=_ALL).light()
    stop = threading.Event()

    def show() -> None:
        while not stop.wait(0.5):
            furnace.show(standing())

    showing = threading.Thread(target=show)
    showing.start()
    yield furnace
    stop.set()
    showing.join()
    furnace.end()


@contextlib.contextmanager
def listening(broker: Broker, *options: str, term: str = "xterm", **how: int) -> Iterator[subprocess.Popen[bytes]]:
    """Listen at a broker, at the latest until the end of the block."""
    command, environment = [*_RUN, "--broker", str(broker.address), *options], {**os.environ, "TERM": term}
    with subprocess.Popen(command, env=environment, **how) as it:  # type: ignore[call-overload]
        try:
            yield it
        finally:
            it.kill()


def test_in_a_pipe_each_change_is_a_line(broker: Broker, furnace: Furnace) -> None:
    """For a log: alarms and states as they come, nothing that moves."""
    with listening(broker, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as it:
        assert it.stdout is not None
        lines: list[str] = []
        reading = threading.Thread(target=lambda: lines.extend(line.decode() for line in it.stdout or ()))
        reading.start()
        wait_until(lambda: any("furnace-1  ready" in line for line in lines), "the furnace found")
        furnace.tell(alarm(61.0))
        wait_until(lambda: any("furnace-1  ramp-high · 142 °C/h" in line for line in lines), "the alarm")
        broker.kill()
        wait_until(lambda: any("hearing nobody" in line for line in lines), "the broker's end")
        it.send_signal(signal.SIGINT)
        it.wait(30)
        reading.join()
    assert all(re.match(r"\d\d:\d\d:\d\d ", line) for line in lines)
    assert it.returncode == 130


def test_an_acknowledgement_is_sent_and_its_answer_awaited(broker: Broker, furnace: Furnace) -> None:
    """Exit status 0 when the furnace took it."""
    with listening(broker, "--acknowledge", "furnace-1:ramp-high", stdout=subprocess.PIPE) as it:
        said, _ = it.communicate(timeout=30)
    assert it.returncode == 0
    assert b'"taken":true' in said
    [command] = furnace.obeyed
    assert (command.command, command.alarm) == (CommandName.ACKNOWLEDGE, "ramp-high")
    assert command.by.startswith("mqtt:listen on ")


@pytest.mark.parametrize(
    ("what", "words"),
    [("furnace-1:no-such-alarm", "there is no alarm"), ("furnace-2", "no furnace furnace-2 on this broker")],
)
def test_an_acknowledgement_that_comes_to_nothing_says_why(
    broker: Broker, furnace: Furnace, what: str, words: str
) -> None:
    """Exit status 1, and nothing has been acknowledged."""
    with listening(broker, "--acknowledge", what, stdout=subprocess.PIPE, stderr=subprocess.STDOUT) as it:
        said, _ = it.communicate(timeout=40)
    assert it.returncode == 1
    assert words in said.decode()
    assert furnace.obeyed == []


def test_without_a_broker_there_is_nothing_to_listen_at() -> None:
    """Exit status 2 and one line."""
    it = subprocess.run(_RUN, capture_output=True, check=False, timeout=30)
    assert (it.returncode, it.stdout) == (2, b"")
    assert b"mqtt.broker: no broker to listen at; give --broker" in it.stderr


class Terminal:
    """A terminal with somebody before it: what is shown, and keys to press."""

    def __init__(self) -> None:
        self._master, self.slave = pty.openpty()
        fcntl.ioctl(self.slave, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 150, 0, 0))
        self.before = termios.tcgetattr(self.slave)
        self._shown = b""

    def shows(self, words: str) -> bool:
        """Tell whether it has shown this; colours and positions do not count."""
        return words in re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", self.look().decode(errors="replace"))

    def wait_for(self, words: str) -> None:
        """Wait until it has shown this; else what it did show is named."""
        try:
            wait_until(lambda: self.shows(words), words)
        except AssertionError as error:
            raise AssertionError(f"{error}, only {self._shown[-3000:]!r}") from None

    def look(self) -> bytes:
        """Give everything shown so far."""
        while select.select([self._master], [], [], 0)[0]:
            with contextlib.suppress(OSError):
                self._shown += os.read(self._master, 65_536)
                continue
            break
        return self._shown

    def press(self, keys: str) -> None:
        """Press keys."""
        os.write(self._master, keys.encode())

    def close(self) -> None:
        """Take it away."""
        os.close(self._master)
        os.close(self.slave)


def ended(it: subprocess.Popen[bytes]) -> Callable[[], bool]:
    """Give a condition: the process has ended."""
    return lambda: it.poll() is not None


def test_on_a_terminal_there_is_a_picture_a_bell_and_a_key_to_acknowledge(broker: Broker, furnace: Furnace) -> None:
    """The furnace in its row, the alarm with it; choose, acknowledge, end, and the terminal is as it was."""
    with contextlib.closing(Terminal()) as terminal:
        with listening(broker, stdin=terminal.slave, stdout=terminal.slave, stderr=terminal.slave) as it:
            terminal.wait_for("drying (1 of 4)")
            terminal.wait_for("ramp-high · 142 °C/h")
            wait_until(lambda: b"\a" in terminal.look(), "the bell")
            terminal.press("j")
            wait_until(lambda: pressed(terminal, furnace), "the acknowledgement")
            terminal.press("q")
            wait_until(ended(it), "the end")
        assert it.returncode == 0
        assert termios.tcgetattr(terminal.slave) == terminal.before
    assert furnace.obeyed[0].command is CommandName.ACKNOWLEDGE
    assert furnace.obeyed[0].alarm == ""


@pytest.fixture
def crowd(broker: Broker) -> Iterator[Crowd]:
    """Give more furnaces than a terminal has lines."""
    with contextlib.closing(Crowd(broker.address, 60)) as crowd:
        crowd.announce()
        yield crowd


def test_a_few_letters_find_one_of_many_and_an_alarm_of_another_is_counted_and_rings(
    broker: Broker, crowd: Crowd
) -> None:
    """While letters are typed, q and a are letters; Esc ends the search, and whoever needs somebody stands on top."""
    with contextlib.closing(Terminal()) as terminal:
        with listening(broker, stdin=terminal.slave, stdout=terminal.slave, stderr=terminal.slave) as it:
            terminal.wait_for("60 furnaces")
            terminal.wait_for("38 more after these")
            assert not terminal.shows("furnace-0047")
            terminal.press("/quarry")
            terminal.wait_for("search: quarry")
            terminal.press("\x7f" * 6 + "-0047\r")
            terminal.wait_for("furnace-0047 (the")
            crowd.set_alarms(51, standing())
            wait_until(lambda: crowd.live(range(60)) and b"\a" in terminal.look(), "the bell")
            terminal.wait_for("1 not shown needs somebody")
            assert not terminal.shows("furnace-0052")
            terminal.press("\x1b")
            terminal.wait_for("furnace-0052")
            terminal.press("q")
            wait_until(ended(it), "the end")
        assert it.returncode == 0


def test_a_terminal_that_draws_nothing_gets_lines_and_the_bell(broker: Broker, crowd: Crowd) -> None:
    """It is a terminal all the same: somebody may sit there."""
    with contextlib.closing(Terminal()) as terminal:
        with listening(broker, term="dumb", stdin=terminal.slave, stdout=terminal.slave, stderr=terminal.slave):
            terminal.wait_for("furnace-0060")
            crowd.tell(51, alarm(61.0))
            wait_until(lambda: b"\a" in terminal.look(), "the bell")
        assert terminal.shows("ramp-high · 142 °C/h")


def test_in_a_pipe_what_is_missing_is_a_line_and_nothing_raw_gets_through(broker: Broker, crowd: Crowd) -> None:
    """Said once; names with control characters come without them, and rubbish ends nothing."""
    crowd.say(4, "$description", b"")
    with listening(broker, stdout=subprocess.PIPE) as it:
        assert it.stdout is not None
        lines: list[str] = []
        reading = threading.Thread(target=lambda: lines.extend(line.decode() for line in it.stdout or ()))
        reading.start()
        wait_until(
            lambda: any("no description has come from furnace-0005" in line for line in lines), "what is missing"
        )
        crowd.say(7, "alarm/standing", b'{"x":' * 5_000)
        wait_until(lambda: any("what furnace-0008 says of itself cannot be read" in line for line in lines), "rubbish")
        evil = b'{"text":"\\u001b[2J\\u0007\\u202e evil"}'
        crowd.say(8, "heat/event", evil, retain=False)
        wait_until(lambda: any(" evil" in line for line in lines), "the event")
        it.send_signal(signal.SIGINT)
        it.wait(30)
        reading.join()
    assert sum("no description" in line for line in lines) == 1
    assert all(line.rstrip("\n").isprintable() for line in lines)


def test_a_name_no_furnace_can_have_is_refused() -> None:
    """A wildcard would acknowledge at whoever answers first."""
    it = subprocess.run(
        [*_RUN, "--broker", "127.0.0.1", "--acknowledge", "#"], capture_output=True, check=False, timeout=30
    )
    assert it.returncode == 2
    assert b"--acknowledge: '#' is no name of a furnace" in it.stderr


def pressed(terminal: Terminal, furnace: Furnace) -> list[Command]:
    """Press the key for acknowledging; gives what the furnace has obeyed."""
    terminal.press("a")
    time.sleep(0.3)
    return furnace.obeyed


def test_an_answer_is_believed_only_from_the_furnace_that_was_asked(broker: Broker, furnace: Furnace) -> None:
    """The topic's last level says who answers: a stranger's word for another furnace's is passed over."""
    listener = Listener([broker.address], LinkParameters("somebody"), "homie", "Ada")
    heard: list[str] = []

    def until(done: Callable[[], bool], what: str) -> None:
        def polled() -> bool:
            heard.extend(each.text for each in listener.poll(0.05) if isinstance(each, CommandAnswer))
            return done()

        wait_until(polled, what)

    with contextlib.closing(listener), contextlib.closing(Consumer(broker.port, "answers/#")) as stranger:
        until(lambda: [one.device for one in listener.shop.furnaces if one.described] == ["furnace-1"], "the furnace")
        stranger.say("answers/somebody/furnace-2", '{"taken":true}')
        (asked,) = listener.shop.furnaces
        assert listener.command(asked, CommandName.ACKNOWLEDGE, alarm="ramp-high") == ""
        until(lambda: bool(heard), "the answer")
        assert len(heard) == 1
        assert {each.topic for each in stranger.heard} == {"answers/somebody/furnace-2", "answers/somebody/furnace-1"}
        assert furnace.obeyed
