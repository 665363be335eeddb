"""The retained state: what is due when, what is taken back, and what a new connection is told."""

from tests.outputs.mqtt.broker import STARTED, standing, status

from rampwarden.core.model import AlarmState
from rampwarden.outputs.mqtt.homie import Device, HeatFacts
from rampwarden.outputs.mqtt.message import Message
from rampwarden.outputs.mqtt.retained_state import RetainedState


def retained() -> RetainedState:
    """Give the board of one furnace."""
    return RetainedState(Device("homie", "furnace-1", ""), HeatFacts("heat-1", "first heat", "", STARTED))


def sent(it: RetainedState, now_s: float) -> dict[str, str]:
    """Take everything that is due; gives the texts by the ends of their topics."""
    messages: dict[str, str] = {}
    while (message := it.take(now_s)) is not None:
        messages[message.topic.removeprefix("homie/5/furnace-1/")] = message.payload.decode()
    return messages


def begun(now_s: float = 100.0) -> RetainedState:
    """Give a board that has announced everything."""
    it = retained()
    it.update(status(1.0), now_s)
    it.announce()
    sent(it, now_s)
    return it


def all_messages(it: RetainedState, now_s: float) -> list[Message]:
    """Take everything that is due."""
    messages = []
    while (message := it.take(now_s)) is not None:
        messages.append(message)
    return messages


def test_nothing_is_said_before_there_is_something_to_announce() -> None:
    """Without a status there are no values, and ready would be a lie."""
    it = retained()
    assert not it.can_announce
    it.update(status(1.0), 100.0)
    assert it.can_announce
    assert it.take(100.0) is None


def test_an_announcement_is_init_description_values_alerts_ready_all_retained() -> None:
    """In this order, as the convention asks."""
    it = retained()
    it.update(status(1.0, 231.4, standing()), 100.0)
    it.announce()
    messages = all_messages(it, 100.0)
    topics = [message.topic.removeprefix("homie/5/furnace-1/") for message in messages]
    assert topics[:2] == ["$state", "$description"]
    assert topics[-1] == "$state"
    assert [message.payload for message in messages if message.topic.endswith("$state")] == [b"init", b"ready"]
    assert all(message.retain for message in messages)
    assert len(topics) == len(set(topics)) + 1
    assert not it.can_announce


def test_live_values_expire_and_lasting_ones_do_not() -> None:
    """A temperature is of now; which pot it is remains true."""
    it = retained()
    it.update(status(1.0), 100.0)
    it.announce()
    expiries = {message.topic.rpartition("/")[2]: message.expiry_s for message in all_messages(it, 100.0)}
    assert expiries["temperature"] == 30
    assert expiries["segment"] == 30
    assert expiries["title"] is None
    assert expiries["$state"] is None


def test_the_temperature_is_said_each_second_and_the_rest_only_when_it_changes_or_ages() -> None:
    """Its renewal is also how silence is noticed."""
    it = begun()
    for second in range(1, 10):
        it.update(status(1.0 + second), 100.0 + second)
        due = set(sent(it, 100.0 + second))
        assert "probe/temperature" in due
        assert "schedule/segment" not in due
    it.update(status(11.0), 110.0)
    assert "schedule/segment" in sent(it, 110.0)


def test_a_quick_change_waits_its_time_and_the_newest_value_wins() -> None:
    """Seconds counting down are not worth a message each."""
    it = begun()
    it.update(status(2.0), 101.0)
    assert "heat/elapsed" not in sent(it, 101.0)
    it.update(status(12.0), 111.0)
    assert sent(it, 111.0)["heat/elapsed"] == "PT12S"


def test_a_value_that_has_gone_is_taken_back_at_once_and_not_again() -> None:
    """No temperature is an empty topic, not an old number."""
    it = begun()
    it.update(status(2.0, None), 100.5)
    assert sent(it, 100.5)["probe/temperature"] == ""
    it.update(status(20.0, None), 120.0)
    assert "probe/temperature" not in sent(it, 120.0)


def test_an_alert_follows_its_alarm() -> None:
    """Said when it comes, reworded when it has returned, taken back when it is over or shelved."""
    it = begun()
    it.update(status(2.0, 231.4, standing()), 101.0)
    assert "lower the heat" in sent(it, 101.0)["$alert/ramp-high"]
    it.update(status(3.0, 231.4, standing(AlarmState.RETURNED_UNACKNOWLEDGED)), 102.0)
    assert "not yet acknowledged" in sent(it, 102.0)["$alert/ramp-high"]
    it.update(status(4.0, 231.4, standing(AlarmState.SHELVED)), 103.0)
    assert sent(it, 103.0)["$alert/ramp-high"] == ""


def test_a_new_connection_is_told_everything_even_what_should_be_empty() -> None:
    """The broker may have forgotten it all, or remember an alert of an earlier life."""
    it = begun()
    it.withdraw()
    assert it.take(101.0) is None
    it.announce()
    again = sent(it, 101.0)
    assert again["probe/temperature"] == "231.4"
    assert again["$alert/ramp-high"] == ""


def test_a_contradicted_state_is_put_right_once_a_second_at_most() -> None:
    """Two that insist must not do so at full speed."""
    it = begun()
    it.contradicted()
    assert sent(it, 101.0) == {"$state": "ready"}
    it.contradicted()
    assert sent(it, 101.5) == {}
    assert sent(it, 102.1) == {"$state": "ready"}
    assert sent(it, 110.0) == {}


def test_the_farewell_takes_back_what_stands_and_says_disconnected_last() -> None:
    """Nobody could take it back later."""
    it = begun()
    it.update(status(2.0, 231.4, standing()), 101.0)
    sent(it, 101.0)
    farewell = it.farewell()
    assert [(message.topic.rpartition("/")[2], message.payload) for message in farewell] == [
        ("ramp-high", b""),
        ("$state", b"disconnected"),
    ]
    assert all(message.retain for message in farewell)
