"""`rampwarden try`: a short rehearsal for whoever has just installed it, and which three commands come next."""

import sys
from pathlib import Path
from tempfile import mkdtemp
from typing import Annotated

import typer

from rampwarden.cli.during.display_options import PlainOption
from rampwarden.cli.during.rehearse import rehearse
from rampwarden.cli.exit_status import FINE
from rampwarden.cli.saying import say
from rampwarden.sources import FaultName

_NEXT = (
    ("rampwarden schedule new my-heat.toml", "asks for your crucible's figures and drafts your own schedule"),
    ("rampwarden rehearse my-heat.toml --speed 600", "this rehearsal again, with your schedule"),
    ("rampwarden board --port /dev/serial/by-id/…", "listens to your thermocouple board and says what it is"),
)


def try_out(
    schedule: Annotated[Path, typer.Argument(help="Schedule file or name.")] = Path("bronze-first-heat"),
    speed: Annotated[float, typer.Option(min=1.0, max=10_000.0, help="Simulated seconds in one real second.")] = 600.0,
    plain: PlainOption = False,
) -> int:
    """Try it out: a whole first heat against a model furnace in under a minute, with one mishap. Needs nothing."""
    # Kept until the system clears its temporary files: what was just watched can be replayed.
    record = Path(mkdtemp(prefix="rampwarden-")) / "rehearsal.jsonl"
    rehearse(schedule, speed=speed, fault=[FaultName.FAST_RAMP], record=record, plain=plain or not sys.stdout.isatty())
    say("That was a rehearsal against a model furnace. Next:")
    for command, does in _NEXT:
        say(f"  {command}")
        say(f"      {does}", hanging=6)
    # The mishap was ours, so its alarms are no finding.
    return FINE
