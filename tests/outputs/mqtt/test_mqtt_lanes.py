"""The lanes: order, window, pace, and what each answer of a broker does to a message. No broker, no clock."""

import dataclasses
import json
from typing import cast

import pytest
from tests.outputs.mqtt.broker import STARTED, alarm, message, status

from rampwarden.core.model import Event
from rampwarden.errors import BrokerError
from rampwarden.outputs.mqtt.homie import Device, HeatFacts
from rampwarden.outputs.mqtt.lanes import Lanes
from rampwarden.outputs.mqtt.link import Answered, Link
from rampwarden.outputs.mqtt.message import Message
from rampwarden.outputs.mqtt.reachability import Reachability
from rampwarden.outputs.mqtt.retained_state import RetainedState
from rampwarden.outputs.outbox.outbox import Outbox
from rampwarden.outputs.outbox.record_queue import OutboxItem


class PaperOutbox:
    """An outbox on paper: news and backlog are put in by hand, and what becomes of each item is noted."""

    def __init__(self) -> None:
        self.news: list[OutboxItem] = []
        self.behind: list[OutboxItem] = []
        self.settled: list[str] = []
        self.refused: list[str] = []
        self.returned: list[str] = []

    @property
    def backlog_waits(self) -> bool:
        return bool(self.behind)

    def live(self, _now_s: float) -> list[OutboxItem]:
        items, self.news = self.news, []
        return items

    def backlog(self) -> list[OutboxItem]:
        items, self.behind = self.behind[:50], self.behind[50:]
        return items

    def settle(self, item: OutboxItem, _now_s: float) -> None:
        self.settled.append(item.key)

    def refuse(self, item: OutboxItem, _reason: str, _now_s: float) -> None:
        self.refused.append(item.key)

    def give_back(self, item: OutboxItem) -> None:
        self.returned.append(item.key)


class PaperLink:
    """A link that notes what it is handed."""

    def __init__(self) -> None:
        self.sent: list[Message] = []
        self.is_dead = False

    def publish(self, message: Message) -> int:
        if self.is_dead:
            raise BrokerError("dead")
        self.sent.append(message)
        return len(self.sent)


class Traffic:
    """Lanes with everything round them on paper."""

    def __init__(self, window: int = 20) -> None:
        self.outbox, self.link, self.reach = PaperOutbox(), PaperLink(), Reachability(0.0)
        device = Device("homie", "furnace-1", "")
        self.retained = RetainedState(device, HeatFacts("heat-1", "first heat", "", STARTED))
        self.lanes = Lanes(device, cast(Outbox, self.outbox), self.retained, self.reach)
        self.reach.link_up()
        self.lanes.link_up(cast(Link, self.link), window)

    def item(self, event: Event, key: str, told_s: float | None, seq: int = 1) -> OutboxItem:
        return OutboxItem("heat-1", seq, key, STARTED, event, told_s)

    def news(self, event: Event, key: str, told_s: float = 100.0, seq: int = 1) -> None:
        self.outbox.news.append(self.item(event, key, told_s, seq))

    def run(self, now_s: float = 100.0) -> list[str]:
        """Take what is new and send; gives what went out by this: keys of events, else the end of the topic."""
        before = len(self.link.sent)
        self.lanes.take_news(now_s)
        self.lanes.pump(now_s)
        return [dict(each.user).get("key") or each.topic.rpartition("/")[2] for each in self.link.sent[before:]]

    def answer(self, number: int, code: int = 0, now_s: float = 100.0) -> None:
        self.lanes.answered(Answered(number, code, f"code {code}"), now_s)


def test_news_goes_before_state_and_state_before_the_backlog() -> None:
    """An alarm waits for nothing, and yesterday waits for everything."""
    traffic = Traffic(window=400)
    traffic.outbox.behind = [traffic.item(message(1.0), "old", None)]
    traffic.retained.update(status(1.0), 100.0)
    traffic.retained.announce()
    traffic.news(alarm(2.0), "alarm")
    went = traffic.run()
    assert went[:3] == ["alarm", "$state", "$description"]
    assert went[-2:] == ["$state", "old"]


def test_no_more_is_on_its_way_than_the_window_allows() -> None:
    """The rest waits for answers."""
    traffic = Traffic(window=3)
    for number in range(5):
        traffic.news(message(1.0), f"n{number}")
    assert traffic.run() == ["n0", "n1", "n2"]
    traffic.answer(1)
    assert traffic.run() == ["n3"]


def test_the_backlog_leaves_room_for_an_alarm_and_keeps_its_pace() -> None:
    """At most half the window, at most 200 a second over any while."""
    traffic = Traffic(window=20)
    traffic.outbox.behind = [traffic.item(message(1.0), f"old{n}", None) for n in range(2000)]
    for moment in range(100):
        traffic.run(100.0 + moment / 1000)
    assert len(traffic.link.sent) == 10
    traffic.news(alarm(1.0), "alarm", 100.1)
    assert traffic.run(100.1) == ["alarm"]
    sent = 11
    for moment in range(2000):
        for number in range(1, sent + 1):
            traffic.answer(number)
        traffic.run(101.0 + moment / 1000)
        sent = len(traffic.link.sent)
    assert 400 <= sent <= 440


def test_an_event_that_waited_too_long_is_history_and_goes_back() -> None:
    """After 5 s no receiver should sound for it; it comes with the backlog, marked late."""
    traffic = Traffic()
    traffic.lanes.link_down(100.0)
    traffic.news(alarm(1.0), "alarm", 100.0)
    traffic.lanes.take_news(104.9)
    assert traffic.outbox.returned == []
    traffic.lanes.take_news(105.1)
    assert traffic.outbox.returned == ["alarm"]


@pytest.mark.parametrize(("told_s", "late"), [(100.0, "0"), (94.9, "1"), (None, "1")])
def test_what_is_sent_late_says_so_in_property_and_json(told_s: float | None, late: str) -> None:
    """A receiver without version 5 has the JSON only."""
    traffic = Traffic()
    traffic.outbox.behind = [traffic.item(message(1.0), "it", told_s)]
    traffic.run()
    [sent] = traffic.link.sent
    assert dict(sent.user) == {"key": "it", "late": late}
    assert f'"late":{"true" if late == "1" else "false"}'.encode() in sent.payload


def test_a_lost_link_sends_fresh_events_first_again_and_old_ones_with_the_backlog() -> None:
    """Nobody knows which of them arrived."""
    traffic = Traffic()
    traffic.news(alarm(1.0), "older", 96.0)
    traffic.news(alarm(2.0), "newer", 100.0)
    assert traffic.run(100.0) == ["older", "newer"]
    traffic.lanes.link_down(102.0)
    assert traffic.outbox.returned == ["older"]
    traffic.lanes.link_up(cast(Link, traffic.link), 20)
    assert traffic.run(102.0) == ["newer"]


@pytest.mark.parametrize("on_disk", [True, False])
def test_what_the_disk_has_not_got_yet_says_so(on_disk: bool) -> None:
    """Whoever keeps events elsewhere should know which of them their record may yet lose."""
    traffic = Traffic()
    item = traffic.item(alarm(1.0), "it", 100.0)
    traffic.outbox.news.append(dataclasses.replace(item, on_disk=on_disk))
    traffic.run()
    [sent] = traffic.link.sent
    assert json.loads(sent.payload)["on_disk"] is on_disk


def test_an_accepted_event_is_settled_and_an_unknown_answer_is_passed_over() -> None:
    """Answers of an earlier life mean nothing here."""
    traffic = Traffic()
    traffic.news(alarm(1.0), "alarm")
    traffic.run()
    traffic.answer(17)
    traffic.answer(1)
    traffic.answer(1)
    assert traffic.outbox.settled == ["alarm"]
    assert traffic.lanes.idle


@pytest.mark.parametrize("code", [0x87, 0x90, 0x99])
def test_a_refused_event_is_kept_apart_and_what_follows_still_flows(code: int) -> None:
    """Not authorised, topic or payload not liked: sending it again would be refused again."""
    traffic = Traffic()
    traffic.news(alarm(1.0), "alarm")
    traffic.run()
    traffic.answer(1, code)
    traffic.news(message(2.0), "next")
    assert traffic.run() == ["next"]
    assert traffic.outbox.refused == ["alarm"]
    assert traffic.outbox.settled == []
    assert list(traffic.lanes.sayings) == [f"the broker refuses homie/5/furnace-1/alarm/event: code {code}"]
    assert "refuses" in traffic.reach.judge(100.0, None, None, "broker").lost


def test_a_value_the_broker_refuses_is_said_once_and_left_alone_until_the_next_connection() -> None:
    """A storm of refusals helps nobody."""
    traffic = Traffic(window=100)
    traffic.retained.update(status(1.0), 100.0)
    traffic.retained.announce()
    traffic.run()
    for number, sent in enumerate(list(traffic.link.sent), start=1):
        traffic.answer(number, 0x87 if sent.topic.endswith("temperature") else 0)
    for second in range(1, 30):
        traffic.retained.update(status(1.0 + second, 200.0 + second), 100.0 + second)
        assert "temperature" not in traffic.run(100.0 + second)
    assert len(traffic.lanes.sayings) == 1
    traffic.retained.withdraw()
    traffic.retained.announce()
    assert "temperature" in traffic.run(140.0)


def test_a_broker_that_is_busy_is_waited_for_and_given_up_after_a_while() -> None:
    """Quota exceeded: the same message may be taken later, but not for ever."""
    traffic = Traffic()
    traffic.news(alarm(1.0), "alarm", 100.0)
    now_s, tries = 100.0, 0
    while not traffic.outbox.refused and tries < 20:
        if traffic.run(now_s) == ["alarm"]:
            tries += 1
            traffic.answer(len(traffic.link.sent), 0x97, now_s)
            assert traffic.run(now_s + 0.5) == []
        now_s += 0.5
        if traffic.outbox.returned:
            traffic.outbox.returned.clear()
            traffic.outbox.behind = [traffic.item(alarm(1.0), "alarm", 100.0)]
    assert tries == 6
    assert traffic.outbox.refused == ["alarm"]


def test_only_an_alarm_that_is_news_tells_whether_anybody_listens() -> None:
    """A message nobody wanted, or an old alarm nobody wanted, is no reason to ring."""
    traffic = Traffic()
    traffic.news(message(1.0), "message")
    traffic.outbox.behind = [traffic.item(alarm(1.0), "old", None)]
    traffic.run()
    traffic.answer(1, 0x10)
    traffic.answer(2, 0x10)
    assert traffic.outbox.settled == ["message", "old"]
    assert not traffic.reach.unheard
    traffic.news(alarm(3.0), "alarm")
    traffic.run()
    traffic.answer(3, 0x10)
    assert traffic.reach.unheard


def test_the_last_word_is_said_again_until_somebody_hears_it() -> None:
    """Every ten seconds, late, with its key; then no more."""
    traffic = Traffic()
    traffic.news(alarm(1.0), "alarm")
    traffic.run()
    traffic.answer(1, 0x10)
    assert traffic.run(109.9) == []
    assert traffic.run(110.1) == ["alarm"]
    assert dict(traffic.link.sent[-1].user)["late"] == "1"
    traffic.answer(2, 0x10, 110.2)
    assert traffic.run(120.2) == ["alarm"]
    traffic.answer(3, 0, 120.3)
    assert not traffic.reach.unheard
    assert traffic.run(200.0) == []
    assert traffic.outbox.settled == ["alarm"]


def test_a_link_that_cannot_take_a_message_loses_none() -> None:
    """What was about to be handed over is still there for the next link."""
    traffic = Traffic()
    traffic.news(alarm(1.0), "alarm")
    traffic.link.is_dead = True
    with pytest.raises(BrokerError):
        traffic.run()
    traffic.link.is_dead = False
    traffic.lanes.link_down(100.0)
    traffic.lanes.link_up(cast(Link, traffic.link), 20)
    assert traffic.run(100.0) == ["alarm"]


def test_it_knows_since_when_an_alarm_waits() -> None:
    """Told but not answered, whether it is in line or on its way."""
    traffic = Traffic(window=1)
    traffic.news(message(1.0), "message", 98.0)
    traffic.news(alarm(2.0), "alarm", 99.0)
    traffic.run()
    assert (traffic.lanes.unanswered_s, traffic.lanes.alarm_waiting_s) == (100.0, 99.0)
    traffic.answer(1)
    traffic.run(100.5)
    assert (traffic.lanes.unanswered_s, traffic.lanes.alarm_waiting_s) == (100.5, 99.0)
    traffic.answer(2)
    assert (traffic.lanes.unanswered_s, traffic.lanes.alarm_waiting_s) == (None, None)
