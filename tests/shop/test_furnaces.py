"""A shop as a listener knows it: who is a furnace, what is news, and what strangers on the broker cannot do."""

import json

import pytest
from tests.outputs.mqtt.broker import STARTED, alarm, standing, status

from rampwarden.core.model import AlarmState, CommandName, Priority
from rampwarden.outputs.mqtt.homie import Device, HeatFacts
from rampwarden.outputs.mqtt.message import ArrivedMessage
from rampwarden.outputs.mqtt.retained_state import RetainedState
from rampwarden.shop import furnaces
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
        for each in shop.devices:
            each.is_shown = True
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


def test_it_is_found_by_its_state_and_then_the_rest_of_it_is_wanted() -> None:
    """The convention's discovery: the state first, the rest once somebody asks."""
    shop = Shop()
    [change] = shop.take(said(f"{BASE}/$state", "ready", retained=True), 100.0)
    assert change.kind is ChangeKind.WANTING
    assert change.furnace.lacks == ["alarm/standing", "$description"]
    assert shop.furnaces == []
    assert shop.take(said("homie/5/lamp/probe/temperature", "20"), 100.0) == []


def test_of_a_furnace_that_is_not_at_work_no_alarms_are_wanted_until_it_is() -> None:
    """They end with it."""
    shop = Shop()
    [change] = shop.take(said(f"{BASE}/$state", "lost", retained=True), 100.0)
    assert change.furnace.lacks == ["$description"]
    shop.take(said(f"{BASE}/$state", "ready"), 100.0)
    assert change.furnace.lacks == ["alarm/standing", "$description"]


def test_after_each_connection_a_description_is_wanted_anew() -> None:
    """Only then may it change: another name, other commands."""
    shop, furnace = a_shop(CommandName.ACKNOWLEDGE)
    description = Device("homie", "furnace-1", "the new one").description()
    shop.take(said(f"{BASE}/$description", description, retained=True), 100.0)
    assert furnace.lacks == []
    for state in ("init", "ready"):
        changes = shop.take(said(f"{BASE}/$state", state), 100.0)
        assert [change.kind for change in changes] == [ChangeKind.WANTING]
    assert furnace.lacks == ["$description"]
    assert (furnace.described, furnace.name, furnace.takes) == (True, "the new one", frozenset())


def test_an_alarm_of_a_furnace_that_never_described_itself_is_an_alarm() -> None:
    """Its list or its event may be all that comes, in whatever order."""
    listed = b'[{"alarm":"ramp-high","state":"unacknowledged","priority":"high","text":"142"}]'
    topic, event = Device("homie", "furnace-1", "").event(alarm(61.0), "heat-1", STARTED, "heat-1:1", late=False)
    for message in (said(f"{BASE}/alarm/standing", listed), said(topic, event)):
        shop = Shop()
        assert ChangeKind.ALARMS in [change.kind for change in shop.take(message, 100.0)]
        [furnace] = shop.furnaces
        assert [(each.alarm, each.state) for each in furnace.alarms] == [("ramp-high", AlarmState.UNACKNOWLEDGED)]
        assert furnace.is_live
        assert "$state" in furnace.lacks


def test_an_event_stands_beside_an_older_list_until_a_younger_one_comes() -> None:
    """They go different ways to the listener: neither may ring falsely or end what the other says."""
    shop, furnace = a_shop()
    raised = alarm(61.0, name="sensor-open")

    def tell(state: AlarmState, now_s: float) -> None:
        topic, body = Device("homie", "furnace-1", "").event(
            alarm(61.0, state, "sensor-open"), "heat-1", STARTED, "heat-1:1", late=False
        )
        shop.take(said(topic, body), now_s)

    def names() -> list[str]:
        return [each.alarm for each in furnace.alarms]

    assert raised.state is not None
    tell(raised.state, 101.0)
    assert names() == ["ramp-high", "sensor-open"]
    shop.take(said(f"{BASE}/alarm/standing", "[]"), 101.5)
    assert names() == ["sensor-open"]
    tell(AlarmState.NORMAL, 102.0)
    assert names() == []
    tell(AlarmState.UNACKNOWLEDGED, 103.0)
    shop.take(said(f"{BASE}/alarm/standing", "[]"), 110.0)
    assert names() == []


def test_what_cannot_be_read_ends_no_alarm_and_is_named() -> None:
    """Rubbish on its topics is no word of the furnace."""
    shop, furnace = a_shop()
    for path in ("alarm/standing", "$description"):
        shop.take(said(f"{BASE}/{path}", b"{"), 100.0)
    assert [each.alarm for each in furnace.alarms] == ["ramp-high"]
    assert furnace.unreadable == {"alarm/standing", "$description"}
    shop.take(said(f"{BASE}/alarm/standing", ""), 100.0)
    assert (furnace.alarms, furnace.unreadable) == ((), {"$description"})


def test_an_alarm_in_words_of_a_newer_furnace_rings_as_the_worst() -> None:
    """One unknown word must not silence the list."""
    shop, furnace = a_shop()
    listed = [{"alarm": "new", "state": "simmering", "priority": "utmost"}, {"alarm": "over", "state": "normal"}]
    shop.take(said(f"{BASE}/alarm/standing", json.dumps(listed)), 100.0)
    [new] = furnace.alarms
    assert (new.alarm, new.state, new.priority) == ("new", AlarmState.UNACKNOWLEDGED, Priority.HIGH)


def test_a_list_that_says_the_same_again_is_no_change() -> None:
    """It is renewed every ten seconds, by everybody."""
    shop, furnace = a_shop()
    listed = json.dumps([{"alarm": "ramp-high", "state": "unacknowledged", "priority": "high"}])
    kinds = [[change.kind for change in shop.take(said(f"{BASE}/alarm/standing", listed), 100.0)] for _ in range(2)]
    assert kinds == [[ChangeKind.ALARMS], []]
    assert furnace.is_furnace


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
    assert furnace.temp_s is None
    shop.take(said(f"{BASE}/probe/temperature", "232.0"), 101.0)
    assert furnace.temp_s == 101.0
    shop.take(said(f"{BASE}/probe/temperature", ""), 106.0)
    assert (furnace.temp_s, furnace.number("probe/temperature")) == (None, None)


def test_values_of_whoever_is_not_looked_at_are_not_kept() -> None:
    """What is still on its way when a row goes out of view would be renewed by nobody."""
    shop, furnace = a_shop()
    furnace.is_shown = False
    shop.take(said(f"{BASE}/probe/temperature", "232.0"), 101.0)
    assert (furnace.temp_s, furnace.number("probe/temperature")) == (None, 231.4)


def test_a_furnace_is_missing_once_it_has_said_nothing_itself_for_half_a_minute() -> None:
    """Its list of alarms is a word of it, although nobody looks at its values; what a broker had kept is none."""
    shop, furnace = a_shop()
    assert not furnace.is_missing(129.0)
    shop.take(said(f"{BASE}/alarm/standing", "[]"), 120.0)
    assert not furnace.is_missing(149.0)
    for path, text in (("alarm/standing", "[]"), ("probe/temperature", "232.0"), ("$state", "ready")):
        shop.take(said(f"{BASE}/{path}", text, retained=True), 149.0)
    assert furnace.is_missing(151.0)
    shop.hear_anew(151.0)
    assert not furnace.is_missing(152.0)
    shop.take(said(f"{BASE}/$state", "lost"), 153.0)
    assert furnace.is_missing(153.0)


def test_news_are_lines_and_history_is_not() -> None:
    """Late events and events a broker should never have kept change nothing."""
    shop, _ = a_shop()
    device = Device("homie", "furnace-1", "")

    def told(*, late: bool, retained: bool = False) -> list[str]:
        topic, body = device.event(alarm(61.0), "heat-1", STARTED, "heat-1:1", late=late)
        changes = shop.take(said(topic, body, retained=retained), 100.0)
        return [change.text for change in changes if change.text]

    assert told(late=False) == ["ramp-high · 142 °C/h over 15 min, limit 100 · drying · lower the heat or open the lid"]
    assert told(late=True) == []
    assert told(late=False, retained=True) == []


def test_a_state_that_changes_is_a_line_and_init_on_the_way_to_ready_is_not() -> None:
    """Each reconnection passes through init; that is no news."""
    shop, _ = a_shop()
    lines = [change.text for text in ("lost", "init", "ready", "ready", "disconnected", "")
             for change in shop.take(said(f"{BASE}/$state", text), 100.0) if change.text]  # fmt: skip
    assert lines == ["lost", "disconnected", "removed"]
    assert shop.furnaces == []


@pytest.mark.parametrize(
    "payload",
    [
        b"\xff\xfe",
        b"[" * 60_000,
        b'{"x":' * 10_000,
        b'[{"x":' + b"[" * 30_000,
        b'{"nodes":{"probe":{"properties":{"temperature":' + b'{"x":' * 9_000,
        b'[{"alarm":1}]',
        b"null",
        b"{",
        b"9" * 5_000,
        b"1e999999",
        b"x" * 70_000,
        b'{"name":"\\u0000\\ud800"}',
    ],
    ids=lambda payload: payload[:12].decode(errors="replace"),
)
def test_what_a_stranger_puts_on_the_broker_cannot_break_the_listener(payload: bytes) -> None:
    """Wrong types, deep nesting in what is known and what is not, no UTF-8, too many digits, huge payloads."""
    shop, furnace = a_shop()
    for path in ("$state", "$description", "alarm/standing", "alarm/event", "heat/event", *furnaces.VALUES):
        shop.take(said(f"{BASE}/{path}", payload), 100.0)
    assert [each.alarm for each in furnace.alarms] == ["ramp-high"]
    assert furnace.number("probe/temperature") is None
    assert max(map(len, [furnace.state, furnace.name, *furnace.values.values()])) <= 60


def test_what_a_stranger_makes_a_listener_keep_is_bounded_and_what_is_passed_over_counted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Devices, values, alarms of one furnace; topics with control characters in them are nobody's."""
    monkeypatch.setattr(furnaces, "MOST_DEVICES", 50)
    shop, furnace = a_shop()
    listed = json.dumps([{"alarm": f"a{number}", "state": "acknowledged"} for number in range(1_000)])
    shop.take(said(f"{BASE}/alarm/standing", listed), 100.0)
    for number in range(1_000):
        shop.take(said(f"homie/5/d{number}/$state", "ready"), 100.0)
        shop.take(said(f"{BASE}/more/p{number}", "1"), 100.0)
        shop.take(said(f"{BASE}/alarm/event", json.dumps({"alarm": f"b{number}"})), 100.0)
        shop.take(said(f"ho\x1bmie/5/e{number}/$state", "ready"), 100.0)
    assert len(shop.devices) == 50
    assert shop.passed_over == 951
    assert len(furnace.values) <= len(furnaces.VALUES)
    assert len(furnace.alarms) == 200


def test_one_shop_may_have_several_prefixes() -> None:
    """The first level may be renamed; two furnaces of one name under two prefixes are two furnaces."""
    shop = Shop()
    for prefix in ("homie", "site-b"):
        announced(shop, Device(prefix, "furnace-1", ""))
    assert sorted(furnace.base for furnace in shop.furnaces) == ["homie/5/furnace-1", "site-b/5/furnace-1"]
