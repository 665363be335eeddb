"""What a value may look like: durations, temperatures, powers, lists, places and names, as people write them.

Checks form and bounds, and says in words what is wrong; knows no section and reads nothing.
"""

import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.instrument import Column
from rampwarden.core.quantities import parse_duration, parse_temperature

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
# Burner power by segment, "*" for those that are not named, kW.
Powers = Annotated[dict[str, float] | None, BeforeValidator(lambda value: None if value is None else _powers(value))]
Columns = Annotated[tuple[Column, ...], BeforeValidator(listed)]
# A name or address, IPv6 in brackets, and perhaps a port.
BrokerName = Annotated[str, Field(pattern=r"^(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(:\d{1,5})?$")]
# A name of this computer as browsers know it; they write it in small letters.
HostName = Annotated[str, Field(pattern=r"^[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?$")]
# One level of a topic, as the Homie convention allows it.
TopicLevel = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]


def _known_alarm(name: str) -> str:
    if name not in CATALOGUE:
        raise ValueError(f"there is no alarm {name!r}")
    return name


KnownAlarm = Annotated[str, AfterValidator(_known_alarm)]
"""The name of an alarm in the catalogue."""
RemoteCommand = Literal["acknowledge", "shelve", "note", "wrong"]
