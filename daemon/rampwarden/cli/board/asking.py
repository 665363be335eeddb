"""`rampwarden board` with a board that must be asked: tries the questions that are allowed, and says what answered."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from rampwarden.bench import BoardFinding, Sureness, found_settings, recognise_answers, recognise_registers
from rampwarden.plan import Verdict
from rampwarden.sources import (
    HARMLESS,
    BoardSettings,
    BusFound,
    TextFound,
    bus_trouble,
    close_port,
    open_board,
    try_bus,
    try_questions,
)


@dataclass(slots=True)
class Tried:
    """What came of the questions: findings, and the keys of [board] by which the board can be watched, if it can."""

    findings: list[BoardFinding] = field(default_factory=list)
    keys: dict[str, object] = field(default_factory=dict)


def try_asking(settings: BoardSettings, own: Sequence[str], tell: Callable[[str], None], *, usual: bool) -> Tried:
    """Ask a board its `own` questions, with `usual` then those that every such board may be asked.

    Raises `PortError` when the port cannot be opened or is lost.
    """
    tried = Tried()
    questions = tuple(dict.fromkeys([*own, *(HARMLESS if usual else ())]))
    line = open_board(settings)
    try:
        for found in try_questions(line, settings.port, questions, tell):
            _note_text(found, tried)
        if not tried.keys and usual:
            _note_bus(try_bus(line, settings.port, tell), tried)
    finally:
        tell("")
        close_port(line)
    if not tried.findings:
        asked = ", ".join(questions)
        missing = f"; {bus_trouble()}" if usual and bus_trouble() else ""
        words = f"nothing answers to {asked}{' or on a Modbus bus' if usual and not missing else ''}{missing}"
        do = f"another baud rate than {settings.baud}, parity or address? is it powered, are its wires right?"
        tried.findings.append(BoardFinding("questions", Verdict.WILL_NOT_WORK, words, Sureness.CERTAIN, do))
    return tried


def _note_text(found: TextFound, tried: Tried) -> None:
    shown = ascii(found.answers[0].decode("ascii", "replace")[:60])
    words = f"{found.question} is answered by {shown}"
    form = recognise_answers(found.answers)
    if form is None:
        tried.findings.append(BoardFinding("questions", Verdict.FINE, words, do="no temperature in that"))
        return
    tried.findings.append(
        BoardFinding("questions", Verdict.LOOK_AGAIN, words, Sureness.LIKELY, "set the block below if that is so")
    )
    if not tried.keys:
        tried.keys = {**found_settings(form), "ask": [found.question], "ask_end": found.ending.value}


def _note_bus(found: BusFound | None, tried: Tried) -> None:
    if found is None:
        return
    keys = recognise_registers(found.counts, found.first)
    last = found.first + len(found.counts) - 1
    held = ", ".join(str(count) for count in found.counts[:8]) + (" …" if len(found.counts) > 8 else "")
    words = f"slave {found.slave} answers to function {found.function}: registers {found.first} to {last} hold {held}"
    do = "set the block below if its sheet says so: which registers are temperatures, their form and scale"
    tried.findings.append(BoardFinding("bus", Verdict.LOOK_AGAIN, words, Sureness.POSSIBLE, do))
    tried.keys = {"format": "modbus", "slave": found.slave, "function": found.function, **keys}
