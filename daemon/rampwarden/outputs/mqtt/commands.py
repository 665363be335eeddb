"""Commands that come over MQTT: who may say what, how old it may be, and what it means.

A message on a command topic becomes a `Command` for the watch, or a refusal with its reason. Refused are: what is not
allowed by setting, what the broker had kept (retained), what is older than 30 s or does not say its age, what is not
the JSON object it should be, and more than one a second. MQTT does not tell who sent a message; `by` is what the sender
calls itself and is written down as that.

Judges messages only; times are given, nothing is sent from here.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import msgspec
from msgspec import Struct

from rampwarden.core.catalogue import is_alarm
from rampwarden.core.model import Command, CommandName
from rampwarden.errors import UNREADABLE_JSON
from rampwarden.outputs.mqtt.homie_payloads import json_text
from rampwarden.outputs.mqtt.message import ArrivedMessage, Message
from rampwarden.rate_limiter import RateLimiter
from rampwarden.terminal_text import printable

# An acknowledgement that has been on its way longer was meant for a situation that is over.
OLDEST_S = 30
_LEAST_BETWEEN_S = 1.0
_LONGEST = 2000
_LONGEST_NOTE = 500
_LONGEST_NAME = 40
_SHORTEST_SHELVED_MIN, _LONGEST_SHELVED_MIN = 1, 24 * 60
_MOST_QUESTIONS = 1_000_000
_RESPONSE_TOPIC = re.compile(r"[^#+\x00$][^#+\x00]{0,199}")


class _Body(Struct):
    """What a command's JSON may say; unknown keys are passed over."""

    alarm: str = ""
    minutes: float = 0.0
    text: str = ""
    time: str = ""
    by: str = ""
    undo: bool = False
    question: int = 0


@dataclass(frozen=True, slots=True)
class CommandRuling:
    """A command to be carried out, or why not; `answer` is what to tell whoever sent it, if they asked to be told."""

    command: Command | None
    why_not: str = ""
    answer: Message | None = None


class CommandDesk:
    """Judges every command message of one device. `topics` are those of the commands that are allowed."""

    def __init__(self, topics: Mapping[str, CommandName], closed_to_answers: str) -> None:
        self._topics = topics
        self._closed_to_answers = closed_to_answers
        self._rate_limiter = RateLimiter(1, _LEAST_BETWEEN_S)

    @property
    def topics(self) -> list[str]:
        """The topics to subscribe to."""
        return list(self._topics)

    def judge(self, message: ArrivedMessage, wall: datetime, now_s: float) -> CommandRuling | None:
        """Judge a message; None when it is no command. `wall` is the time now, `now_s` the same on a steady clock."""
        name = self._topics.get(message.topic)
        if name is None:
            return None
        if message.retained:
            return CommandRuling(None, f"{name}: ignored, because the broker had kept it: never retain a command")
        try:
            command = self._understand(name, message, wall)
            self._hold_back(now_s)
        except ValueError as error:
            return CommandRuling(None, f"{name}: {error}", self._answer(message, name, str(error)))
        return CommandRuling(command, answer=self._answer(message, name, ""))

    def _understand(self, name: CommandName, message: ArrivedMessage, wall: datetime) -> Command:
        if len(message.payload) > _LONGEST:
            raise ValueError(f"longer than {_LONGEST} bytes")
        try:
            body = msgspec.json.decode(message.payload, type=_Body)
        except UNREADABLE_JSON as error:
            raise ValueError(f'not the JSON object it should be, such as {{"alarm":"ramp-high"}}: {error}') from None
        _see_to_age(message, body.time, wall)
        named = message.user_property("by") or body.by or "unnamed"
        by = "mqtt:" + "".join(letter for letter in named if letter.isprintable())[:_LONGEST_NAME]
        text = printable(" ".join(body.text.split()))[:_LONGEST_NOTE]
        if body.alarm and not is_alarm(body.alarm):
            raise ValueError(f"there is no alarm {body.alarm[:_LONGEST_NAME]!r}")
        if name is CommandName.NOTE:
            if not text:
                raise ValueError('a note needs a "text"')
            return Command(0.0, name, text=text, by=by)
        if name is CommandName.ANSWER:
            # By its number alone: "done", said late or from afar, must not be taken for the answer to something else.
            if not text or not 1 <= body.question <= _MOST_QUESTIONS:
                raise ValueError('an answer needs the number of its "question", and a "text"')
            return Command(0.0, name, text=text, by=by, question=body.question)
        if name is CommandName.SHELVE:
            if body.alarm and body.minutes == 0:
                return Command(0.0, CommandName.UNSHELVE, alarm=body.alarm, by=by)
            if not body.alarm or not _SHORTEST_SHELVED_MIN <= body.minutes <= _LONGEST_SHELVED_MIN:
                raise ValueError('shelving needs an "alarm" and "minutes", 1 to 1440, or 0 to bring it back')
            return Command(0.0, name, alarm=body.alarm, minutes=body.minutes, text=text, by=by)
        if name is CommandName.WRONG and body.undo:
            name = CommandName.UNDO_WRONG
        return Command(0.0, name, alarm=body.alarm, by=by)

    def _hold_back(self, now_s: float) -> None:
        if self._rate_limiter.wait_s(now_s) > 0:
            raise ValueError("more than one command a second; send it again")
        self._rate_limiter.note(now_s)

    def _answer(self, message: ArrivedMessage, name: CommandName, why_not: str) -> Message | None:
        topic = message.response_topic
        # An answer is sent wherever the sender says, but never to where another furnace takes it for its own.
        if not _RESPONSE_TOPIC.fullmatch(topic) or topic.startswith(self._closed_to_answers):
            return None
        body = {"command": name, "taken": not why_not, "why": why_not}
        return Message(topic, json_text(body).encode(), is_json=True, expiry_s=60, correlation=message.correlation)


def _see_to_age(message: ArrivedMessage, time: str, wall: datetime) -> None:
    """Let only what is surely young pass: the broker counts an expiry down, or the message says when it was sent."""
    if message.expiry_s is not None and message.expiry_s <= OLDEST_S:
        return
    if not time:
        raise ValueError(f'give it a message expiry of at most {OLDEST_S} s, or a "time", so that it cannot come late')
    try:
        sent = datetime.fromisoformat(time)
    except ValueError:
        raise ValueError(f"{time[:_LONGEST_NAME]!r} is not a time such as 2026-01-31T09:30:00Z") from None
    sent = sent if sent.tzinfo else sent.replace(tzinfo=UTC)
    if abs(wall - sent) > timedelta(seconds=OLDEST_S):
        raise ValueError(f"its time is more than {OLDEST_S} s from ours, {wall:%Y-%m-%dT%H:%M:%SZ}")
