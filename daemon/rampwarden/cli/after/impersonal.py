"""A heat record without the person: what of it a replay needs, and nothing that tells whose heat it was.

Left out are names, dates, ports, hosts, files, pots, notes, reasons, other probes and the schedule's own words. What
stays are readings, times since the heat began, marks of the usual words, orders, and the schedule's and the settings'
figures.
"""

import dataclasses
from collections.abc import Mapping

from msgspec.structs import replace

from rampwarden.control import MARKS
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.model import (
    ClockMark,
    Command,
    CommandName,
    Event,
    EventName,
    Input,
    Notice,
    ProbeReading,
    mark_name,
)
from rampwarden.core.usual_marks import LEAVE_AS_IT_IS, go_on_with, maybe_usual
from rampwarden.records import FORMAT, End, Header, Line, changed_parameters, parameters_of

# No heat was watched on that day; a header without one would be none.
_STARTED = "2000-01-01T00:00:00Z"
_WORDS = ("title", "basis", "crucible_class", "segment")
_SEGMENT_WORDS = ("name", "say")

Kept = Input | End
"""What is left of a record's lines."""


def impersonal_schedule(table: Mapping[str, object], title: str) -> dict[str, object]:
    """Give a schedule's table with our title, segments by kind and number, and nobody's instructions."""
    segments = [
        {
            "name": f"{row.get('kind')} {number}",
            **{key: value for key, value in row.items() if key not in _SEGMENT_WORDS},
            **({"ask": _impersonal_asks(row["ask"])} if "ask" in row else {}),
        }
        for number, row in enumerate(_rows(table), start=1)
    ]
    kept = {key: value for key, value in table.items() if key not in _WORDS}
    if isinstance(checklist := kept.get("checklist"), list):
        kept["checklist"] = [f"line {number}" for number in range(1, len(checklist) + 1)]
    return {"title": title, **kept, "segment": segments}


def _impersonal_asks(asks: object) -> list[dict[str, object]]:
    """Give what a segment asks without the words: when, and of the answers the usual marks."""
    rows = asks if isinstance(asks, list) else [asks]
    impersonal = []
    for number, row in enumerate(rows, start=1):
        answers = [
            answer if maybe_usual(answer) is not None else f"answer {place}"
            for place, answer in enumerate(row.get("answers", []), start=1)
        ]
        impersonal.append({"after": row["after"], "question": f"question {number}", "answers": answers})
    return impersonal


def impersonal_header(header: Header, where: str, schedule: dict[str, object], title: str, note: str) -> Header:
    """Give a header with what a replay measures and judges by; raises `RecordError` where it cannot be used."""
    parameters = parameters_of(header, where)
    calibration = dataclasses.replace(parameters.calibration, made="", made_from=())
    parameters = dataclasses.replace(parameters, calibration=calibration, standing=None, probes=())
    return Header(
        format=FORMAT,
        started=_STARTED,
        title=title,
        note=note,
        schedule=schedule,
        thermocouple=parameters.thermocouple_type,
        parameters=changed_parameters(parameters),
        software=header.software,
        rehearsal=header.rehearsal,
    )


class ImpersonalLines:
    """Takes a record's lines in order and gives each as it may be shown to anybody, or None.

    `table` is the schedule as the record has it: messages may begin with a segment's name.
    """

    def __init__(self, table: Mapping[str, object]) -> None:
        named = zip(_rows(table), _rows(impersonal_schedule(table, "")), strict=True)
        self._renamed = {str(row.get("name")): str(new["name"]) for row, new in named}
        self._observed: list[str] = []
        self._last_s = float("-inf")

    def take(self, line: Line) -> Kept | None:
        """Give the line without the person in it. Events are left out, but not how far the clock had run by them."""
        if isinstance(line, Header):
            return None
        before_s, self._last_s = self._last_s, max(self._last_s, line.time_s)
        if isinstance(line, Event):
            if line.event is EventName.OBSERVED:
                self._observed.append(self._without_names(line.text))
            return ClockMark(line.time_s) if line.time_s > before_s else None
        if isinstance(line, Command):
            return self._command(line)
        if isinstance(line, ProbeReading) or (isinstance(line, Notice) and line.board):
            # What hangs beside the followed probe has a name that somebody gave it.
            return ClockMark(line.time_s) if line.time_s > before_s else None
        if isinstance(line, Notice):
            return replace(line, text="")
        return End(line.time_s) if isinstance(line, End) else line

    def _command(self, command: Command) -> Command | None:
        text = ""
        if command.alarm and command.alarm not in CATALOGUE:
            return None
        match command.command:
            case CommandName.NOTE:
                return None
            case CommandName.MARK:
                text = command.text
                if mark_name(text) not in MARKS:
                    return None
            case CommandName.ANSWER:
                text = self._impersonal_answer(command.text)
            case CommandName.WRONG | CommandName.UNDO_WRONG if command.text and not command.alarm:
                # Only the watch's own words are kept.
                text = self._without_names(" ".join(command.text.split()))
                if not any(" ".join(said.split()).startswith(text) for said in self._observed):
                    return None
            case _:
                pass
        return replace(command, text=text, by="")

    def _impersonal_answer(self, text: str) -> str:
        """Give an answer that moves the heat with our names of segments; any other as a usual mark, or as one word."""
        usual = maybe_usual(text)
        if text == LEAVE_AS_IT_IS or (usual is not None and not usual[1]):
            return text
        moves = {go_on_with(name): go_on_with(ours) for name, ours in self._renamed.items()}
        return moves.get(text, "answered")

    def _without_names(self, text: str) -> str:
        name, dot, rest = text.partition(" · ")
        return f"{self._renamed[name]}{dot}{rest}" if dot and name in self._renamed else text


def _rows(table: Mapping[str, object]) -> list[dict[str, object]]:
    rows = table.get("segment")
    return rows if isinstance(rows, list) else []
