"""`rampwarden board`: listens to a board before anything depends on it, and says in plain words what it finds."""

import json
import os
import sys
from collections.abc import Callable, Sequence
from typing import Annotated

import typer

from rampwarden.assembly.heat import board_settings
from rampwarden.bench import (
    Asked,
    BoardFinding,
    HeardLine,
    cut_lines,
    found_settings,
    judge_answers,
    judge_board,
    needs_a_look,
    recognise,
)
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.board.asking import try_asking
from rampwarden.cli.board.bring_up import NO_PORT, bring_up, port_held
from rampwarden.cli.board.chosen import loaded_for, section_of
from rampwarden.cli.board.settings_block import interval_found, settings_block
from rampwarden.cli.board.views import FORMAT, finding_tree, print_findings
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.clock import Clock, HostClock
from rampwarden.core.instrument import thermocouple
from rampwarden.core.quantities import parse_temperature
from rampwarden.errors import SettingsError
from rampwarden.settings import LoadedSettings, load_settings
from rampwarden.sources import BenchBoard, BenchFault, BenchSurroundings, RehearsalBoard, listen, listen_asking
from rampwarden.terminal_text import printable, visible_json

# Half a minute of listening in a third of a second: a thousand lines a second, which any computer reads.
_REHEARSAL_SPEED = 100.0
_REHEARSED_TIP_C = 100.0
# Before it asks, it listens as long as a board that speaks by itself needs for a handful of lines.
_FIRST_LISTEN_S = 5.0
_CANNOT_TELL = "Listening cannot tell gain and polarity of a cold probe: rampwarden board --walk does."


def board(
    port: Annotated[str | None, typer.Option(help="Serial port (a /dev/serial/by-id path) or pyserial URL.")] = None,
    config: ConfigOption = None,
    which: Annotated[
        str | None,
        typer.Option("--board", help="A further board of the settings: NAME of boards.NAME.", show_default=False),
    ] = None,
    seconds: Annotated[float, typer.Option(min=3.0, max=600.0, help="How long to listen.")] = 30.0,
    tip: Annotated[
        str | None, typer.Option(help='Where the tip is, if you know: "0 C" in ice, "100 C" in boiling water.')
    ] = None,
    rehearse: Annotated[
        BenchFault | None,
        typer.Option(help="Listen to a model board with this wrong, its tip in boiling water.", show_default=False),
    ] = None,
    seed: Annotated[int, typer.Option(help="Another seed is another model board.")] = 1,
    ask: Annotated[
        list[str] | None, typer.Option(help="Ask this of a board that must be asked; may be given several times.")
    ] = None,
    questions: Annotated[
        bool,
        typer.Option(
            "--try-questions",
            help="May ask the usual questions: *IDN?, a reading, registers of Modbus slaves 1 to 8.",
        ),
    ] = False,
    walk: Annotated[bool, typer.Option("--walk", help="Go through the bring-up checks and calibrate.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object, for programs.")] = False,
) -> int:
    """Listen to a board and say what it is and what is wrong. Exit status 1 when something must be looked at."""
    if rehearse is None or walk:
        loaded = load_settings(config, {"board.port": port if which is None else None}, os.environ)
        loaded = loaded_for(loaded, which, port)
    if walk:
        return bring_up(loaded.settings, rehearse, seed, as_json=as_json)
    tip_c = None if tip is None else parse_temperature(tip)
    block = ""
    if rehearse is not None:
        findings, where = _rehearsed(rehearse, seed, seconds, tip_c)
    else:
        where = loaded.settings.board.port
        if not where:
            raise SettingsError(NO_PORT)
        with port_held(where):
            findings, keys = _listened_or_asked(loaded, seconds, tip_c, tuple(ask or ()), try_usual=questions)
        block = settings_block(keys, section_of(which)) if keys else ""
    if as_json:
        tree = {"format": FORMAT, "port": where, "seconds": seconds, **finding_tree(findings), "settings": block}
        print(visible_json(json.dumps(tree, ensure_ascii=False, indent=2)))
    else:
        print(printable(f"Listened to {where} for {seconds:.0f} s."))
        print_findings(findings)
        print()
        print(printable(_conclusion(findings, tip_is_known=tip is not None or rehearse is not None)))
        if block:
            print(printable(f"\nThe settings for it:\n\n{block}"))
    return FOUND_SOMETHING if needs_a_look(findings) else FINE


def _listened_or_asked(
    loaded: LoadedSettings, seconds: float, tip_c: float | None, own: tuple[str, ...], *, try_usual: bool
) -> tuple[list[BoardFinding], dict[str, object]]:
    """Listen to a board, or ask it; gives the findings and the keys of [board] by which it can be watched."""
    line = board_settings(loaded.settings)
    if line.is_asked:
        keys = loaded.settings.board.model_dump(mode="json", exclude_defaults=True)
        return _asked(loaded, seconds, tip_c), keys
    if not own and not try_usual:
        return _listened(loaded, seconds, tip_c, HostClock())
    if not own:
        # What speaks by itself needs no question.
        findings, keys = _listened(loaded, min(seconds, _FIRST_LISTEN_S), tip_c, HostClock())
        if keys:
            return findings, keys
    tried = try_asking(line, own, _trying(), usual=try_usual)
    if not tried.keys:
        return tried.findings, {}
    flags = {f"board.{key}": value for key, value in tried.keys.items()}
    flags |= {"board.port": line.port, "board.baud": line.baud, "board.dtr": line.dtr}
    asked = load_settings(None, flags, {})
    keys = asked.settings.board.model_dump(mode="json", exclude_defaults=True)
    return [*tried.findings, *_asked(asked, seconds, tip_c)], keys


def _asked(loaded: LoadedSettings, seconds: float, tip_c: float | None) -> list[BoardFinding]:
    line = board_settings(loaded.settings)
    answered = listen_asking(line, seconds=seconds, clock=HostClock(), tick=_progress(seconds))
    couple = thermocouple(loaded.settings.thermocouple.type)
    return judge_answers(answered, Asked(couple=couple, columns=line.columns, channel=line.channel, tip_c=tip_c))


def _listened(
    loaded: LoadedSettings, seconds: float, tip_c: float | None, clock: Clock
) -> tuple[list[BoardFinding], dict[str, object]]:
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
    lines = cut_lines(chunks)
    findings = judge_board(lines, asked)
    return findings, _keys(loaded, lines, findings)


def _keys(loaded: LoadedSettings, lines: Sequence[HeardLine], findings: Sequence[BoardFinding]) -> dict[str, object]:
    """Give the keys of [board] for what was recognised; none where nothing was, or an adc's scaling is not known."""
    found = recognise(lines) if lines else None
    if found is None or not found.known:
        return {}
    keys = loaded.settings.board.model_dump(mode="json", exclude_defaults=True)
    keys = {key: keys[key] for key in ("port", "baud", "dtr", "channel", "calibration", "buzzer") if key in keys}
    if found.named is not None:
        keys |= found_settings(found.named)
    elif not found.framed:
        keys |= {"format": "columns", "columns": [str(column) for column in found.columns]}
    interval_s = interval_found(findings)
    return keys if interval_s is None else {**keys, "interval": interval_s}


def _rehearsed(fault: BenchFault, seed: int, seconds: float, tip_c: float | None) -> tuple[list[BoardFinding], str]:
    """Listen to a model board behind a real pseudo-terminal, its tip where it is said to be or in boiling water."""
    tip_c = _REHEARSED_TIP_C if tip_c is None else tip_c
    model = BenchBoard(seed, fault)
    model.put(BenchSurroundings(tip_c=tip_c))
    played = RehearsalBoard(model, _REHEARSAL_SPEED)
    loaded = load_settings(None, {"board.port": played.port, "board.format": "frames"}, {})
    played.start()
    try:
        findings, _ = _listened(loaded, seconds, tip_c, played.clock)
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


def _trying() -> Callable[[str], None]:
    """Give what shows on a terminal what is being asked, and nowhere else."""

    def show(text: str) -> None:
        print(f"\r\x1b[K{text}", end="", file=sys.stderr, flush=True)

    return show if sys.stderr.isatty() else lambda _text: None


def _conclusion(findings: list[BoardFinding], *, tip_is_known: bool) -> str:
    wrong = needs_a_look(findings)
    if not wrong:
        left = "" if tip_is_known else f" {_CANNOT_TELL}"
        return f"Healthy: no fault found by listening.{left}"
    more = f", and {len(wrong) - 1} more" if len(wrong) > 1 else ""
    return f"Look at this first: {wrong[0].part}{more}."
