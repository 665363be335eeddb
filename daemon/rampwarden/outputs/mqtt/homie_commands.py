"""The commands that a furnace may take over MQTT, each with its topic and how it stands in `$description`."""

from rampwarden.core.model import CommandName
from rampwarden.outputs.mqtt.homie_payloads import json_text
from rampwarden.outputs.mqtt.homie_property import Property


def _schema(**fields: str) -> str:
    """Give a JSON schema in the few words that every draft of it understands."""
    return json_text({"type": "object", "properties": {name: {"type": kind} for name, kind in fields.items()}})


COMMANDS: dict[CommandName, tuple[str, Property]] = {
    CommandName.ACKNOWLEDGE: (
        "alarm/acknowledge",
        Property(
            "Acknowledge one alarm, or all without a name",
            "json",
            format=_schema(alarm="string", time="string", by="string"),
            settable=True,
            retained=False,
        ),
    ),
    CommandName.SHELVE: (
        "alarm/shelve",
        Property(
            "Shelve an alarm for some minutes; 0 minutes brings it back",
            "json",
            format=_schema(alarm="string", minutes="number", text="string", time="string", by="string"),
            settable=True,
            retained=False,
        ),
    ),
    CommandName.WRONG: (
        "alarm/wrong",
        Property(
            "Say that an alarm was wrong, or without a name the newest statement; undo takes that back",
            "json",
            format=_schema(alarm="string", undo="boolean", time="string", by="string"),
            settable=True,
            retained=False,
        ),
    ),
    CommandName.NOTE: (
        "heat/note",
        Property(
            "Write a note into the heat record",
            "json",
            format=_schema(text="string", time="string", by="string"),
            settable=True,
            retained=False,
        ),
    ),
    CommandName.ANSWER: (
        "heat/answer",
        Property(
            "Answer a question of heat/questions by its number",
            "json",
            format=_schema(question="integer", text="string", time="string", by="string"),
            settable=True,
            retained=False,
        ),
    ),
}
