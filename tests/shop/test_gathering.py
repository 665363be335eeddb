"""Gathering a whole shop: from a real broker that drops most of what is asked for at once, and by which questions."""

import contextlib
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import cast

import pytest
from tests.outputs.mqtt.broker import MOSQUITTO, Broker, Consumer, alarm, standing, wait_until
from tests.shop.crowd import Crowd

from rampwarden.core.model import AlarmState, CommandName, Event
from rampwarden.outputs.mqtt import ArrivedMessage, Link, LinkParameters
from rampwarden.shop import ChangeKind, Listener, ShopBell, gathering, listener
from rampwarden.shop.furnaces import VALUES, Shop
from rampwarden.shop.gathering import Gathering

# What mosquitto has by default, fifty times smaller.
TIGHT = "max_inflight_messages 2\nmax_queued_messages 20"
MANY = 60


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    """Give a broker that keeps little for a slow listener."""
    if MOSQUITTO is None:
        pytest.skip("no mosquitto on this computer: see .ci/need-packages")
    broker = Broker(tmp_path, TIGHT)
    broker.start()
    yield broker
    broker.kill()


@contextlib.contextmanager
def a_crowd(broker: Broker, size: int, *, first: int = 1) -> Iterator[Crowd]:
    """Let some furnaces announce themselves."""
    with contextlib.closing(Crowd(broker.address, size, first=first, commands=(CommandName.ACKNOWLEDGE,))) as crowd:
        crowd.announce()
        yield crowd


class Ear:
    """A listener with a bell, and everything that has changed."""

    def __init__(self, broker: Broker, only: str = "+") -> None:
        self.listener = Listener([broker.address], LinkParameters("listen-test"), "homie", "a test", only)
        self.rung: list[tuple[str, str]] = []
        self.lines: list[str] = []
        self._bell = ShopBell(self._ring)

    def hears(self, condition: Callable[[], object]) -> Callable[[], object]:
        """Give a condition that listens before it looks."""

        def look() -> object:
            for change in self.listener.poll(0.05):
                self.lines.append(getattr(change, "text", ""))
            self._bell.look(self.listener.shop.furnaces, 0.0, "")
            return condition()

        return look

    def is_whole(self, size: int) -> bool:
        """Tell whether everything is known of so many."""
        furnaces = self.listener.shop.furnaces
        return len(furnaces) == size and all(each.described and not each.lacks for each in furnaces)

    def _ring(self, event: Event) -> None:
        self.rung.append((str(event.alarm), str(event.state)))


@pytest.fixture
def hear(broker: Broker) -> Iterator[Ear]:
    """Give somebody who listens to all furnaces of the broker."""
    ear = Ear(broker)
    yield ear
    ear.listener.close()


def test_everybody_is_found_where_asking_for_everything_at_once_loses_most(broker: Broker, hear: Ear) -> None:
    """States, lists of alarms and descriptions of all; and nothing had to be dropped for it."""
    with a_crowd(broker, MANY):
        wait_until(hear.hears(lambda: hear.is_whole(MANY)), "all of the shop")
        assert hear.listener.lacking() == []
        assert "being dropped" not in broker.log.read_text()
        greedy = Consumer(broker.port, "homie/5/#")
        wait_until(lambda: "being dropped" in broker.log.read_text(), "a broker that drops")
        greedy.close()


def test_with_the_older_mqtt_everybody_is_found_too(broker: Broker, hear: Ear) -> None:
    """Such a broker sends all it has kept at each subscription, and drops some of it."""
    hear.listener._back_off.use_old_version()
    with a_crowd(broker, MANY):
        wait_until(hear.hears(lambda: hear.is_whole(MANY)), "all of the shop")
        assert "listen-test (p2" in broker.log.read_text()


def test_who_died_before_anybody_listened_is_found_too(broker: Broker, hear: Ear) -> None:
    """It says nothing any more; its state is all there is of it, with its name."""
    with a_crowd(broker, 3) as crowd:
        crowd.say(1, "$state", b"lost")
        wait_until(hear.hears(lambda: hear.is_whole(3)), "all three")
        lost = hear.listener.shop.find("furnace-0002")
        assert lost is not None
        assert lost.is_missing(lost.heard_s)


def test_an_alarm_rings_of_whoever_it_is_and_the_values_of_what_is_shown_alone_come(broker: Broker, hear: Ear) -> None:
    """Fifty rows are looked at, a thousand furnaces are listened to."""
    with a_crowd(broker, MANY) as crowd:

        def lives(condition: Callable[[], object]) -> Callable[[], object]:
            return hear.hears(lambda: crowd.live(range(MANY)) is not None and condition())

        wait_until(hear.hears(lambda: hear.is_whole(MANY)), "all of the shop")
        shown = [each for each in hear.listener.shop.furnaces if each.device in ("furnace-0007", "furnace-0009")]
        assert hear.listener.show(shown)
        assert not hear.listener.show(shown)
        crowd.set_alarms(41, standing())
        wait_until(lives(lambda: all(each.temp_s for each in shown) and hear.rung), "temperatures and a bell")
        assert hear.rung == [("homie/5/furnace-0042 ramp-high", "unacknowledged")]
        assert 206.0 <= (shown[0].number("probe/temperature") or 0.0) < 208.0
        assert {each.device for each in hear.listener.shop.furnaces if each.values} == {"furnace-0007", "furnace-0009"}
        hear.listener.show(shown[1:])
        assert (shown[0].values, shown[0].temp_s) == ({}, None)
        seen_s = shown[1].temp_s
        wait_until(lives(lambda: shown[1].temp_s != seen_s), "the next temperature of what is shown")


def test_an_alarm_rings_whose_furnace_has_no_description_and_that_is_said(broker: Broker, hear: Ear) -> None:
    """By its event alone, before any list of it has come."""
    with a_crowd(broker, 2) as crowd:
        for path in ("$description", "alarm/standing"):
            crowd.say(1, path, b"")
        wait_until(hear.hears(lambda: hear.listener.shop.find("furnace-0001")), "the other one")
        crowd.tell(1, alarm(61.0))
        wait_until(hear.hears(lambda: hear.rung), "the bell")
        assert hear.rung == [("homie/5/furnace-0002 ramp-high", "unacknowledged")]
        assert any("ramp-high · 142 °C/h" in line for line in hear.lines)
        wait_until(hear.hears(lambda: len(hear.listener.lacking()) == 2), "what is missing")
        assert hear.listener.lacking() == [
            "no description has come from furnace-0002; alarms ring all the same",
            "no list of alarms has come from furnace-0002",
        ]
        furnace = hear.listener.shop.find("furnace-0002")
        assert furnace is not None
        why_not = hear.listener.command(furnace, CommandName.ACKNOWLEDGE)
        assert why_not == "furnace-0002 has not yet said which commands it takes"
        crowd.tell(1, alarm(70.0, AlarmState.NORMAL))
        wait_until(hear.hears(lambda: len(hear.rung) == 2), "the alarm's end")


def test_what_no_furnace_is_and_what_cannot_be_read_is_said(broker: Broker, hear: Ear) -> None:
    """Other devices are asked once; rubbish is named; both are no furnaces, and no reason to stop."""
    with a_crowd(broker, 4) as crowd:
        lamp = {"homie": "5.0", "version": 1, "name": "lamp", "nodes": {"light": {"properties": {}}}}
        for index, description in ((1, json.dumps(lamp).encode()), (2, b""), (3, b'{"x":' * 5_000)):
            crowd.say(index, "$description", description)
        for index in (1, 2):
            crowd.say(index, "alarm/standing", b"")
        wait_until(hear.hears(lambda: len(hear.listener.lacking()) == 2), "what is missing")
        assert hear.listener.lacking() == [
            "only a state has come from furnace-0003: nobody knows what that is",
            "what furnace-0004 says of itself cannot be read",
        ]
        assert [each.device for each in hear.listener.shop.furnaces] == ["furnace-0001", "furnace-0004"]


def test_after_a_broker_has_come_back_everything_is_heard_again(broker: Broker, hear: Ear) -> None:
    """It may have forgotten everything; until then what was known stays."""
    with a_crowd(broker, 5):
        wait_until(hear.hears(lambda: hear.is_whole(5)), "all five")
    broker.kill()
    wait_until(hear.hears(lambda: not hear.listener.is_up), "the end of the line")
    assert len(hear.listener.shop.furnaces) == 5
    broker.start()
    wait_until(hear.hears(lambda: hear.listener.is_up), "the line")
    assert not hear.is_whole(5)
    with a_crowd(broker, 5) as crowd:
        crowd.say(3, "alarm/standing", json.dumps([{"alarm": "ramp-low"}]).encode())
        wait_until(hear.hears(lambda: hear.is_whole(5) and hear.rung), "all five again")
    assert hear.rung == [("homie/5/furnace-0004 ramp-low", "unacknowledged")]


def test_one_furnace_alone_may_be_listened_to(broker: Broker) -> None:
    """For whoever only acknowledges something there."""
    ear = Ear(broker, only="furnace-0003")
    with contextlib.closing(ear.listener), a_crowd(broker, 5):
        wait_until(ear.hears(lambda: ear.is_whole(1)), "the one")
        assert [each.device for each in ear.listener.shop.devices] == ["furnace-0003"]


def test_what_came_too_fast_is_counted_and_said(broker: Broker, hear: Ear, monkeypatch: pytest.MonkeyPatch) -> None:
    """A listener that was stopped for a while must not take half a shop for the whole one."""
    monkeypatch.setattr(listener, "_MOST_ARRIVED", 10)
    with a_crowd(broker, MANY):
        wait_until(hear.hears(lambda: any("came faster" in each for each in hear.listener.lacking())), "what was lost")


def test_a_flood_keeps_nobody_from_seeing_and_hearing(broker: Broker, hear: Ear) -> None:
    """However much has come, a look at it ends."""
    wait_until(hear.hears(lambda: hear.listener.is_up), "the line")
    link = hear.listener._link
    assert link is not None
    for number in range(3_000):
        hear.listener._news.put((link, ArrivedMessage(f"homie/5/d{number}/$state", b"ready", retained=True)))
    hear.listener.poll(0.05)
    # A few of the two thousand that are looked at together were answers of the broker.
    assert 1_980 < len(hear.listener.shop.devices) <= 2_001


class PaperLink:
    """A link that only notes what is asked of it."""

    def __init__(self) -> None:
        self.old_version = False
        self.asked: list[tuple[list[str], int, bool]] = []
        self.left: list[str] = []
        self.number = 0

    def subscribe(self, topics: list[str], *, qos: int = 1, kept: bool = True) -> int:
        """Note topics that are asked for."""
        self.asked += [(topics, qos, kept)] if topics else []
        self.number += bool(topics)
        return self.number

    def unsubscribe(self, topics: list[str]) -> None:
        """Note topics that are asked for no longer."""
        self.left += topics


def begun(*, old_version: bool = False) -> tuple[Gathering, PaperLink, Shop]:
    """Give what has just begun on a new connection, at second 100."""
    shop, paper = Shop(), PaperLink()
    paper.old_version = old_version
    gathers = Gathering(shop, "homie/5/+")
    gathers.begin(cast(Link, paper), 100.0)
    granted(gathers, paper)
    return gathers, paper, shop


def granted(gathers: Gathering, paper: PaperLink) -> None:
    """Grant everything that has been asked for."""
    for number in range(1, paper.number + 1):
        gathers.grant(number)


def test_what_is_said_once_is_asked_for_at_qos_1_and_nothing_kept_comes_with_it() -> None:
    """Kept messages of thousands would fill the very queue that alarms need."""
    _, paper, _ = begun()
    assert paper.asked == [
        (["homie/5/+/alarm/event", "homie/5/+/heat/event"], 1, False),
        (["homie/5/+/alarm/standing"], 0, False),
        (["homie/5/+/$state"], 0, True),
    ]


def test_the_roll_is_called_often_at_first_and_then_every_minute() -> None:
    """At QoS 0, and back to QoS 1 without what is kept once it has come."""
    gathers, paper, _ = begun()
    paper.asked.clear()
    states: dict[bool, list[int]] = {True: [], False: []}
    for second in range(100, 300):
        gathers.step(cast(Link, paper), float(second))
        granted(gathers, paper)
        for topics, qos, kept in paper.asked:
            assert (topics, qos) == (["homie/5/+/$state"], 0 if kept else 1)
            states[kept].append(second - 100)
        paper.asked.clear()
    assert states == {True: [5, 15, 75, 135, 195], False: [3, 8, 18, 78, 138, 198]}


def test_with_the_older_mqtt_states_stay_at_qos_0() -> None:
    """There each subscription brings everything kept, wanted or not."""
    gathers, paper, _ = begun(old_version=True)
    paper.asked.clear()
    for second in range(100, 104):
        gathers.step(cast(Link, paper), float(second))
    assert paper.asked == []


def test_a_message_that_came_too_fast_lets_the_roll_be_called_at_once() -> None:
    """It may have been somebody's last word."""
    gathers, paper, _ = begun()
    for second in range(100, 120):
        gathers.step(cast(Link, paper), float(second))
        granted(gathers, paper)
    paper.asked.clear()
    gathers.note_dropped(4, 120.0)
    gathers.step(cast(Link, paper), 123.0)
    assert paper.asked == [(["homie/5/+/$state"], 0, True)]
    assert gathers.lacking() == ["4 messages came faster than they could be read: states are asked for again"]


def test_a_refusal_matters_where_nothing_is_heard_without_it_and_is_said_elsewhere() -> None:
    """A broker may forbid to ask for single furnaces; alarms are heard all the same."""
    shop, paper = Shop(), PaperLink()
    gathers = Gathering(shop, "homie/5/+")
    gathers.begin(cast(Link, paper), 100.0)
    assert gathers.refuse(1, "no", 100.0)
    assert gathers.refuse(3, "no", 100.0)
    assert gathers.is_deaf
    asked = len(paper.asked)
    gathers.step(cast(Link, paper), 100.4)
    assert len(paper.asked) == asked
    gathers.step(cast(Link, paper), 100.5)
    assert paper.asked[asked:] == [paper.asked[0], paper.asked[2]]
    assert [gathers.grant(number) for number in (2, paper.number - 1, paper.number)] == [False, False, True]
    assert not gathers.is_deaf
    [change] = shop.take(ArrivedMessage("homie/5/furnace-1/$state", b"ready", retained=True), 100.0)
    assert change.kind is ChangeKind.WANTING
    gathers.want(change.furnace)
    gathers.step(cast(Link, paper), 100.6)
    assert not gathers.refuse(paper.number, "Not authorized", 100.6)
    assert gathers.lacking() == ["the broker refuses to be asked for single furnaces: Not authorized"]


def test_alarms_of_everybody_are_asked_for_before_any_description() -> None:
    """A description is three thousand letters long, and nobody burns for want of a name."""
    gathers, paper, shop = begun()
    paper.asked.clear()
    for number in (1, 2):
        for change in shop.take(ArrivedMessage(f"homie/5/furnace-{number}/$state", b"ready", retained=True), 100.0):
            gathers.want(change.furnace)
    gathers.step(cast(Link, paper), 101.0)
    [(topics, qos, kept)] = paper.asked
    assert [topic.partition("/5/")[2] for topic in topics] == [
        "furnace-1/alarm/standing",
        "furnace-2/alarm/standing",
        "furnace-1/$description",
        "furnace-2/$description",
    ]
    assert (qos, kept) == (0, True)


def test_a_furnace_that_is_gone_is_asked_for_no_longer() -> None:
    """And one that has ended is not asked for its alarms."""
    gathers, _, shop = begun()
    topic = "homie/5/furnace-1/$state"
    for state, asked in (("ready", 2), ("lost", 1), ("", 0)):
        for change in shop.take(ArrivedMessage(topic, state.encode(), retained=False), 100.0):
            if change.kind is ChangeKind.GONE:
                gathers.forget(change.furnace)
            else:
                gathers.want(change.furnace)
        assert gathers.asked == asked


def test_values_are_asked_for_by_name_and_left_when_a_row_goes_out_of_view() -> None:
    """Nine of a furnace's forty."""
    gathers, paper, shop = begun()
    for number in (1, 2):
        shop.take(ArrivedMessage(f"homie/5/furnace-{number}/$state", b"ready", retained=True), 100.0)
    paper.asked.clear()
    one, two = shop.devices
    gathers.show(cast(Link, paper), [one])
    gathers.show(cast(Link, paper), [two])
    assert [(len(topics), qos) for topics, qos, _ in paper.asked] == [(len(VALUES), 0), (len(VALUES), 0)]
    assert paper.left == [f"{one.base}/{path}" for path in VALUES]


def test_more_devices_than_there_is_room_for_are_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Never passed over without a word."""
    monkeypatch.setattr("rampwarden.shop.furnaces.MOST_DEVICES", 2)
    monkeypatch.setattr(gathering, "MOST_DEVICES", 2)
    gathers, _, shop = begun()
    for number in range(3):
        shop.take(ArrivedMessage(f"homie/5/furnace-{number}/$state", b"ready", retained=True), 100.0)
    assert gathers.lacking() == ["there are more than 2 devices: the others are not heard"]
