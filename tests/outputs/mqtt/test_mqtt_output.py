"""The MQTT output at a real broker: what others see of a furnace, and what happens when a broker misbehaves."""

import contextlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.outputs.mqtt.broker import Broker, Consumer, Furnace, alarm, free_port, message, standing, wait_until

from rampwarden.core.model import AlarmState, CommandName, NoticeName
from rampwarden.outputs.mqtt import retained_state as mqtt_state
from rampwarden.outputs.mqtt.broker import BrokerAddress
from rampwarden.outputs.mqtt.homie import Device
from rampwarden.outputs.mqtt.link import Link, LinkParameters

BASE = "homie/5/furnace-1"
Listen = Callable[..., Consumer]
Light = Callable[..., Furnace]


# What others see


def test_whoever_comes_late_still_sees_state_description_values_and_standing_alarms(
    broker: Broker, listen: Listen, make_furnace: Light
) -> None:
    """Everything that is state is kept by the broker; nobody has to have been there."""
    early = listen("homie/#")
    furnace = make_furnace(broker.address)
    furnace.show(standing())
    early.wait_for("$alert/ramp-high", "142")
    late = listen("homie/#")
    late.wait_for("$state", "ready")
    assert json.loads(late.wait_for("$description", "{").text)["homie"] == "5.0"
    assert late.wait_for("probe/temperature", "231.4").retained
    assert late.wait_for("schedule/segment", "drying").retained
    assert late.wait_for("heat/crucible", "pot 7").retained
    alert = late.wait_for("$alert/ramp-high", "ramp-high since 0:01 drying: 142 °C/h over 15 min, limit 100")
    assert alert.retained
    assert alert.text.endswith("lower the heat or open the lid")
    listed = json.loads(late.wait_for("alarm/standing", "ramp-high").text)
    assert [(each["alarm"], each["state"], each["priority"]) for each in listed] == [
        ("ramp-high", "unacknowledged", "high")
    ]


def test_an_alarm_arrives_as_json_with_everything_a_person_needs(
    broker: Broker, listen: Listen, make_furnace: Light
) -> None:
    """State, priority, value, limit, unit, segment, what to do, time and key stand in one message."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    furnace.tell(alarm(61.5))
    heard = consumer.wait_for("alarm/event", "ramp-high")
    body = json.loads(heard.text)
    assert not heard.retained
    assert body == {
        "key": "heat-1:aa:1",
        "time": "2026-01-01T09:01:01.500Z",
        "heat": "heat-1",
        "elapsed_s": 61.5,
        "event": "alarm",
        "alarm": "ramp-high",
        "state": "unacknowledged",
        "priority": "high",
        "value": 142.0,
        "limit": 100.0,
        "unit": "°C/h",
        "worst": None,
        "action": "lower the heat or open the lid",
        "segment": "drying",
        "segment_number": None,
        "text": "ramp-high · 142 °C/h over 15 min, limit 100 · drying · lower the heat or open the lid",
        "late": False,
        "on_disk": True,
    }
    assert heard.user == {"key": "heat-1:aa:1", "late": "0"}


def test_an_alert_is_taken_back_once_the_alarm_is_over(broker: Broker, listen: Listen, make_furnace: Light) -> None:
    """The broker keeps nothing of it: a consumer that comes later finds no alert."""
    early = listen("homie/#")
    furnace = make_furnace(broker.address)
    furnace.show(standing())
    early.wait_for("$alert/ramp-high", "142")
    furnace.show(standing(AlarmState.RETURNED_UNACKNOWLEDGED))
    early.wait_for("$alert/ramp-high", "not yet acknowledged")
    furnace.show()
    wait_until(lambda: early.latest("$alert/ramp-high") == "", "the alert taken back")
    late = listen("homie/#")
    late.wait_for("$state", "ready")
    late.wait_for("probe/temperature", "231.4")
    assert not [each for each in late.heard if "$alert" in each.topic]


def test_a_clean_stop_says_disconnected_and_leaves_no_alert(
    broker: Broker, listen: Listen, make_furnace: Light
) -> None:
    """The will stays unsent, what was news is sent first, and nothing stands that nobody could take back."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    furnace.show(standing())
    consumer.wait_for("$alert/ramp-high", "142")
    furnace.tell(message(70.0, "the last words"))
    furnace.end()
    consumer.wait_for("$state", "disconnected")
    assert consumer.texts("$state")[-1] == "disconnected"
    assert consumer.latest("$alert/ramp-high") == ""
    assert "the last words" in "".join(consumer.texts("heat/event"))


def test_a_watch_that_fails_does_not_look_like_one_that_was_ended(
    broker: Broker, listen: Listen, make_furnace: Light
) -> None:
    """What was news is still sent, and then the broker sends the will."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    consumer.wait_for("$state", "ready")

    def fail() -> None:
        with furnace.output:
            furnace.tell(alarm(61.0))
            raise LookupError("planted")

    with pytest.raises(LookupError):
        fail()
    consumer.wait_for("$state", "lost")
    assert "disconnected" not in consumer.texts("$state")
    assert consumer.keys() == ["heat-1:aa:1"]


def test_a_sender_that_has_died_is_started_again_and_one_that_is_stuck_is_said(
    broker: Broker, listen: Listen, make_furnace: Light, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither should happen. Both would be silence that looks like peace."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    furnace.wait_reached()
    sender = furnace.output._sender
    with monkeypatch.context() as planted:
        planted.setattr(sender, "_part", lambda: None)
        planted.setattr(sender, "_finishing_s", 0.0)
        wait_until(furnace.died, "its death is said to the others")
    assert furnace.died()[0] == "the MQTT sender had died (RuntimeError: it ended unasked); it is started again"
    furnace.tell(alarm(61.0))
    furnace.wait_showing(lambda: consumer.keys() == ["heat-1:aa:1"], "the alarm")
    monkeypatch.setattr("rampwarden.outputs.mqtt.output._STUCK_S", -1.0)
    furnace.show()
    assert furnace.lost() == ["the MQTT sender is stuck"]


def test_values_nobody_renews_disappear(
    broker: Broker, listen: Listen, make_furnace: Light, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A watch that hangs shows no status: its last temperature must not stay on the broker as if it were live."""
    monkeypatch.setattr(mqtt_state, "EXPIRY_S", 1)
    furnace = make_furnace(broker.address)
    listen("homie/#").wait_for("probe/temperature", "231.4")

    def found() -> list[str]:
        with contextlib.closing(Consumer(broker.port, f"{BASE}/$state", f"{BASE}/probe/temperature")) as late:
            late.wait_for("$state", "ready")
            return late.texts("temperature")

    wait_until(lambda: not found(), "a temperature that has expired")
    furnace.wait_showing(found, "a temperature that is live again")


def test_a_temperature_that_is_no_longer_measured_is_taken_back_at_once(
    broker: Broker, listen: Listen, make_furnace: Light
) -> None:
    """Signal lost: no number, quality bad; never the last number for ever."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    consumer.wait_for("probe/temperature", "231.4")
    furnace.show(standing(name="signal-lost"))
    wait_until(lambda: consumer.latest("probe/temperature") == "", "the temperature taken back")
    consumer.wait_for("probe/quality", "bad")


def test_a_strangers_word_on_our_state_is_put_right(broker: Broker, listen: Listen, make_furnace: Light) -> None:
    """An old life's will can come after the new life's ready: then a living furnace would pass for lost."""
    consumer = listen("homie/#")
    make_furnace(broker.address)
    consumer.wait_for("$state", "ready")
    consumer.say(f"{BASE}/$state", "lost", retain=True)
    wait_until(lambda: consumer.texts("$state")[-2:] == ["lost", "ready"], "the state put right")


# A broker that does not play along


def test_a_refused_alarm_is_said_kept_and_not_sent_again(
    make_broker: Callable[..., Broker], make_furnace: Light
) -> None:
    """The broker's rules forbid alarms: the person at the furnace must know, later messages still flow."""
    rules = make_rules(make_broker, f"topic read {BASE}/#\ntopic write {BASE}/$state\ntopic write {BASE}/heat/event\n")
    consumer = Consumer(rules.port, "homie/#", user="listener", password="x")
    furnace = make_furnace(rules.address, parameters=LinkParameters("furnace-1", user="furnace-1"))
    with contextlib.closing(consumer):
        wait_until(furnace.lost, "the refusal said")
        before = len(furnace.notices)
        furnace.tell(alarm(61.0), message(62.0, "after the refusal"))
        consumer.wait_for("heat/event", "after the refusal")
        cursor = furnace.folder / ".mqtt-cursor-furnace-1.json"
        wait_until(lambda: '"refused_count":1' in cursor.read_text(), "the refusal kept")
        furnace.show()
        assert json.loads(cursor.read_text())["refused"][0]["key"] == "heat-1:aa:1"
        assert json.loads(cursor.read_text())["records"][0]["seq"] == 2
        assert furnace.reached[-1:] != [True]
        assert len(furnace.notices) == before
    # Every retained topic, as it was before and as it is now; none is tried for ever.
    nodes = json.loads(Device("homie", "furnace-1", "").description())["nodes"]
    topics = sum(len(node["properties"]) for node in nodes.values())
    assert rules.log.read_text().count("Denied PUBLISH") <= 2 * topics
    assert "refuses" in furnace.lost()[0]
    assert "Not authorized" in furnace.lost()[0]


def make_rules(make_broker: Callable[..., Broker], furnace_rules: str) -> Broker:
    """Start a broker that knows a furnace and a listener, each with rules."""
    rules = f"user furnace-1\n{furnace_rules}\nuser listener\ntopic readwrite #\n"
    return make_broker("log_type all\nacl_file {acl}", fill={"acl": rules})


def test_a_frozen_broker_is_noticed_and_nothing_is_lost(broker: Broker, listen: Listen, make_furnace: Light) -> None:
    """It holds the connection and says nothing: somebody at the furnace hears of it; later everything arrives."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    furnace.wait_reached()
    consumer.wait_for("$state", "ready")
    broker.freeze()
    furnace.tell(alarm(61.0))
    furnace.wait_showing(lambda: furnace.reached[-1] is False, "the bell takes over")
    furnace.wait_showing(furnace.lost, "broker-unreachable")
    furnace.tell(alarm(65.0, AlarmState.ACKNOWLEDGED))
    broker.thaw()
    furnace.wait_showing(lambda: {"heat-1:aa:1", "heat-1:aa:2"} <= set(consumer.keys()), "both events")
    furnace.wait_reached()
    assert [notice.notice for notice in furnace.notices] == [NoticeName.BROKER_LOST, NoticeName.BROKER_REACHED]


def test_a_killed_broker_that_has_forgotten_everything_is_told_everything_again(
    broker: Broker, make_furnace: Light, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without persistence it comes back empty: state, description, values and alerts are there again."""
    monkeypatch.setattr("rampwarden.outputs.mqtt.reachability.SILENCE_S", 2.0)
    furnace = make_furnace(broker.address)
    furnace.show(standing())
    furnace.wait_reached()
    broker.kill()
    furnace.tell(alarm(61.0))
    furnace.wait_showing(lambda: furnace.reached[-1] is False, "the bell takes over", standing())
    furnace.wait_showing(furnace.lost, "broker-unreachable", standing())
    broker.start()
    with contextlib.closing(Consumer(broker.port, "homie/#")) as late:
        late.wait_for("$state", "ready")
        late.wait_for("$description", "{")
        late.wait_for("probe/temperature", "231.4")
        late.wait_for("$alert/ramp-high", "142")
        furnace.wait_showing(lambda: "heat-1:aa:1" in late.keys(), "the alarm")  # noqa: SIM118


def test_the_next_broker_of_the_list_is_tried_when_the_first_is_gone(
    broker: Broker, listen: Listen, make_furnace: Light
) -> None:
    """A cluster has several doors."""
    consumer = listen("homie/#")
    nobody = BrokerAddress("127.0.0.1", free_port())
    furnace = make_furnace((nobody, broker.address))
    furnace.tell(alarm(61.0))
    consumer.wait_for("alarm/event", "ramp-high", 5.0)


def test_a_broker_that_is_not_there_is_said_with_its_reason(
    make_furnace: Light, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where, how long, and why."""
    monkeypatch.setattr("rampwarden.outputs.mqtt.reachability.SILENCE_S", 1.0)
    nobody = BrokerAddress("127.0.0.1", free_port())
    furnace = make_furnace(nobody)
    furnace.wait_showing(furnace.lost, "broker-unreachable")
    assert furnace.lost()[0].startswith(f"no link to {nobody} for ")
    assert "refused" in furnace.lost()[0]
    assert furnace.reached == [False]


def test_what_is_wrong_with_delivery_is_said_on_every_output_once(tmp_path: Path, make_furnace: Light) -> None:
    """A note is an event, and goes where events go: to displays, page, record and, when it is back, the broker."""
    (tmp_path / ".mqtt-cursor-furnace-1.json").write_bytes(b"\xff")
    furnace = make_furnace(BrokerAddress("127.0.0.1", free_port()))
    furnace.wait_showing(lambda: furnace.obeyed, "the cursor's loss")
    (note,) = furnace.obeyed
    assert (note.command, note.by) == (CommandName.NOTE, "rampwarden")
    assert "not a cursor" in note.text
    sayings = furnace.output._sender._outbox.sayings
    sayings.append(note.text.removeprefix("MQTT: "))
    furnace.wait_showing(lambda: not sayings, "it is taken")
    assert furnace.obeyed == [note]


def test_an_alarm_nobody_listens_to_is_said_once_until_somebody_does(
    broker: Broker, listen: Listen, make_furnace: Light, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The broker has it and has nobody to give it to. An answer is not a person."""
    monkeypatch.setattr("rampwarden.outputs.mqtt.lanes._SAY_AGAIN_S", 0.3)
    furnace = make_furnace(broker.address)
    furnace.wait_reached()
    furnace.tell(alarm(61.0))
    furnace.wait_showing(furnace.lost, "nobody listens")
    assert "nobody has subscribed" in furnace.lost()[0]
    assert furnace.reached[-1] is False
    consumer = listen("homie/#")
    furnace.wait_reached()
    repeated = consumer.wait_for("alarm/event", "ramp-high")
    assert json.loads(repeated.text)["late"] is True
    assert len(furnace.lost()) == 1


def test_the_unheard_news_of_being_unheard_raises_nothing(broker: Broker, make_furnace: Light) -> None:
    """Else broker-unreachable would raise itself for ever."""
    furnace = make_furnace(broker.address)
    furnace.wait_reached()
    furnace.tell(alarm(61.0, AlarmState.RETURNED_UNACKNOWLEDGED, name="broker-unreachable"))
    cursor = furnace.folder / ".mqtt-cursor-furnace-1.json"
    wait_until(lambda: '"seq":1' in cursor.read_text(), "the event settled")
    assert furnace.lost() == []
    assert furnace.reached[-1] is True


def test_an_exception_in_a_callback_costs_the_connection_and_nothing_else(
    broker: Broker, listen: Listen, make_furnace: Light, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The library's thread would die of it without a word, and go on saying that it is connected."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    furnace.wait_reached()
    sound = Link._take_answer
    planted: list[str] = []

    def faulty(self: Link, *arguments: object) -> None:
        if not planted:
            planted.append("once")
            raise LookupError("planted")
        sound(self, *arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(Link, "_take_answer", faulty)
    # The link that is up keeps the function it was made with.
    furnace.output._sender._link._client.on_publish = furnace.output._sender._link._guarded(  # type: ignore[union-attr]
        lambda *arguments: faulty(furnace.output._sender._link, *arguments)  # type: ignore[arg-type]
    )
    furnace.tell(alarm(61.0))
    furnace.wait_showing(lambda: planted and furnace.reached[-1] is True, "reached again")
    furnace.tell(alarm(62.0, AlarmState.ACKNOWLEDGED))
    furnace.wait_showing(lambda: {"heat-1:aa:1", "heat-1:aa:2"} <= set(consumer.keys()), "both events")


def test_a_fault_in_the_sender_itself_is_survived(
    broker: Broker, listen: Listen, make_furnace: Light, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever we have not thought of: connect anew, send what was missed."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    furnace.wait_reached()
    board = furnace.output._sender._retained
    sound = board.update
    planted: list[str] = []

    def faulty(*arguments: object) -> None:
        if not planted:
            planted.append("once")
            raise LookupError("planted")
        sound(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(board, "update", faulty)
    furnace.show()
    wait_until(lambda: planted, "the fault")
    furnace.tell(alarm(61.0))
    furnace.wait_showing(lambda: "heat-1:aa:1" in set(consumer.keys()), "the alarm after the fault")


def test_two_furnaces_with_one_id_are_recognised_and_said(
    broker: Broker, listen: Listen, make_furnace: Light, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each throws the other out, and each time it looks like a connection."""
    monkeypatch.setattr("rampwarden.outputs.mqtt.back_off._LONGEST_WAIT_S", 0.5)
    consumer = listen("homie/#")
    one = make_furnace(broker.address)
    (one.folder / "elsewhere").mkdir()
    one.wait_reached()
    other = Furnace(one.folder / "elsewhere", broker.address, record_id="heat-2").light()
    try:
        wait_until(
            lambda: any("another client uses the id" in text for text in one.lost() + other.lost()),
            "the rival recognised",
        )
        one.tell(alarm(61.0))
        other.tell(alarm(61.0))
        one.wait_showing(lambda: {"heat-1:aa:1", "heat-2:aa:1"} & set(consumer.keys()), "one of them heard")
    finally:
        other.end()


def test_a_second_watch_on_the_same_records_waits_and_says_so(broker: Broker, make_furnace: Light) -> None:
    """Two would send everything twice and spoil each other's cursor."""
    one = make_furnace(broker.address)
    one.wait_reached()
    other = make_furnace(broker.address, record_id="heat-2")
    other.wait_showing(other.lost, "the second said to wait")
    assert "another watch on this computer" in other.lost()[0]
    assert other.reached == [False]
    one.end()
    other.wait_showing(lambda: other.reached[-1] is True, "the second takes over")


def test_a_backlog_of_2000_goes_slowly_and_a_live_alarm_passes_it(
    broker: Broker, listen: Listen, tmp_path: object, make_furnace: Light
) -> None:
    """A consumer that needs 2 ms a message gets all of it marked late, and the alarm before most of it."""
    furnace = make_furnace(BrokerAddress("127.0.0.1", free_port()))
    furnace.tell(*(message(float(n)) for n in range(2000)))
    furnace.end()
    consumer = listen("homie/#", slow_s=0.002)
    now = make_furnace(broker.address, record_id="heat-2")
    wait_until(lambda: len(consumer.keys()) > 500, "the backlog on its way")
    now.tell(alarm(61.0))
    heard = consumer.wait_for("alarm/event", "ramp-high")
    behind = len(consumer.keys())
    assert behind < 1500
    assert json.loads(heard.text)["late"] is False
    now.wait_showing(lambda: len(set(consumer.keys())) >= 2001, "the whole backlog", limit_s=90.0)
    late = [each for each in consumer.heard if each.topic.endswith("heat/event")]
    assert {each.user["key"] for each in late} == {f"heat-1:aa:{n}" for n in range(1, 2001)}
    assert {each.user["late"] for each in late} == {"1"}


def test_stopping_with_a_backlog_is_quick_and_loses_nothing(
    broker: Broker, listen: Listen, make_furnace: Light
) -> None:
    """Who stops a watch does not wait for yesterday's news; the next watch sends it."""
    furnace = make_furnace(BrokerAddress("127.0.0.1", free_port()))
    furnace.tell(*(message(float(n)) for n in range(600)))
    furnace.end()
    consumer = listen("homie/#")
    second = make_furnace(broker.address, record_id="heat-2")
    wait_until(lambda: len(consumer.keys()) > 50, "the backlog on its way")
    second.end()
    assert len(set(consumer.keys())) < 600
    third = make_furnace(broker.address, record_id="heat-3")
    third.wait_showing(lambda: len(set(consumer.keys())) == 600, "the rest of the backlog")
