"""How a running watch stands, asked from any terminal and put into lines. Knows no command line, as `telling`."""

import json
import os

import msgspec

from rampwarden.cli.saying import say
from rampwarden.control import FORMAT, STATUS, Request, Snapshot, ask
from rampwarden.core.quantities import format_duration
from rampwarden.errors import ControlError
from rampwarden.outputs.alarm_lines import alarm_lines, first_order_words
from rampwarden.outputs.in_fahrenheit import in_fahrenheit
from rampwarden.outputs.question_lines import asked_lines
from rampwarden.outputs.status_line import learnt_words, physics_lines, place_words, status_sentence
from rampwarden.terminal_text import elapsed, visible_json

# The watch shows itself each second; twice missed is worth a word, and a temperature as old as signal-lost is too.
_STILL_S = 3.0
_OLD_READING_S = 10.0


def status(watch: str = "", *, as_json: bool = False) -> None:
    """Print how the watch called `watch`, or the only one, stands; raises `ControlError` where it cannot be had."""
    answer = ask(os.environ, watch, Request(FORMAT, STATUS))
    if answer.snapshot is None:
        raise ControlError("the watch gave no status; is it of another version?")
    if as_json:
        print(visible_json(json.dumps({"format": FORMAT, **msgspec.to_builtins(answer.snapshot)}, ensure_ascii=False)))
        return
    for line in describe(answer.snapshot):
        say(line)


def describe(snapshot: Snapshot) -> list[str]:
    """Give the lines a person reads, in the degrees that the watch shows; what people wrote stays as it is."""
    about, now = snapshot.about, snapshot.status
    said = in_fahrenheit if about.degrees == "F" else str
    stands = [
        status_sentence(now),
        *((f"do first: {first}",) if (first := first_order_words(now)) else ()),
        *((f"time to go: {learnt}",) if (learnt := learnt_words(now)) else ()),
        *((watched,) if (watched := place_words(now.place)) else ()),
        *physics_lines(now),
        *(() if now.readiness is None else (now.readiness.sentence, *now.readiness.reasons)),
    ]
    lines = [
        *(("REHEARSAL: no furnace",) if about.rehearsal else ()),
        f"{about.watch} · {about.schedule} · watching for {elapsed(now.time_s)} · process {about.process}",
        *map(said, stands),
        *((f"watched by {now.watched_by}",) if now.watched_by else ()),
        *asked_lines(now.questions),
        *(said(line) for alarm in now.alarms for line in alarm_lines(alarm)),
    ]
    if not now.alarms:
        lines.append("no alarm")
    if snapshot.age_s > _STILL_S:
        lines.append(f"look at the watch: it has not moved for {format_duration(snapshot.age_s)}")
    elif now.read_s is not None and now.time_s - now.read_s > _OLD_READING_S:
        lines.append(f"this temperature is old: the last reading came {format_duration(now.time_s - now.read_s)} ago")
    return [*lines, f"record {about.record} · port {about.port}"]
