"""The options that the crucible commands share, and how they come to the register."""

import json
import os
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.assembly.register_place import register_place
from rampwarden.plan import CrucibleClass
from rampwarden.records import Register
from rampwarden.settings import Settings, load_settings
from rampwarden.terminal_text import visible_json

FORMAT = "rampwarden-register/1"

MarkArgument = Annotated[str, typer.Argument(help="The crucible's mark.", show_default=False)]
JsonOption = Annotated[bool, typer.Option("--json", help="JSON, for programs.")]
CsvOption = Annotated[bool, typer.Option("--csv", help="CSV, for a spreadsheet.")]
RegisterOption = Annotated[
    str | None,
    typer.Option("--register", help="The register's file or server, instead of the set one.", show_default=False),
]
ClassOption = Annotated[CrucibleClass | None, typer.Option("--class", help="Bond and body.", show_default=False)]
WallOption = Annotated[float | None, typer.Option(help="Thickness of its wall, mm.", show_default=False)]
CapacityOption = Annotated[float | None, typer.Option(help="What it holds of its metal, kg.", show_default=False)]
MassOption = Annotated[float | None, typer.Option(help="What it weighed when new, kg.", show_default=False)]
MetalOption = Annotated[str | None, typer.Option(help="The one metal it is kept for.", show_default=False)]
DescriptionOption = Annotated[str | None, typer.Option(help="Bond and body in your words.", show_default=False)]
BoughtOption = Annotated[str | None, typer.Option(help="The day, as 2026-01-31.", show_default=False)]
FirstUsedOption = Annotated[str | None, typer.Option(help="The day; else its first entered heat.", show_default=False)]
StoredOption = Annotated[str | None, typer.Option(help="dry or damp, as of today.", show_default=False)]
SheetOption = Annotated[str | None, typer.Option("--sheet", help="Which maker's sheet.", show_default=False)]
TopOption = Annotated[
    str | None, typer.Option("--sheet-top", help="The sheet's highest temperature, as '1400 C'.", show_default=False)
]
LimitOption = Annotated[
    list[str] | None,
    typer.Option(
        "--limit", help="A ramp of the sheet, as '20-200 C: at most 30 C / h'; may be repeated.", show_default=False
    ),
]
RetireAtOption = Annotated[
    str | None,
    typer.Option(
        "--retire-at",
        help="When to retire it: '10 %, 40 h, 30 heats' (mass lost, hours above 700 °C, heats), or your own words.",
        show_default=False,
    ),
]
LookedOption = Annotated[
    str | None,
    typer.Option(
        "--looked-at",
        help="Just now looked at cold and tapped, and found sound: what was seen. Clears 'inspect it first'.",
        show_default=False,
    ),
]
NoteOption = Annotated[str | None, typer.Option("--note", help="Anything else.", show_default=False)]


def register_settings(config: Path | None, register: str | None) -> Settings:
    """Give the settings, with the register's file if it is given."""
    return load_settings(config, {"watch.crucible_register": register}, os.environ).settings


def open_register(config: Path | None, register: str | None, *, create: bool = False) -> Register:
    """Open the register that settings and options name."""
    return Register.open(register_place(register_settings(config, register)), create=create)


def now() -> datetime:
    """Give the present moment to the second, as the register dates what happens to a pot."""
    return datetime.now(UTC).replace(microsecond=0)


def today() -> date:
    """Give the present day as the register counts days: in UTC, as heats are dated."""
    return now().date()


def print_json(**fields: object) -> None:
    """Print one JSON object that says which format it is of."""
    print(visible_json(json.dumps({"format": FORMAT, **fields}, ensure_ascii=False)))
