"""What a value may look like: durations, temperatures, powers, lists, places and names, as people write them.

Checks form and bounds, and says in words what is wrong; knows no section and reads nothing.
"""

import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from rampwarden.core.instrument import Column
from rampwarden.core.model import mark_name
from rampwarden.core.quantities import parse_duration, parse_temperature
from rampwarden.core.usual_marks import refuse_unusable
from rampwarden.database import place_of
from rampwarden.settings.key_names import key_code

# No burner of a small foundry is stronger: a figure above it is in watts.
_MOST_KW = 1000.0
# The environment has only text, so a bare number in quotes is one too: seconds or °C, as the key says.
_BARE_NUMBER = re.compile(r"[+-]?\d{1,7}(\.\d{1,6})?")


def _seconds(value: object) -> object:
    if isinstance(value, bool) or (isinstance(value, str) and not _BARE_NUMBER.fullmatch(value)):
        return parse_duration(value)
    return value


def _celsius(value: object) -> object:
    if isinstance(value, bool) or (isinstance(value, str) and not _BARE_NUMBER.fullmatch(value)):
        return parse_temperature(value)
    return value


def _channel(value: object) -> object:
    """Take a channel by its number, from 0 to 255, or by the name that the board's settings give it."""
    if isinstance(value, bool) or not isinstance(value, int | str):
        raise ValueError("a channel is a number, or a name from 'values'")
    number = int(value) if isinstance(value, int) or value.strip().isdecimal() else None
    if number is None:
        return value
    if not 0 <= number <= 255:
        side = "less than or equal to 255" if number > 255 else "greater than or equal to 0"
        raise ValueError(f"input should be {side}")
    return number


def _several(value: object) -> object:
    """Take one number or name as a list of one."""
    return [value] if isinstance(value, int | float) and not isinstance(value, bool) else listed(value)


def listed(value: object) -> object:
    """Take several, or one text with commas between them."""
    return [part.strip() for part in value.split(",") if part.strip()] if isinstance(value, str) else value


def _at_home(value: object) -> object:
    # Only a shell would do it otherwise, and a folder named ~ is nobody's wish.
    try:
        return Path(value).expanduser() if isinstance(value, str) else value
    except RuntimeError as error:
        raise ValueError(str(error)) from None


Seconds = Annotated[float, BeforeValidator(_seconds), Field(ge=0, le=86_400, allow_inf_nan=False)]
# Up to ten years; a bare number is seconds here too.
LongTime = Annotated[float, BeforeValidator(_seconds), Field(ge=0, le=315_360_000, allow_inf_nan=False)]
Celsius = Annotated[float, BeforeValidator(_celsius), Field(ge=-270, le=2000, allow_inf_nan=False)]


def _powers(value: object) -> object:
    """Take one power for every segment, or several: a table, or text such as ``to red heat=12, *=9``."""
    if isinstance(value, str) and "=" in value:
        value = {name.strip(): power.strip() for name, _, power in (part.rpartition("=") for part in value.split(","))}
    table = value if isinstance(value, Mapping) else {"*": value}
    return {str(name): _power(name, power) for name, power in table.items()}


def _power(name: object, power: object) -> float:
    try:
        kw = float(power) if isinstance(power, str | int | float) and not isinstance(power, bool) else math.nan
    except ValueError:
        kw = math.nan
    if not name or not 0.0 <= kw <= _MOST_KW:
        raise ValueError(f"{power!r} is no power from 0 to {_MOST_KW:g} kW, alone or by segment ('to red heat' = 12)")
    return kw


Place = Annotated[Path, BeforeValidator(_at_home)]
# A file of tables, or the server a shop shares, by its URL.
TablesPlace = Annotated[Path | str, BeforeValidator(lambda value: place_of(value) if isinstance(value, str) else value)]
# Burner power by segment, "*" for those that are not named, kW.
Powers = Annotated[dict[str, float] | None, BeforeValidator(lambda value: None if value is None else _powers(value))]
# A channel of a board: its number, or its name where the board's format has names.
Channel = Annotated[int | str, BeforeValidator(_channel)]
# Labels or keys as the board writes them, one or several.
Names = Annotated[tuple[Annotated[str, Field(max_length=60)], ...], BeforeValidator(listed)]
# What a board is asked: one question, or one a line. A comma belongs to it.
Questions = Annotated[tuple[str, ...], BeforeValidator(lambda value: [value] if isinstance(value, str) else value)]
Registers = Annotated[tuple[Annotated[int, Field(ge=0, le=65_535)], ...], BeforeValidator(_several)]
Numbers = Annotated[tuple[Annotated[float, Field(allow_inf_nan=False)], ...], BeforeValidator(_several)]
Columns = Annotated[tuple[Column, ...], BeforeValidator(listed)]
# A name or address, IPv6 in brackets, and perhaps a port.
BrokerName = Annotated[str, Field(pattern=r"^(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(:\d{1,5})?$")]
# A name of this computer as browsers know it; they write it in small letters.
HostName = Annotated[str, Field(pattern=r"^[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?$")]
# A probe or board: its name stands in those of its alarms and in topics.
ProbeName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=24)]
# One level of a topic, as the Homie convention allows it.
TopicLevel = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]


def _known_key(name: str) -> str:
    key_code(name)
    return mark_name(name)


KeyName = Annotated[str, AfterValidator(_known_key)]
"""A key by its name or code."""


def _usable_mark(text: str) -> str:
    refuse_unusable(text)
    return text


MarkText = Annotated[str, Field(min_length=1, max_length=500), AfterValidator(_usable_mark)]
"""A mark that can be set as it stands, with its value if it has one."""


def _known_alarm(name: str) -> str:
    # With the catalogue come all that judge: too much for whoever sets no alarm and watches nothing.
    from rampwarden.core.catalogue import CATALOGUE  # noqa: PLC0415

    if name not in CATALOGUE:
        raise ValueError(f"there is no alarm {name!r}")
    return name


KnownAlarm = Annotated[str, AfterValidator(_known_alarm)]
"""The name of an alarm in the catalogue."""
RemoteCommand = Literal["acknowledge", "shelve", "note", "wrong", "answer"]
