"""`rampwarden status`, as it is typed."""

from typing import Annotated

import typer

from rampwarden.cli.during import standing

WatchOption = Annotated[str, typer.Option("--watch", help="Which watch, when several are running.", show_default=False)]


def status(
    watch: WatchOption = "",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object, for programs.")] = False,
) -> None:
    """Show how a running watch stands: temperature, ramp, segment, and every alarm that is not normal."""
    standing.status(watch, as_json=as_json)
