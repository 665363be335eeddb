"""The furnace in the words of the Homie convention, version 5: which topics there are and what each should say.

Owns the device's shape (nodes, properties, datatypes), its `$description`, and the payloads made from a heat's status
and events. Knows nothing of brokers, connections or time: it is given a status and says what the topics should read.

Source: the Homie convention 5.0.0 of 11 May 2025 (homieiot.github.io/specification, CC BY 4.0). Two choices of ours
within it: everything is sent at QoS 1, which the convention allows if it is done throughout, because an alarm at QoS 0
is an alarm that may not come; and what the convention has no words for (priority, state and action of an alarm) stands
in properties of the datatype `json`.
"""

import re
import zlib
from collections.abc import Collection, Iterator, Mapping
from datetime import datetime

from rampwarden.core.catalogue import alarm_names, entry_of, is_alarm
from rampwarden.core.heat import Phase
from rampwarden.core.model import WAITING, AlarmState, CommandName, Event, HeatStatus, Priority, Quality, StandingAlarm
from rampwarden.core.monitor_alarms import SIGNAL_LOST
from rampwarden.core.pot import Place, Ready
from rampwarden.outputs.alarm_lines import place_and_time, state_words, yielding_words
from rampwarden.outputs.mqtt.homie_commands import COMMANDS
from rampwarden.outputs.mqtt.homie_payloads import duration, json_text, moment, number, text
from rampwarden.outputs.mqtt.homie_physics import PHYSICS_NODES
from rampwarden.outputs.mqtt.homie_property import RENEWED_S, HeatFacts, Property
from rampwarden.outputs.status_line import done_in_words, next_in_words, readiness_words, standing_in_words

VERSION = "5"
DEVICE_TYPE = "rampwarden-furnace"
DEVICE_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")

# A live value nobody renews is gone after this: whoever looks later must find nothing rather than an old temperature.
EXPIRY_S = 30
# A temperature whose reading is older than this is no longer live, whatever else still runs.
STALE_S = 30.0

_ANNUNCIATED = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED)
_PRESENT = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)


def quality(status: HeatStatus) -> Quality:
    """Judge the temperature as somebody far away must: no reading for a while is no temperature."""
    lost = any(alarm.alarm == SIGNAL_LOST.name and alarm.state in _PRESENT for alarm in status.alarms)
    lost = lost and status.standing_in is None
    if lost or status.temp_c is None or status.read_s is None or status.time_s - status.read_s > STALE_S:
        return Quality.BAD
    return status.quality


def _live_temp_c(status: HeatStatus) -> float | None:
    return None if quality(status) is Quality.BAD else status.temp_c


def _ramp(status: HeatStatus) -> float | None:
    if status.ramp is None or quality(status) is Quality.BAD:
        return None
    return status.ramp.c_per_s * 3600.0


def _per_hour(c_per_s: float | None) -> float | None:
    return None if c_per_s is None else c_per_s * 3600.0


def _highest_priority(status: HeatStatus) -> str:
    # The status lists the most urgent first.
    return next((str(alarm.priority) for alarm in status.alarms if alarm.state in _ANNUNCIATED), "none")


def _standing(status: HeatStatus, heat: HeatFacts) -> str:
    return json_text(
        [
            {
                "alarm": alarm.alarm,
                "state": alarm.state,
                "priority": alarm.priority,
                "text": alarm.text,
                "action": alarm.action,
                "since": moment(heat.started, alarm.since_s),
                "order": alarm.order,
                "first": alarm.is_first,
                "yields_to": alarm.yields_to,
                "value": alarm.value,
                "limit": alarm.limit,
                "unit": alarm.unit,
                "worst": alarm.worst,
                "raised": moment(heat.started, alarm.raised_s),
                "ended": None if alarm.ended_s is None else moment(heat.started, alarm.ended_s),
                "segment": alarm.segment,
            }
            for alarm in status.alarms
        ]
    )


def _questions(status: HeatStatus, heat: HeatFacts) -> str:
    return json_text(
        [
            {
                "question": each.number,
                "text": each.text,
                "answers": each.answers,
                "only_these": each.only_these,
                "checklist": each.is_check,
                "segment": each.segment,
                "asked": moment(heat.started, each.asked_s),
            }
            for each in status.questions
        ]
    )


def _first_order(status: HeatStatus) -> str | None:
    return next((alarm.order for alarm in status.alarms if alarm.is_first), None)


def _ready_text(status: HeatStatus, _: HeatFacts) -> str | None:
    return None if status.readiness is None else text(readiness_words(status))


def _action(event: Event) -> str:
    """Give what an event tells a person to do: only one that raises an alarm orders anything."""
    if not event.alarm or not is_alarm(event.alarm) or event.state is not AlarmState.UNACKNOWLEDGED:
        return ""
    entry = entry_of(event.alarm)
    others = (entry.action_in_doubt, entry.action_milder)
    order = next((each for each in others if each and event.text.endswith(each)), entry.action)
    # One whose order would contradict another's is told without it.
    return "" if (event.raises_alarm or event.pressing) and not event.text.endswith(order) else order


def _count(status: HeatStatus, states: Collection[AlarmState]) -> str:
    return str(sum(alarm.state in states for alarm in status.alarms))


Node = tuple[str, dict[str, Property]]
"""A node's name for people, and its properties."""

NODES: dict[str, Node] = {
    "probe": (
        "Thermocouple",
        {
            # Sent each second even if unchanged: it is also how a broker that no longer answers is noticed.
            "temperature": Property(
                "Temperature", "float", lambda s, _: number(_live_temp_c(s)), unit="°C", renew_s=0.9
            ),
            "ramp": Property("Ramp", "float", lambda s, _: number(_ramp(s)), unit="°C/h", settle_s=5.0),
            "quality": Property(
                "Quality", "enum", lambda s, _: quality(s).value, format=",".join(each.value for each in Quality)
            ),
            # Absent where nobody has said: then nobody knows whose temperature this is.
            "place": Property(
                "Where the probe hangs: its temperature is the pot's, or the chamber's, which runs ahead of the pot",
                "enum",
                lambda s, _: s.place or None,
                format=",".join(each.value for each in Place if each is not Place.UNKNOWN),
                live=False,
            ),
            # Absent while the followed probe is followed: its own temperature needs no such word.
            "standing-in": Property(
                "Which probe stands in for the followed one: its temperature is a guess by that then",
                "string",
                lambda s, _: None if s.standing_in is None else text(s.standing_in.probe),
            ),
            "uncertainty": Property(
                "How far that guess may be off, ±, k = 2",
                "float",
                lambda s, _: None if s.standing_in is None else number(s.standing_in.expanded_c),
                unit="°C",
                settle_s=5.0,
            ),
            "standing-in-text": Property(
                "The same in words, with what is not guarded meanwhile",
                "string",
                lambda s, _: text(standing_in_words(s)) if s.standing_in is not None else None,
                settle_s=5.0,
            ),
            "reading-time": Property(
                "Time of the reading",
                "datetime",
                lambda s, h: None if s.read_s is None else moment(h.started, s.read_s),
                settle_s=5.0,
            ),
        },
    ),
    "schedule": (
        "Schedule",
        {
            "segment": Property("Segment", "string", lambda s, _: text(s.segment)),
            "segment-number": Property("Segment number", "integer", lambda s, _: str(s.segment_number)),
            "segment-count": Property("Segments", "integer", lambda s, _: str(s.segment_count)),
            "phase": Property("Phase", "enum", lambda s, _: s.phase, format=",".join(each.value for each in Phase)),
            "target": Property("Target", "float", lambda s, _: number(s.target_c), unit="°C"),
            "ramp-lowest": Property(
                "Lowest ramp allowed", "float", lambda s, _: number(_per_hour(s.allowed_c_per_s[0])), unit="°C/h"
            ),
            "ramp-highest": Property(
                "Highest ramp allowed", "float", lambda s, _: number(_per_hour(s.allowed_c_per_s[1])), unit="°C/h"
            ),
            "soaked": Property("Soaked so far", "duration", lambda s, _: duration(s.soaked_s), settle_s=RENEWED_S),
            "not-confirmed": Property(
                "Soaked, not confirmed", "duration", lambda s, _: duration(s.unconfirmed_s), settle_s=RENEWED_S
            ),
            "hold": Property("Soak to hold", "duration", lambda s, _: duration(s.hold_s)),
            "to-next": Property(
                "Time to the next segment", "duration", lambda s, _: duration(s.to_next_s), settle_s=RENEWED_S
            ),
            "to-next-range": Property(
                "The same in words, from the least to the most it may be", "string", lambda s, _: text(next_in_words(s))
            ),
            "to-end": Property("Time to the end", "duration", lambda s, _: duration(s.to_end_s), settle_s=RENEWED_S),
            "to-end-range": Property(
                "The same in words, from the least to the most it may be", "string", lambda s, _: text(done_in_words(s))
            ),
            "stops-near": Property(
                "Where the climb will stop at this flame, short of its end",
                "float",
                lambda s, _: number(s.stops_near_c),
                unit="°C",
                settle_s=RENEWED_S,
            ),
        },
    ),
    "heat": (
        "Heat",
        {
            "record": Property("Heat record", "string", lambda _, h: text(h.record_id), live=False),
            "title": Property("Schedule", "string", lambda _, h: text(h.title), live=False),
            "crucible": Property("Crucible", "string", lambda _, h: text(h.crucible), live=False),
            "started": Property("Started", "datetime", lambda _, h: moment(h.started, 0.0), live=False),
            "elapsed": Property("Elapsed", "duration", lambda s, _: duration(s.time_s), settle_s=RENEWED_S),
            # What is told at the end stays: nobody knows when it will be read, and the next heat takes it back.
            "readiness": Property(
                "What the pot is ready for, once the heat is over",
                "enum",
                lambda s, _: None if s.readiness is None else s.readiness.ready,
                format=",".join(each.value for each in Ready),
                live=False,
            ),
            "readiness-text": Property("The same in words, with the gravest reason", "string", _ready_text, live=False),
            "questions": Property("What the watch has asked, oldest first, the checklist last", "json", _questions),
            "event": Property("What happens", "json", retained=False),
        },
    ),
    **PHYSICS_NODES,
    "alarm": (
        "Alarms",
        {
            "active-count": Property("Alarms present", "integer", lambda s, _: _count(s, _PRESENT)),
            "unacknowledged-count": Property("Alarms not acknowledged", "integer", lambda s, _: _count(s, WAITING)),
            "highest-priority": Property(
                "Highest priority",
                "enum",
                lambda s, _: _highest_priority(s),
                format=",".join(["none", *(each.value for each in Priority)]),
            ),
            "order": Property("What to do first, in at most twenty letters", "string", lambda s, _: _first_order(s)),
            "standing": Property("Alarms that are not normal", "json", _standing),
            "event": Property("Changes of alarms", "json", retained=False),
        },
    ),
}

ALARM_EVENT = "alarm/event"
HEAT_EVENT = "heat/event"
TEMPERATURE = "probe/temperature"


class Device:
    """One furnace on the broker: its topics, and what each should say. `further` are nodes of this furnace alone."""

    def __init__(
        self,
        prefix: str,
        device_id: str,
        name: str,
        allowed: Collection[CommandName] = (),
        further: Mapping[str, Node] | None = None,
    ) -> None:
        self._nodes = {**NODES, **(further or {})}
        self.base = f"{prefix}/{VERSION}/{device_id}"
        self.state_topic = f"{self.base}/$state"
        self.description_topic = f"{self.base}/$description"
        self._name = name or device_id
        self._commands = {name: COMMANDS[name] for name in COMMANDS if name in allowed}

    def description(self) -> str:
        """Give `$description`. Its version is drawn from its text, so it changes exactly when the text does."""
        nodes: dict[str, dict[str, object]] = {}
        for node, (node_name, properties) in self._nodes.items():
            described = {key: each.description() for key, each in properties.items()}
            for path, command in self._commands.values():
                if path.startswith(f"{node}/"):
                    described[path.partition("/")[2]] = command.description()
            nodes[node] = {"name": node_name, "properties": described}
        body: dict[str, object] = {"homie": f"{VERSION}.0", "name": self._name, "type": DEVICE_TYPE, "nodes": nodes}
        return json_text({"version": zlib.crc32(json_text(body).encode()), **body})

    def command_topics(self) -> dict[str, CommandName]:
        """Give the topic of each command this device takes."""
        return {f"{self.base}/{path}/set": name for name, (path, _) in self._commands.items()}

    def values(self, status: HeatStatus, heat: HeatFacts) -> Iterator[tuple[str, Property, str | None]]:
        """Give every retained property with its topic and what it should say; None: nothing."""
        for node, (_, properties) in self._nodes.items():
            for key, each in properties.items():
                if each.value is not None:
                    yield f"{self.base}/{node}/{key}", each, each.value(status, heat)

    def alerts(self, status: HeatStatus) -> Iterator[tuple[str, str | None]]:
        """Give the alert topic of every alarm there is, with its sentence, or None where nothing is to be said."""
        shown = {alarm.alarm: alarm for alarm in status.alarms if alarm.state in _ANNUNCIATED}
        for name in alarm_names(probe.probe for probe in status.probes):
            alarm = shown.get(name)
            # An id of the convention has letters, digits and hyphens.
            yield f"{self.base}/$alert/{name.replace(':', '-')}", None if alarm is None else _alert(alarm)

    def event(
        self, event: Event, heat_id: str, started: datetime, key: str, *, late: bool, on_disk: bool = True
    ) -> tuple[str, str]:
        """Give an event's topic and JSON. `late`: it is history, no news; not `on_disk`: its record may yet lose it."""
        body: dict[str, object] = {
            "key": key,
            "time": moment(started, event.time_s),
            "heat": heat_id,
            "elapsed_s": event.time_s,
            "event": event.event,
        }
        if event.alarm is not None:
            body |= {
                "alarm": event.alarm,
                "state": event.state,
                "priority": event.priority,
                "value": event.value,
                "limit": event.limit,
                "unit": event.unit,
                "worst": event.worst,
                "action": _action(event),
            }
        body |= {"segment": event.segment, "segment_number": event.segment_number, "text": event.text}
        body |= {"late": late, "on_disk": on_disk}
        path = HEAT_EVENT if event.alarm is None else ALARM_EVENT
        return f"{self.base}/{path}", json_text(body)


def _alert(alarm: StandingAlarm) -> str:
    said = f"{state_words(alarm)} · {alarm.alarm} since {place_and_time(alarm)}: {alarm.text}"
    waits = "not yet acknowledged" if alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED else ""
    return " · ".join(part for part in (said, alarm.action or yielding_words(alarm) or waits) if part)
