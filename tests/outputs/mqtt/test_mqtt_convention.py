"""A consumer that knows the Homie convention, version 5, and nothing of this program, reads a furnace.

Written from the convention's text (5.0.0, 11 May 2025, with the changes #304, #308, #313 and #325 to its October 2024
draft): discovery, description, the validity of every payload, alerts, settable properties, removal. What it does not
like it reports; the furnace must give it nothing to report.
"""

import json
import re
from collections.abc import Callable
from datetime import datetime

from tests.outputs.mqtt.broker import Broker, Consumer, Furnace, standing, wait_until

from rampwarden.core.model import CommandName

ID = re.compile(r"[a-z0-9-]+")
STATES = {"init", "ready", "disconnected", "sleeping", "lost"}
DATATYPES = {"integer", "float", "boolean", "string", "enum", "color", "datetime", "duration", "json"}


class ConventionReader:
    """Reads topics by the convention's rules; `complaints` is what it did not like."""

    def __init__(self, messages: dict[str, bytes]) -> None:
        self.complaints: list[str] = []
        self.devices: dict[str, dict[str, object]] = {}
        self.values: dict[str, str] = {}
        self.alerts: dict[str, str] = {}
        for topic in messages:
            levels = topic.split("/")
            if len(levels) == 4 and levels[1] == "5" and levels[3] == "$state":
                self._read_device("/".join(levels[:3]), messages)

    def _read_device(self, base: str, messages: dict[str, bytes]) -> None:
        device = base.rpartition("/")[2]
        self._want(ID.fullmatch(device), f"{device}: not an id")
        self._want(messages[f"{base}/$state"].decode() in STATES, f"{base}: state")
        raw = messages.get(f"{base}/$description")
        if not self._want(raw, f"{base}: no description") or raw is None:
            return
        description = json.loads(raw)
        self._want(re.fullmatch(r"5\.\d+", description.get("homie", "")), "homie")
        self._want(type(description.get("version")) is int, "version")
        self._want(isinstance(description.get("name"), str), "name")
        self._want(not ({"root", "parent"} & set(description)), "a root device has neither root nor parent")
        self.devices[device] = description
        known = {f"{base}/$state", f"{base}/$description"}
        for node, fields in description.get("nodes", {}).items():
            self._want(ID.fullmatch(node), f"{node}: not an id")
            for key, each in fields.get("properties", {}).items():
                self._want(ID.fullmatch(key), f"{key}: not an id")
                topic = f"{base}/{node}/{key}"
                known.add(topic)
                self._read_property(topic, each, messages.get(topic))
        for topic, payload in messages.items():
            if topic.startswith(f"{base}/$alert/"):
                self._want(ID.fullmatch(topic.rpartition("/")[2]), f"{topic}: not an id")
                self.alerts[topic.rpartition("/")[2]] = payload.decode()
            elif topic.startswith(f"{base}/") and topic not in known:
                self.complaints.append(f"{topic}: is not in the description")

    def _read_property(self, topic: str, fields: dict[str, object], raw: bytes | None) -> None:
        datatype, form = fields.get("datatype"), str(fields.get("format", ""))
        self._want(datatype in DATATYPES, f"{topic}: datatype {datatype}")
        self._want(datatype not in ("enum", "color") or form, f"{topic}: {datatype} without format")
        for flag in ("settable", "retained"):
            self._want(isinstance(fields.get(flag, True), bool), f"{topic}: {flag}")
        if datatype == "enum":
            entries = form.split(",")
            self._want(all(entries) and len(set(entries)) == len(entries), f"{topic}: format {form}")
        if datatype == "json" and form:
            self._want(isinstance(json.loads(form), dict), f"{topic}: a schema in a string")
        if raw is not None:
            self._want(fields.get("retained", True), f"{topic}: kept, but said not to be")
            self._want(not raw.startswith(b"\xef\xbb\xbf"), f"{topic}: BOM")
            text = raw.decode()
            self._want(self._is_valid(str(datatype), form, text), f"{topic}: {text!r} is no {datatype}")
            self.values[topic] = text.replace("\x00", "")

    @staticmethod
    def _is_valid(datatype: str, form: str, text: str) -> bool:
        match datatype:
            case "integer":
                return re.fullmatch(r"-?\d+", text) is not None and -(2**63) <= int(text) < 2**63
            case "float":
                return re.fullmatch(r"-?\d+(\.\d+)?([eE]-?\d+)?", text) is not None
            case "boolean":
                return text in ("true", "false")
            case "enum":
                return text in form.split(",")
            case "datetime":
                return datetime.fromisoformat(text) is not None
            case "duration":
                return re.fullmatch(r"PT(?=\d)(\d+H)?(\d+M)?(\d+S)?", text) is not None
            case "json":
                return isinstance(json.loads(text), list | dict)
            case _:
                return text != ""

    def _want(self, holds: object, complaint: str) -> bool:
        if not holds:
            self.complaints.append(complaint)
        return bool(holds)


def kept(consumer: Consumer) -> dict[str, bytes]:
    """Give what a broker would keep of what was heard: the last payload of each topic, deletions taken out."""
    latest = {each.topic: each.text.encode() for each in consumer.heard if each.retained}
    return {topic: payload for topic, payload in latest.items() if payload}


def test_a_reader_of_the_convention_finds_and_reads_the_furnace(
    broker: Broker, listen: Callable[..., Consumer], make_furnace: Callable[..., Furnace]
) -> None:
    """It comes late, knows no names, and has nothing to complain about."""
    early = listen("homie/#")
    furnace = make_furnace(broker.address, commands=(CommandName.ACKNOWLEDGE, CommandName.SHELVE, CommandName.NOTE))
    furnace.show(standing())
    early.wait_for("$alert/ramp-high", "142")
    discovery = listen("+/5/+/$state")
    found = discovery.wait_for("$state", "ready").topic.removesuffix("/$state")
    late = listen(f"{found}/#")
    late.wait_for("$alert/ramp-high", "142")
    reader = ConventionReader(kept(late))
    assert reader.complaints == []
    assert list(reader.devices) == ["furnace-1"]
    assert reader.values["homie/5/furnace-1/probe/temperature"] == "231.4"
    assert reader.values["homie/5/furnace-1/schedule/target"] == "200.0"
    assert list(reader.alerts) == ["ramp-high"]
    assert len(reader.values) > 20


def test_every_settable_property_is_listened_to(
    broker: Broker, listen: Callable[..., Consumer], make_furnace: Callable[..., Furnace]
) -> None:
    """The convention demands it, and that the value is said back."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address, commands=(CommandName.NOTE,))
    consumer.wait_for("$state", "ready")
    description = json.loads(consumer.texts("$description")[0])
    settable = [
        f"homie/5/furnace-1/{node}/{key}"
        for node, fields in description["nodes"].items()
        for key, each in fields["properties"].items()
        if each.get("settable")
    ]
    assert settable == ["homie/5/furnace-1/heat/note"]
    consumer.say(f"{settable[0]}/set", '{"text":"gas to 0.04 bar"}', MessageExpiryInterval=30)
    wait_until(lambda: furnace.obeyed, "the note")
    consumer.wait_for("heat/note", "gas to 0.04 bar")


def test_the_description_changes_only_between_init_and_ready(
    broker: Broker, listen: Callable[..., Consumer], make_furnace: Callable[..., Furnace]
) -> None:
    """On each connection: init, everything, ready, in this order."""
    consumer = listen("homie/#")
    furnace = make_furnace(broker.address)
    consumer.wait_for("$state", "ready")
    furnace.show(temp_c=240.0)
    consumer.wait_for("probe/temperature", "240.0")
    order = [
        each.topic.rpartition("/")[2] + "=" + each.text[:5]
        for each in consumer.heard
        if each.topic.endswith(("$state", "$description"))
    ]
    assert [word.partition("=")[0] for word in order] == ["$state", "$description", "$state"]
    assert (order[0], order[2]) == ("$state=init", "$state=ready")
    before_ready = [each.topic for each in consumer.heard[: [e.text for e in consumer.heard].index("ready")]]
    assert any(topic.endswith("probe/temperature") for topic in before_ready)
