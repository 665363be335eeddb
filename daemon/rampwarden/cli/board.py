"""`rampwarden board`: listens to a board before anything depends on it, and says in plain words what it finds."""

import json
import os
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager, closing, nullcontext
from typing import Annotated, Any

import typer

from rampwarden.assembly import board_settings
from rampwarden.bench.asked import Asked
from rampwarden.bench.finding import BoardFinding, Sureness, needs_a_look
from rampwarden.bench.lines import cut_lines
from rampwarden.bench.listening_report import judge_board
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.cli.show_settings import ConfigOption
from rampwarden.cli.tables import Cell, print_table
from rampwarden.clock import Clock, HostClock
from rampwarden.control_places import make_folder
from rampwarden.core.quantities import parse_temperature
from rampwarden.core.thermocouple import thermocouple
from rampwarden.errors import ControlError, PortError, SettingsError
from rampwarden.log_setup import printable
from rampwarden.plan.judgement import Verdict
from rampwarden.records.locks import PortLock
from rampwarden.settings import LoadedSettings, load_settings
from rampwarden.sources.bench_board import BenchBoard, BenchFault, Surroundings
from rampwarden.sources.listening import listen
from rampwarden.sources.rehearsal_board import RehearsalBoard

FORMAT = "rampwarden-board/1"

_STYLES = {Verdict.FINE: "green", Verdict.LOOK_AGAIN: "yellow", Verdict.WILL_NOT_WORK: "bold red"}
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
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object, for programs.")] = False,
) -> int:
    """Listen to a board and say what it is and what is wrong. Exit status 1 when something must be looked at."""
    tip_c = None if tip is None else parse_temperature(tip)
    if rehearse is not None:
        findings, where = _rehearsed(rehearse, seed, seconds, tip_c)
    else:
        loaded = load_settings(config, {"board.port": port}, os.environ)
        where = loaded.settings.board.port
        if not where:
            raise SettingsError("board.port: no port to listen to; give --port, or port in the [board] section")
        with port_held(where):
            findings = _listened(loaded, seconds, tip_c, HostClock())
    if as_json:
        print(json.dumps(_tree(findings, where, seconds), ensure_ascii=False, indent=2))
    else:
        _show(findings, where, seconds)
    return FOUND_SOMETHING if needs_a_look(findings) else FINE


def port_held(port: str) -> AbstractContextManager[object]:
    """Hold the port against a watch; raises `PortError` with what to do when one has it already."""
    try:
        folder = make_folder(os.environ)
    except ControlError:
        return nullcontext()
    try:
        return closing(PortLock(folder, port))
    except PortError as error:
        raise PortError(f"{error}: ask it with rampwarden status, or stop it and listen then") from None


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
    model.put(Surroundings(tip_c=tip_c))
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


def _show(findings: list[BoardFinding], where: str, seconds: float) -> None:
    print(printable(f"Listened to {where} for {seconds:.0f} s."))
    print_table(("", "", "found → what to do"), [_row(finding) for finding in findings])
    wrong = needs_a_look(findings)
    if not wrong:
        print(f"\nHealthy: nothing that listening can tell speaks against this board. {_CANNOT_TELL}")
        return
    first = wrong[0]
    more = f", and {len(wrong) - 1} more" if len(wrong) > 1 else ""
    print()
    print(printable(f"Look at this first: {first.part}{more}."))


def _row(finding: BoardFinding) -> tuple[Cell, ...]:
    sure = "" if finding.sureness is Sureness.CERTAIN else f" ({finding.sureness})"
    do = f" → {finding.do}" if finding.do else ""
    return ((str(finding.verdict), _STYLES[finding.verdict]), finding.part, f"{finding.words}{sure}{do}")


def _tree(findings: list[BoardFinding], where: str, seconds: float) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "port": where,
        "seconds": seconds,
        "healthy": not needs_a_look(findings),
        "findings": [
            {
                "part": finding.part,
                "verdict": finding.verdict,
                "sureness": finding.sureness,
                "words": finding.words,
                "do": finding.do,
                "figures": dict(finding.figures),
            }
            for finding in findings
        ],
    }
