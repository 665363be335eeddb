"""The commands that a furnace may take over MQTT, each with its topic and how it stands in `$description`."""

from rampwarden.core.model import CommandName
from rampwarden.outputs.mqtt.homie_payloads import json_text
from rampwarden.outputs.mqtt.homie_property import Property


def _command(topic: str, about: str, **fields: str) -> tuple[str, Property]:
    """Give a command's topic and property; its JSON schema in the few words that every draft of it understands."""
    kinds = {**fields, "time": "string", "by": "string"}
    schema = json_text({"type": "object", "properties": {name: {"type": kind} for name, kind in kinds.items()}})
    return topic, Property(about, "json", format=schema, settable=True, retained=False)


COMMANDS: dict[CommandName, tuple[str, Property]] = {
    CommandName.ACKNOWLEDGE: _command(
        "alarm/acknowledge", "Acknowledge one alarm, or all without a name", alarm="string"
    ),
    CommandName.SHELVE: _command(
        "alarm/shelve",
        "Shelve an alarm for some minutes; 0 minutes brings it back",
        alarm="string",
        minutes="number",
        text="string",
    ),
    CommandName.WRONG: _command(
        "alarm/wrong",
        "Say that an alarm was wrong, or without a name the newest statement; undo takes that back",
        alarm="string",
        undo="boolean",
    ),
    CommandName.NOTE: _command("heat/note", "Write a note into the heat record", text="string"),
    CommandName.ANSWER: _command(
        "heat/answer", "Answer a question of heat/questions by its number", question="integer", text="string"
    ),
}
