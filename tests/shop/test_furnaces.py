"""A shop as a listener knows it: who is a furnace, what is news, and what strangers on the broker cannot do."""

import json

from tests.outputs.mqtt.broker import STARTED, alarm, standing, status

from rampwarden.core.model import AlarmState, CommandName, Priority
from rampwarden.outputs.mqtt.homie import Device, HeatFacts
from rampwarden.outputs.mqtt.message import ArrivedMessage
from rampwarden.outputs.mqtt.retained_state import RetainedState
from rampwarden.shop.furnaces import Change, ChangeKind, Furnace, Shop

BASE = "homie/5/furnace-1"


def said(topic: str, text: str | bytes, *, retained: bool = False) -> ArrivedMessage:
    """Give a message as it arrives."""
    return ArrivedMessage(topic, text if isinstance(text, bytes) else text.encode(), retained)


def announced(shop: Shop, device: Device, *, retained: bool = True, now_s: float = 100.0) -> list[Change]:
    """Let a furnace say everything it says when it connects."""
    board = RetainedState(device, HeatFacts("heat-1", "first heat", "pot 7", STARTED))
    board.update(status(1.0, 231.4, standing()), now_s)
    board.announce()
    changes = []
    while (message := board.take(now_s)) is not None:
        changes += shop.take(said(message.topic, message.payload, retained=retained), now_s)
    return changes


def a_shop(*allowed: CommandName, retained: bool = True) -> tuple[Shop, Furnace]:
    """Give a shop with one furnace in it."""
    shop = Shop()
    announced(shop, Device("homie", "furnace-1", "the big one", allowed), retained=retained)
    return shop, shop.furnaces[0]


def test_a_furnace_is_known_by_what_it_says_of_itself() -> None:
    """Name, state, values, alarms with their states, and which commands it takes."""
    _, furnace = a_shop(CommandName.ACKNOWLEDGE)
    assert (furnace.device, furnace.title, furnace.state) == ("furnace-1", "furnace-1 (the big one)", "ready")
    assert furnace.number("probe/temperature") == 231.4
    assert [(each.alarm, each.state, each.priority) for each in furnace.alarms] == [
        ("ramp-high", AlarmState.UNACKNOWLEDGED, Priority.HIGH)
    ]
    assert furnace.takes == {CommandName.ACKNOWLEDGE}


def test_it_is_found_by_its_state_and_then_everything_of_it_is_wanted() -> None:
    """The convention's discovery: the state first, the rest once somebody asks."""
    shop = Shop()
    [change] = shop.take(said(f"{BASE}/$state", "ready", retained=True), 100.0)
    assert change.kind is ChangeKind.FOUND
    assert shop.furnaces == []
    assert shop.take(said("homie/5/lamp/probe/temperature", "20"), 100.0) == []


def test_a_device_that_is_no_furnace_is_not_shown() -> None:
    """Other things follow the convention too."""
    shop = Shop()
    shop.take(said("homie/5/lamp/$state", "ready"), 100.0)
    description = {"homie": "5.0", "version": 1, "name": "lamp", "nodes": {"light": {"properties": {}}}}
    shop.take(said("homie/5/lamp/$description", json.dumps(description)), 100.0)
    assert shop.furnaces == []


def test_the_age_counts_from_the_last_live_temperature_not_from_one_the_broker_had_kept() -> None:
    """A kept number may be half a minute old."""
    shop, furnace = a_shop()
    assert furnace.silent_s(100.0) is None
    shop.take(said(f"{BASE}/probe/temperature", "232.0"), 101.0)
    assert furnace.silent_s(105.0) == 4.0
    shop.take(said(f"{BASE}/probe/temperature", ""), 106.0)
    assert (furnace.silent_s(110.0), furnace.number("probe/temperature")) == (None, None)


def test_news_are_lines_and_history_is_not() -> None:
    """Late events and events a broker should never have kept change nothing."""
    shop, _ = a_shop()
    device = Device("homie", "furnace-1", "")

    def told(*, late: bool, retained: bool = False) -> list[str]:
        topic, body = device.event(alarm(61.0), "heat-1", STARTED, "heat-1:1", late=late)
        return [change.text for change in shop.take(said(topic, body, retained=retained), 100.0)]

    assert told(late=False) == ["ramp-high · 142 °C/h over 15 min, limit 100 · drying · lower the heat or open the lid"]
    assert told(late=True) == []
    assert told(late=False, retained=True) == []


def test_a_state_that_changes_is_a_line_and_init_on_the_way_to_ready_is_not() -> None:
    """Each reconnection passes through init; that is no news."""
    shop, _ = a_shop()
    lines = [change.text for text in ("lost", "init", "ready", "ready", "disconnected", "")
             for change in shop.take(said(f"{BASE}/$state", text), 100.0)]  # fmt: skip
    assert lines == ["lost", "disconnected", "removed"]
    assert shop.furnaces == []


def test_what_a_stranger_puts_on_the_broker_cannot_break_the_listener() -> None:
    """Wrong types, deep nesting, no UTF-8, huge payloads, thousands of devices."""
    shop, furnace = a_shop()
    for payload in (b"\xff\xfe", b"[" * 60_000, b'[{"alarm":1}]', b"null", b"{", b"x" * 70_000):
        for path in ("$description", "alarm/standing", "alarm/event", "probe/temperature", "schedule/segment"):
            shop.take(said(f"{BASE}/{path}", payload), 100.0)
    assert furnace.alarms == ()
    assert furnace.number("probe/temperature") is None
    for number in range(2000):
        shop.take(said(f"homie/5/d{number}/$state", "ready"), 100.0)
        shop.take(said(f"{BASE}/more/p{number}", "1"), 100.0)
    assert len(shop._devices) == 1000
    assert len(furnace.values) <= 200


def test_one_shop_may_have_several_prefixes() -> None:
    """The first level may be renamed; two furnaces of one name under two prefixes are two furnaces."""
    shop = Shop()
    for prefix in ("homie", "site-b"):
        announced(shop, Device(prefix, "furnace-1", ""))
    assert sorted(furnace.base for furnace in shop.furnaces) == ["homie/5/furnace-1", "site-b/5/furnace-1"]
