"""What several commands ask about a heat: its schedule, crucible, metal, note and record."""

from pathlib import Path
from typing import Annotated

import typer

ScheduleArgument = Annotated[Path | None, typer.Argument(help="Schedule file or name.", show_default=False)]
CrucibleOption = Annotated[
    str | None, typer.Option("--crucible", help="The crucible's mark: its heat is entered for it.", show_default=False)
]
MetalOption = Annotated[str | None, typer.Option("--metal", help="What is to be melted.", show_default=False)]
NoteOption = Annotated[str | None, typer.Option("--note", help="A line for the record's header.", show_default=False)]
RecordOption = Annotated[
    Path | None, typer.Option("--record", help="Heat record to write; default: named by date.", show_default=False)
]
