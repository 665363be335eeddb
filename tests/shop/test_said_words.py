"""What strangers on a broker say: bounded in length, depth and digits, and nothing in it that steers."""

import json

import pytest

from rampwarden.core.model import AlarmState, CommandName, Priority
from rampwarden.outputs.mqtt.homie import Device
from rampwarden.shop.said_words import (
    LONGEST_BYTES,
    Standing,
    read_description,
    read_duration_s,
    read_event,
    read_number,
    read_standing,
    read_text,
)


def test_a_furnace_is_understood() -> None:
    """What it says of itself, its alarms, and what happens."""
    said = read_description(Device("homie", "furnace-1", "the big one", (CommandName.NOTE,)).description().encode())
    assert said is not None
    assert (said.name, said.is_furnace, said.takes) == ("the big one", True, {CommandName.NOTE})
    [alarm] = read_standing(b'[{"alarm":"ramp-low","state":"shelved","priority":"low","text":"slow"}]') or ()
    assert alarm == Standing("ramp-low", AlarmState.SHELVED, Priority.LOW, "slow")
    event = read_event(
        b'{"alarm":"ramp-low","state":"normal","priority":"low","text":"ramp-low \xc2\xb7 over","late":true}'
    )
    assert event is not None
    assert event.late
    assert event.change == Standing("ramp-low", AlarmState.NORMAL, Priority.LOW, "over")
    message = read_event(b'{"text":"lid open"}')
    assert message is not None
    assert (message.text, message.change) == ("lid open", None)


def test_no_list_is_an_empty_one() -> None:
    """A topic that was deleted."""
    assert read_standing(b"") == ()


@pytest.mark.parametrize("read", [read_standing, read_event, read_description])
def test_json_of_any_depth_or_length_is_read_or_refused(read: object) -> None:
    """In keys that are known and in those that are not; never a fault."""
    assert callable(read)
    for text in ('{"x":' * 9_000, "[" * 60_000, '[{"x":' + "[" * 50_000, '{"nodes":' + '{"a":{"properties":' * 3_000):
        assert read(text.encode()) is None
    for body in ([{"alarm": "a"}], {"name": "a", "text": "b"}):
        assert read(json.dumps(body).encode() + b" " * LONGEST_BYTES) is None


def test_texts_are_cut_and_freed_of_what_steers() -> None:
    """Wherever they stand."""
    evil = "\x1b[2J\x07\u202e\u2029" + "x" * 1_000
    [alarm] = read_standing(json.dumps([{"alarm": evil, "text": evil, "action": evil}]).encode()) or ()
    said = read_description(json.dumps({"name": evil}).encode())
    event = read_event(json.dumps({"text": evil}).encode())
    assert said is not None
    assert event is not None
    texts = [alarm.alarm, alarm.text, alarm.action, said.name, event.text, read_text(evil.encode())]
    assert [len(text) for text in texts] == [60, 300, 300, 60, 300, 300]
    assert all(text.isprintable() and text.startswith("�[2J���x") for text in texts)
    assert read_text(b"\xff\x00\xfe") == "��"


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("231.4", 231.4),
        ("-5", -5.0),
        ("1e3", 1000.0),
        ("", None),
        ("nan", None),
        ("inf", None),
        ("1e300", None),
        ("1" * 25, None),
        ("2" * 400, None),
        ("²", None),
        ("231,4", None),
    ],
)
def test_a_number_is_one_a_furnace_could_say(text: str, number: float | None) -> None:
    """Nothing else has a place in a row."""
    assert read_number(text) == number


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("PT1H2M5S", 3725),
        ("PT0S", 0),
        ("PT90M", 5400),
        ("PT", None),
        ("", None),
        ("PT²H", None),
        ("PT٣H", None),
        ("PT" + "9" * 400 + "H", None),
        ("PT1H1H", None),
        ("P1D", None),
    ],
)
def test_a_duration_is_one_a_furnace_could_say(text: str, seconds: int | None) -> None:
    """Hours, minutes and seconds, in plain digits and not too many."""
    assert read_duration_s(text) == seconds
