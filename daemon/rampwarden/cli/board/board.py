"""`rampwarden board`: listens to a board before anything depends on it, and says in plain words what it finds."""

import json
import os
import sys
from collections.abc import Callable
from typing import Annotated

import typer

from rampwarden.assembly.heat import board_settings
from rampwarden.bench import Asked, BoardFinding, cut_lines, judge_board, needs_a_look
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.board.bring_up import NO_PORT, bring_up, port_held
from rampwarden.cli.board.views import FORMAT, finding_tree, print_findings
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.clock import Clock, HostClock
from rampwarden.core.instrument import thermocouple
from rampwarden.core.quantities import parse_temperature
from rampwarden.errors import SettingsError
from rampwarden.settings import LoadedSettings, load_settings
from rampwarden.sources import BenchBoard, BenchFault, BenchSurroundings, RehearsalBoard, listen
from rampwarden.terminal_text import printable, visible_json

# Half a minute of listening in a third of a second: a thousand lines a second, which any computer reads.
_REHEARSAL_SPEED = 100.0
_REHEARSED_TIP_C = 100.0
_CANNOT_TELL = "Listening cannot tell gain and polarity of a cold probe: rampwarden board --walk does."


def board(
    port: Annotated[str | None, typer.Option(help="Serial port (a /dev/serial/by-id path) or pyserial URL.")] = None,
    config: ConfigOption = None,
    seconds: Annotated[float, typer.Option(min=3.0, max=600.0, help="How long to listen.")] = 30.0,
    tip: Annotated[
        str | None, typer.Option(help='Where the tip is, if you know: "0 C" in ice, "100 C" in boiling water.')
    ] = None,
    rehearse: Annotated[
        BenchFault | None,
        typer.Option(help="Listen to a model board with this wrong, its tip in boiling water.", show_default=False),
    ] = None,
    seed: Annotated[int, typer.Option(help="Another seed is another model board.")] = 1,
    walk: Annotated[bool, typer.Option("--walk", help="Go through the bring-up checks and calibrate.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object, for programs.")] = False,
) -> int:
    """Listen to a board and say what it is and what is wrong. Exit status 1 when something must be looked at."""
    if walk:
        return bring_up(
            load_settings(config, {"board.port": port}, os.environ).settings, rehearse, seed, as_json=as_json
        )
    tip_c = None if tip is None else parse_temperature(tip)
    if rehearse is not None:
        findings, where = _rehearsed(rehearse, seed, seconds, tip_c)
    else:
        loaded = load_settings(config, {"board.port": port}, os.environ)
        where = loaded.settings.board.port
        if not where:
            raise SettingsError(NO_PORT)
        with port_held(where):
            findings = _listened(loaded, seconds, tip_c, HostClock())
    if as_json:
        tree = {"format": FORMAT, "port": where, "seconds": seconds, **finding_tree(findings)}
        print(visible_json(json.dumps(tree, ensure_ascii=False, indent=2)))
    else:
        print(printable(f"Listened to {where} for {seconds:.0f} s."))
        print_findings(findings)
        print()
        print(printable(_conclusion(findings, tip_is_known=tip is not None or rehearse is not None)))
    return FOUND_SOMETHING if needs_a_look(findings) else FINE


def _listened(loaded: LoadedSettings, seconds: float, tip_c: float | None, clock: Clock) -> list[BoardFinding]:
    settings = loaded.settings
    line = board_settings(settings)
    is_set = "board.format" in loaded.origins or "board.columns" in loaded.origins
    asked = Asked(
        couple=thermocouple(settings.thermocouple.type),
        framed=(line.columns is None) if is_set else None,
        columns=line.columns,
        channel=line.channel,
        tip_c=tip_c,
        one_clock=clock.speed != 1.0,
    )
    chunks = listen(line.port, line.baud, dtr=line.dtr, seconds=seconds, clock=clock, tick=_progress(seconds))
    return judge_board(cut_lines(chunks), asked)


def _rehearsed(fault: BenchFault, seed: int, seconds: float, tip_c: float | None) -> tuple[list[BoardFinding], str]:
    """Listen to a model board behind a real pseudo-terminal, its tip where it is said to be or in boiling water."""
    tip_c = _REHEARSED_TIP_C if tip_c is None else tip_c
    model = BenchBoard(seed, fault)
    model.put(BenchSurroundings(tip_c=tip_c))
    played = RehearsalBoard(model, _REHEARSAL_SPEED)
    loaded = load_settings(None, {"board.port": played.port, "board.format": "frames"}, {})
    played.start()
    try:
        findings = _listened(loaded, seconds, tip_c, played.clock)
    finally:
        played.stop()
    return findings, f"a model board ({fault})"


def _progress(seconds: float) -> Callable[[float], None]:
    """Give what shows on a terminal how far the listening is, and nowhere else."""
    shown = -1

    def show(listened_s: float) -> None:
        nonlocal shown
        whole = int(listened_s)
        if whole != shown:
            shown = whole
            text = f"listening: {whole} of {seconds:.0f} s" if listened_s else "waiting for the first line"
            print(f"\r\x1b[K{'' if listened_s >= seconds else text}", end="", file=sys.stderr, flush=True)

    return show if sys.stderr.isatty() else lambda _listened_s: None


def _conclusion(findings: list[BoardFinding], *, tip_is_known: bool) -> str:
    wrong = needs_a_look(findings)
    if not wrong:
        left = "" if tip_is_known else f" {_CANNOT_TELL}"
        return f"Healthy: nothing that listening can tell speaks against this board.{left}"
    more = f", and {len(wrong) - 1} more" if len(wrong) > 1 else ""
    return f"Look at this first: {wrong[0].part}{more}."
