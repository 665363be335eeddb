"""`rampwarden rehearse`: the same service, watching a model furnace behind a real pseudo-terminal."""

import os
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.assembly.board_speech import SPEAKS_FRAMES
from rampwarden.assembly.heat_start import fresh_heat
from rampwarden.assembly.mqtt import REHEARSAL_PREFIX, rehearsed
from rampwarden.assembly.probes import watched_board
from rampwarden.assembly.rehearsed_probes import places_beside, with_probes
from rampwarden.assembly.running import run_watch
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.during.display_options import PlainOption
from rampwarden.cli.during.heat_options import CrucibleOption, MetalOption, NoteOption, RecordOption
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.core.instrument import Dating
from rampwarden.schedule_files import find_schedule, read_schedule
from rampwarden.settings import load_settings
from rampwarden.sources import (
    DESCRIPTIONS,
    PROBE_FAULTS,
    USUAL_BOTTLE_KG,
    BesidePlace,
    ModelHeat,
    NoiseClass,
    Rehearsal,
    RehearsalBoard,
    read_mishaps,
)

_FAULT_HELP = (
    "Let something go wrong: "
    + "; ".join(f"{name} ({text})" for name, text in DESCRIPTIONS.items())
    + ". To another probe, once for each, as chamber:open-sensor: "
    + ", ".join(PROBE_FAULTS)
    + "."
)


def rehearse(
    schedule: Annotated[Path, typer.Argument(help="Schedule file or name.")],
    speed: Annotated[float, typer.Option(min=1.0, max=10_000.0, help="Simulated seconds in one real second.")] = 60.0,
    fault: Annotated[list[str] | None, typer.Option(help=_FAULT_HELP, show_default=False)] = None,
    probe: Annotated[
        list[BesidePlace] | None,
        typer.Option(
            help="A probe beside the pot's, once for each; without it those of the settings.", show_default=False
        ),
    ] = None,
    seed: Annotated[int, typer.Option(help="Another seed is another heat; the same seed is the same heat.")] = 1,
    record: RecordOption = None,
    crucible: CrucibleOption = None,
    metal: MetalOption = None,
    note: NoteOption = None,
    config: ConfigOption = None,
    interval: Annotated[float, typer.Option(min=0.05, max=10.0, help="Seconds between readings.")] = 1.0,
    noise: Annotated[NoiseClass, typer.Option(help="How rough the flame and the wiring are.")] = NoiseClass.MODERATE,
    plain: PlainOption = False,
    tell_broker: Annotated[
        bool, typer.Option("--tell-broker", help=f"Tell the settings' broker too, below {REHEARSAL_PREFIX}/.")
    ] = False,
) -> int:
    """Rehearse a heat against a model furnace: the very same service, faster. Exit status 1 when alarms were raised."""
    file = find_schedule(schedule)
    # Board and watch share one simulated clock, so the board's own clock is the only one to go by; and a second of real
    # time is many of the heat's, so the log speaks about once a real second.
    flags = {
        **SPEAKS_FRAMES,
        "board.interval": interval,
        "board.dating": Dating.BOARD,
        "watch.crucible": crucible,
        "watch.metal": metal,
        "watch.note": note,
        "watch.status_every": max(60.0, speed),
    }
    if not tell_broker:
        flags["mqtt.broker"] = ()
    settings = rehearsed(load_settings(config, flags, os.environ).settings)
    beside = places_beside(settings, probe or ())
    mishaps = read_mishaps(fault or (), beside)
    model = ModelHeat(
        read_schedule(file)[0],
        seed=seed,
        fault=mishaps.of_heat,
        noise=noise,
        interval_s=interval,
        beside=beside,
        mishaps=mishaps.of_probes,
        bottle_kg=settings.workshop.bottle_kg or USUAL_BOTTLE_KG,
    )
    furnace = RehearsalBoard(model, speed)
    settings = with_probes(settings, beside, furnace.port)
    source = Rehearsal(watched_board(settings, furnace.clock), furnace)
    heat = fresh_heat(settings, file, record, lasting=False)
    running = run_watch(settings, heat, source, furnace.clock, furnace.finished.is_set, plain=plain)
    return FOUND_SOMETHING if running.alarms_raised else FINE
