"""`rampwarden board --walk`: the bring-up checks with a person, and the calibration that comes of them."""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext
from datetime import UTC, datetime

import typer

from rampwarden.assembly.heat import board_settings
from rampwarden.bench import Result, calibration_from, needs_a_look
from rampwarden.cli.board.people import ConsolePerson, ModelPerson
from rampwarden.cli.board.views import FORMAT, finding_tree, print_findings
from rampwarden.cli.board.walk import Person, Walk
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.clock import Clock, HostClock
from rampwarden.control import make_folder
from rampwarden.core.instrument import BoardCalibration, Dating, thermocouple
from rampwarden.errors import ControlError, PortError, SettingsError
from rampwarden.records import PortLock, keep_calibration
from rampwarden.settings import Settings, load_settings
from rampwarden.sources import BenchBoard, BenchFault, Board, RehearsalBoard
from rampwarden.terminal_text import printable, visible_json

NO_PORT = "board.port: no port to listen to; give --port, or port in the [board] section"

_REHEARSAL_SPEED = 100.0
# The model board's own small errors, for a rehearsed calibration to find.
_REHEARSED_OFFSET_UV, _REHEARSED_GAIN = 14.0, 1.004
_INTRODUCTION = (
    "The bring-up of a board: six checks, each of which you may leave out. I say what to do and wait until the reading "
    "stands. What each is for: firmware_notes/bring_up.md."
)


def bring_up(settings: Settings, rehearse: BenchFault | None, seed: int, *, as_json: bool) -> int:
    """Walk through the checks, show what came of them, and keep the calibration if that is wanted."""
    if rehearse is not None:
        with _model(rehearse, seed) as (board, clock, person):
            results = _walked(board, clock, person, settings)
        return _report(results, "", as_json=as_json)
    port = settings.board.port
    if not port:
        raise SettingsError(NO_PORT)
    clock = HostClock()
    with port_held(port):
        board = Board(board_settings(settings), clock)
        board.start()
        try:
            results = _walked(board, clock, ConsolePerson(), settings)
        finally:
            board.stop()
    return _report(results, port, as_json=as_json)


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


@contextmanager
def _model(fault: BenchFault, seed: int) -> Iterator[tuple[Board, Clock, Person]]:
    """Give a model board behind a real pseudo-terminal, and a model person who serves it."""
    model = BenchBoard(seed, fault, offset_uv=_REHEARSED_OFFSET_UV, gain=_REHEARSED_GAIN)
    played = RehearsalBoard(model, _REHEARSAL_SPEED)
    flags = {"board.port": played.port, "board.interval": 0.1, "board.dating": Dating.BOARD}
    board = Board(board_settings(load_settings(None, flags, {}).settings), played.clock)
    board.start()
    played.start()
    try:
        yield board, played.clock, ModelPerson(model)
    finally:
        board.stop()
        played.stop()


def _walked(board: Board, clock: Clock, person: Person, settings: Settings) -> list[Result]:
    person.tell(_INTRODUCTION)
    couple = settings.thermocouple
    return Walk(board, clock, person, thermocouple(couple.type), couple.tolerance_class).run()


def _report(results: list[Result], port: str, *, as_json: bool) -> int:
    """Show results and calibration; `port` empty is a rehearsal, of which nothing is kept."""
    findings = [result.finding for result in results]
    trouble, calibration = "", None
    try:
        calibration = calibration_from(results, f"{datetime.now(UTC):%Y-%m-%d}")
    except SettingsError as error:
        trouble = str(error)
    if not as_json:
        print_findings(findings)
        print(printable(f"\n{_calibration_words(calibration, trouble)}".lstrip("\n")))
    kept = _kept(calibration, results, port)
    if as_json:
        tree = {
            "format": FORMAT,
            "port": port,
            **finding_tree(findings),
            "calibration": _tree(calibration),
            "kept": kept,
        }
        print(visible_json(json.dumps(tree, ensure_ascii=False, indent=2)))
    elif kept:
        print(printable(f"Kept in {kept}; a watch on this port takes it from now on."))
    return FOUND_SOMETHING if trouble or needs_a_look(findings) else FINE


def _calibration_words(calibration: BoardCalibration | None, trouble: str) -> str:
    if trouble:
        return f"No calibration: {trouble}."
    return "No calibration: nothing was measured." if calibration is None else f"Calibration: {calibration.words()}."


def _kept(calibration: BoardCalibration | None, results: list[Result], port: str) -> str:
    """Ask whether to keep the calibration, and keep it; gives the file, empty for none."""
    if calibration is None or not port:
        return ""
    print("Keep it as the calibration of this board? [y/N] ", end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if not answer:
        raise typer.Abort
    if not answer.strip().lower().startswith("y"):
        return ""
    return str(keep_calibration(port, calibration, [_check(result) for result in results], os.environ))


def _check(result: Result) -> dict[str, object]:
    steady = result.steady
    return {
        "step": str(result.step),
        "verdict": str(result.finding.verdict),
        "found": result.finding.words,
        "emf_uv": None if steady is None else round(steady.emf_uv, 2),
        "emf_error_uv": None if steady is None else round(steady.error_uv, 2),
        "junction_c": None if steady is None else round(steady.junction_c, 3),
        "readings": None if steady is None else steady.count,
        "expected_uv": None if result.expected_uv is None else round(result.expected_uv, 2),
        "expected_by_uv": round(result.expected_by_uv, 2),
    }


def _tree(calibration: BoardCalibration | None) -> dict[str, object] | None:
    if calibration is None:
        return None
    return {
        "offset_uv": calibration.offset_uv,
        "offset_uncertainty_uv": calibration.offset_uncertainty_uv,
        "gain": calibration.gain,
        "gain_uncertainty": calibration.gain_uncertainty,
        "made": calibration.made,
        "made_from": list(calibration.made_from),
    }
