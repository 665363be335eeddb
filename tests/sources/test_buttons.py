"""Buttons at the furnace: from the bytes of an input device, here a named pipe, to what the watch is told."""

import os
import queue
import struct
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import ValidationError

from rampwarden.assembly.buttons import Buttons, display_buttons
from rampwarden.core.model import Command, CommandName, Notice, NoticeName
from rampwarden.settings import Settings, key_code
from rampwarden.sources.button_events import ButtonEvents

PATIENCE_S = 10.0
B, ENTER, DOWN, UP, REPEAT = 48, 28, 1, 0, 2


def event(code: int, value: int = DOWN, at_s: float = 0.0, kind: int = 1) -> bytes:
    """Give one event as the kernel writes it."""
    return struct.pack("llHHi", int(at_s), round(at_s % 1.0 * 1e6), kind, code, value)


# Its bytes


def test_only_a_key_that_goes_down_is_a_press() -> None:
    """Not one that is let go or repeats by itself, nor a movement or what stands between events."""
    other = event(B, kind=2) + event(0, kind=0)
    data = other + event(B, at_s=1.0) + event(B, REPEAT, 1.3) + event(B, REPEAT, 1.6) + event(B, UP, 2.0) + other
    assert ButtonEvents().feed(data) == [B]


def test_events_in_pieces_are_waited_for() -> None:
    """Byte by byte it is the same."""
    events = ButtonEvents()
    data = event(B, at_s=1.0) + event(ENTER, at_s=2.0)
    assert [code for byte in data for code in events.feed(bytes([byte]))] == [B, ENTER]


def test_a_foot_that_trembles_presses_once() -> None:
    """Within a quarter of a second; another key, or the same one later, is a press of its own."""
    events = ButtonEvents()
    data = b"".join(event(code, at_s=at_s) for code, at_s in ((B, 1.0), (B, 1.1), (ENTER, 1.15), (ENTER, 1.5)))
    assert events.feed(data) == [B, ENTER, ENTER]


# What they mean


def settings(**buttons: object) -> Settings:
    return Settings.model_validate({"buttons": buttons})


def test_a_single_button_acknowledges_whatever_key_it_is_to_the_system() -> None:
    """Unless some key is named for it."""
    single = Buttons(settings(device="/dev/x", marks={"b": "bottle-changed"}))
    assert single.command_of(183) == Command(0.0, CommandName.ACKNOWLEDGE, by="button")
    assert single.command_of(B) == Command(0.0, CommandName.MARK, text="bottle-changed", by="button")
    named = Buttons(settings(device="/dev/x", acknowledge=["Page Down"]))
    assert named.command_of(key_code("page-down")) == Command(0.0, CommandName.ACKNOWLEDGE, by="button")
    assert named.command_of(183) is None


def test_without_a_device_they_are_keys_of_the_display() -> None:
    """With one the display's keys stay what they are."""
    given = {"acknowledge": ["space"], "marks": {"b": "bottle-changed"}}
    assert display_buttons(settings(**given)) == {" ": "", "b": "bottle-changed"}
    assert display_buttons(settings(device="/dev/x", **given)) == {}


@pytest.mark.parametrize(
    ("buttons", "why"),
    [
        ({"device": "/dev/x", "acknowledge": ["pedal"]}, "there is no key 'pedal'"),
        ({"device": "/dev/x", "acknowledge": ["99999"]}, "there is no key '99999'"),
        ({"device": "/dev/x", "marks": {"b": "gauge"}}, "gauge needs its value"),
        ({"device": "/dev/x", "acknowledge": ["B"], "marks": {"b": "dial"}}, "a key does one thing"),
        ({"acknowledge": ["f5"]}, "others need a device"),
    ],
)
def test_what_no_button_can_do_is_refused_at_the_start(buttons: dict[str, object], why: str) -> None:
    """With the key that is meant."""
    with pytest.raises(ValidationError, match=why):
        settings(**buttons)


# The device


class Heard:
    """What the watch was told, one thing after the other."""

    def __init__(self) -> None:
        self.words: queue.SimpleQueue[Command | Notice] = queue.SimpleQueue()

    def next(self) -> Command | Notice:
        """Wait for the next."""
        return self.words.get(timeout=PATIENCE_S)


@pytest.fixture
def pedal(tmp_path: Path) -> Path:
    """A pipe in the place of an input device."""
    place = tmp_path / "pedal"
    os.mkfifo(place)
    return place


@pytest.fixture
def heard(pedal: Path) -> Iterator[tuple[Heard, Buttons]]:
    """Buttons at that device, and whoever hears them."""
    listener, buttons = Heard(), Buttons(settings(device=str(pedal), marks={"b": "bottle-changed"}))
    yield listener, buttons
    buttons.close()
    assert not [thread for thread in threading.enumerate() if thread.name == "buttons"]


def test_a_press_reaches_the_watch(pedal: Path, heard: tuple[Heard, Buttons]) -> None:
    """Acknowledge and mark, in their order."""
    listener, buttons = heard
    with pedal.open("r+b", buffering=0) as foot:
        buttons.start(listener.words.put)
        foot.write(event(ENTER, at_s=1.0) + event(B, at_s=2.0))
        assert listener.next() == Command(0.0, CommandName.ACKNOWLEDGE, by="button")
        assert listener.next() == Command(0.0, CommandName.MARK, text="bottle-changed", by="button")


def test_a_button_that_is_not_there_is_said_once_and_waited_for(
    pedal: Path, heard: tuple[Heard, Buttons], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may be plugged in later; nobody has to start the watch again."""
    monkeypatch.setattr("rampwarden.sources.button_device._AGAIN_S", 0.01)
    listener, buttons = heard
    away = pedal.rename(pedal.with_name("away"))
    buttons.start(listener.words.put)
    said = listener.next()
    assert isinstance(said, Notice)
    assert said.notice is NoticeName.OUTPUT_FAILING
    assert said.text == f"the buttons are not heard: {pedal}: No such file or directory"
    with away.open("r+b", buffering=0) as foot:
        away.rename(pedal)
        foot.write(event(B, at_s=1.0))
        assert listener.next() == Command(0.0, CommandName.MARK, text="bottle-changed", by="button")
        assert listener.words.empty()
