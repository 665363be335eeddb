"""Commands over MQTT: what is obeyed, what is refused and why, and how it is answered."""

import json
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from tests.outputs.mqtt.broker import Broker, Consumer, Furnace, wait_until

from rampwarden.core.model import Command, CommandName
from rampwarden.outputs.mqtt.commands import CommandDesk, CommandRuling
from rampwarden.outputs.mqtt.homie import Device
from rampwarden.outputs.mqtt.message import ArrivedMessage

BASE = "homie/5/furnace-1"
ACKNOWLEDGE, SHELVE, NOTE = f"{BASE}/alarm/acknowledge/set", f"{BASE}/alarm/shelve/set", f"{BASE}/heat/note/set"
WRONG, ANSWER = f"{BASE}/alarm/wrong/set", f"{BASE}/heat/answer/set"
ALL = (CommandName.ACKNOWLEDGE, CommandName.SHELVE, CommandName.NOTE, CommandName.WRONG, CommandName.ANSWER)
NOW = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)


def desk(*allowed: CommandName) -> CommandDesk:
    """Give the desk of a furnace that takes these."""
    return CommandDesk(Device("homie", "furnace-1", "", allowed).command_topics(), "homie/5/")


def judged(topic: str, payload: str | bytes = "{}", **how: object) -> CommandRuling:
    """Let a desk that takes everything judge one message, young unless it is said otherwise."""
    data = payload.encode() if isinstance(payload, str) else payload
    message = ArrivedMessage(topic, data, **({"retained": False, "expiry_s": 20} | how))  # type: ignore[arg-type]
    judgement = desk(*ALL).judge(message, NOW, 100.0)
    assert judgement is not None
    return judgement


@pytest.mark.parametrize(
    ("topic", "payload", "command"),
    [
        (ACKNOWLEDGE, "{}", Command(0.0, CommandName.ACKNOWLEDGE, by="mqtt:unnamed")),
        (
            ACKNOWLEDGE,
            '{"alarm":"ramp-high","by":"Ada"}',
            Command(0.0, CommandName.ACKNOWLEDGE, alarm="ramp-high", by="mqtt:Ada"),
        ),
        (
            SHELVE,
            '{"alarm":"ramp-low","minutes":15,"text":"gas bottle changed"}',
            Command(
                0.0, CommandName.SHELVE, alarm="ramp-low", minutes=15, text="gas bottle changed", by="mqtt:unnamed"
            ),
        ),
        (
            SHELVE,
            '{"alarm":"ramp-low","minutes":0}',
            Command(0.0, CommandName.UNSHELVE, alarm="ramp-low", by="mqtt:unnamed"),
        ),
        (NOTE, '{"text":" lid\\n open "}', Command(0.0, CommandName.NOTE, text="lid open", by="mqtt:unnamed")),
        (WRONG, "{}", Command(0.0, CommandName.WRONG, by="mqtt:unnamed")),
        (WRONG, '{"alarm":"ramp-low"}', Command(0.0, CommandName.WRONG, alarm="ramp-low", by="mqtt:unnamed")),
        (WRONG, '{"undo":true}', Command(0.0, CommandName.UNDO_WRONG, by="mqtt:unnamed")),
        (
            ANSWER,
            '{"question":3,"text":"mist gone"}',
            Command(0.0, CommandName.ANSWER, text="mist gone", by="mqtt:unnamed", question=3),
        ),
        (NOTE, '{"text":"x","unknown":1}', Command(0.0, CommandName.NOTE, text="x", by="mqtt:unnamed")),
    ],
)
def test_a_command_is_understood(topic: str, payload: str, command: Command) -> None:
    """And signed with what the sender calls itself."""
    assert judged(topic, payload) == CommandRuling(command)


def test_the_user_property_by_signs_before_the_payload_does_and_cannot_smuggle_control_characters() -> None:
    """What stands in the record and on terminals is plain text."""
    command = judged(ACKNOWLEDGE, '{"by":"b"}', user=(("by", "Ada\x1b[2J\n" + "x" * 100),)).command
    assert command is not None
    assert command.by == "mqtt:Ada[2J" + "x" * 34


@pytest.mark.parametrize("topic", [NOTE, SHELVE])
def test_a_text_with_control_characters_or_marks_of_direction_is_written_down_without_them(topic: str) -> None:
    """It goes into the record, and from there to terminals, pages and reports."""
    body = {"alarm": "ramp-low", "minutes": 5, "text": "lid\x1b[2J\x07 \u202eopen\u2028\x9b"}
    command = judged(topic, json.dumps(body)).command
    assert command is not None
    assert command.text == "lid�[2J� �open �"


@pytest.mark.parametrize(
    ("topic", "payload", "why"),
    [
        (ACKNOWLEDGE, "ramp-high", "not the JSON object"),
        (ACKNOWLEDGE, b"\xff\xfe", "not the JSON object"),
        (ACKNOWLEDGE, "[]", "not the JSON object"),
        (ACKNOWLEDGE, '{"alarm":7}', "not the JSON object"),
        (ACKNOWLEDGE, '{"alarm":"ramp-hihg"}', "there is no alarm 'ramp-hihg'"),
        (ACKNOWLEDGE, '{"text":"' + "x" * 2000 + '"}', "longer than 2000 bytes"),
        (ACKNOWLEDGE, "[" * 1900, "not the JSON object"),
        (ACKNOWLEDGE, '{"x":' + "[" * 1980, "not the JSON object"),
        (NOTE, '{"x":' * 390, "not the JSON object"),
        (SHELVE, '{"alarm":"ramp-low","minutes":1e-300}', "shelving needs"),
        (SHELVE, '{"alarm":"ramp-low","minutes":' + "9" * 1900 + "}", "not the JSON object"),
        (SHELVE, "{}", 'shelving needs an "alarm"'),
        (SHELVE, '{"alarm":"ramp-low","minutes":-1}', "shelving needs"),
        (SHELVE, '{"alarm":"ramp-low","minutes":1441}', "shelving needs"),
        (SHELVE, '{"alarm":"ramp-low","minutes":NaN}', "not the JSON object"),
        (ANSWER, '{"text":"done"}', 'the number of its "question"'),
        (ANSWER, '{"question":-1,"text":"done"}', 'the number of its "question"'),
        (ANSWER, '{"question":1000001,"text":"done"}', 'the number of its "question"'),
        (ANSWER, '{"question":1}', 'and a "text"'),
        (NOTE, '{"text":"  "}', 'a note needs a "text"'),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_reason(topic: str, payload: str | bytes, why: str) -> None:
    """And never guessed at."""
    judgement = judged(topic, payload)
    assert judgement.command is None
    assert why in judgement.why_not


def test_a_command_the_broker_had_kept_is_ignored() -> None:
    """It would be carried out again at every connection."""
    judgement = judged(ACKNOWLEDGE, retained=True, response_topic="answers/me")
    assert (judgement.command, judgement.answer) == (None, None)
    assert "never retain a command" in judgement.why_not


@pytest.mark.parametrize(
    ("expiry_s", "time", "fits"),
    [
        (None, "", False),
        (31, "", False),
        (30, "", True),
        (None, "2026-01-01T12:00:29Z", True),
        (None, "2026-01-01T13:59:31+02:00", True),
        (None, "2026-01-01T11:59:29Z", False),
        (None, "2026-01-01T12:00:31Z", False),
        (None, "2026-01-01T12:00:05", True),
        (None, "yesterday", False),
        (3600, "2026-01-01T12:00:00Z", True),
    ],
)
def test_only_what_is_surely_young_is_obeyed(expiry_s: int | None, time: str, *, fits: bool) -> None:
    """By the broker's count or by its own time; a command without an age may be from last week."""
    judgement = judged(ACKNOWLEDGE, json.dumps({"time": time}), expiry_s=expiry_s)
    assert (judgement.command is not None) is fits


def test_more_than_one_command_a_second_is_refused() -> None:
    """A finger on a button is slower than that; a loop is not."""
    it = desk(*ALL)
    message = ArrivedMessage(ACKNOWLEDGE, b"{}", retained=False, expiry_s=20)
    outcomes = [it.judge(message, NOW, now_s) for now_s in (100.0, 100.9, 101.0, 101.5, 102.1)]
    assert [bool(outcome and outcome.command) for outcome in outcomes] == [True, False, True, False, True]


def test_what_is_not_allowed_is_no_command_at_all() -> None:
    """Off by default: there is not even a topic."""
    assert desk().topics == []
    message = ArrivedMessage(SHELVE, b"{}", retained=False, expiry_s=20)
    assert desk(CommandName.ACKNOWLEDGE).judge(message, NOW, 100.0) is None


def test_an_answer_goes_where_it_was_asked_for_with_its_correlation() -> None:
    """Taken or not, and why not."""
    taken = judged(ACKNOWLEDGE, response_topic="answers/me", correlation=b"7").answer
    refused = judged(ACKNOWLEDGE, "x", response_topic="answers/me").answer
    assert taken is not None
    assert refused is not None
    assert (taken.topic, taken.correlation, taken.retain) == ("answers/me", b"7", False)
    assert json.loads(taken.payload) == {"command": "acknowledge", "taken": True, "why": ""}
    assert json.loads(refused.payload)["taken"] is False


@pytest.mark.parametrize("topic", ["", "a/#", "a/+/b", "$SYS/x", "homie/5/furnace-2/alarm/acknowledge/set", "a" * 201])
def test_an_answer_is_never_sent_where_it_could_do_harm(topic: str) -> None:
    """Not to patterns, not to the broker's own topics, not to another furnace as if it were a command."""
    judgement = judged(ACKNOWLEDGE, response_topic=topic)
    assert judgement.command is not None
    assert judgement.answer is None


def test_a_command_reaches_the_watch_is_answered_and_said_back(
    broker: Broker, listen: Callable[..., Consumer], make_furnace: Callable[..., Furnace]
) -> None:
    """The whole way through a broker; one that was kept before the furnace came is not obeyed."""
    consumer = listen("homie/#", "answers/#")
    consumer.say(ACKNOWLEDGE, '{"by":"ghost"}', retain=True)
    furnace = make_furnace(broker.address, commands=ALL)
    consumer.wait_for("$state", "ready")
    consumer.say(
        ACKNOWLEDGE,
        '{"alarm":"ramp-high"}',
        MessageExpiryInterval=20,
        ResponseTopic="answers/ada",
        CorrelationData=b"42",
        UserProperty=[("by", "Ada")],
    )
    wait_until(lambda: furnace.obeyed, "the command")
    assert furnace.obeyed == [Command(0.0, CommandName.ACKNOWLEDGE, alarm="ramp-high", by="mqtt:Ada")]
    assert json.loads(consumer.wait_for("answers/ada", "taken").text)["taken"] is True
    consumer.wait_for("alarm/acknowledge", '{"alarm":"ramp-high"}')


def test_nobody_commands_a_furnace_whose_settings_do_not_allow_it(
    broker: Broker, listen: Callable[..., Consumer], make_furnace: Callable[..., Furnace]
) -> None:
    """It does not even listen: the description offers nothing settable, and nothing comes of sending all the same."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    assert "settable" not in consumer.wait_for("$description", "{").text
    consumer.wait_for("$state", "ready")
    consumer.say(ACKNOWLEDGE, "{}", MessageExpiryInterval=20)
    furnace.show(temp_c=240.0)
    consumer.wait_for("probe/temperature", "240.0")
    assert furnace.obeyed == []
