"""What to tell whoever comes next about a heat: five lines, the same on paper and on a terminal.

What the pot is ready for comes first, then how the heat went, what was broken, how furnace and gas were left, and what
is still to be done. Every line rests on what the rest of the report rests on, and judges nothing itself.
"""

import re

from rampwarden.core.pot import Ready, readiness_sentence, reason_sentences
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import COLD_C, SegmentKind
from rampwarden.report.course import Course
from rampwarden.report.units import Scale, clock
from rampwarden.report.verdict import HeatVerdict
from rampwarden.report.when import day_words
from rampwarden.terminal_text import printable

_FIRST_SENTENCE = re.compile(r".*?\.(?=\s|$)")


def five_lines(course: Course, verdict: HeatVerdict, scale: Scale) -> tuple[str, ...]:
    """Give the five lines; a rehearsal's say that they are of one."""
    return (
        printable(_pot(course)),
        printable(_heat(course, scale)),
        printable(_broken(course, verdict)),
        printable(_left(course, scale)),
        printable(_to_do(course, verdict)),
    )


def _pot(course: Course) -> str:
    mark = course.header.crucible
    what = f"Pot {mark}" if mark else "Pot without a mark"
    readiness = course.figures.readiness
    if readiness is None:
        return f"{what}: nothing is known of what it is ready for."
    reasons = reason_sentences(readiness, figures=False)
    rehearsed = "a rehearsal, but of such a heat: " if course.header.rehearsal else ""
    return f"{what}: {rehearsed}{' '.join((readiness_sentence(readiness), *reasons[:1]))}"


def _heat(course: Course, scale: Scale) -> str:
    figures = course.figures
    done = "ran its schedule" if figures.complete else "did not run its schedule to the end"
    soaked = ""
    if any(each.kind is SegmentKind.SOAK for each in course.schedule.segments):
        soaked = f", soaked {format_duration(figures.soaked_s)}"
    lasted = f"{day_words(figures.started)}, {format_duration(figures.seconds)}"
    return f"Heat of {lasted}: {done}; up to {scale.show_temp(figures.peak_c)}{soaked}."


def _broken(course: Course, verdict: HeatVerdict) -> str:
    """Say the gravest breach in full and how many more there were, else what is in doubt."""
    if not verdict.breaches:
        return f"In doubt: {verdict.doubts[0]}" if verdict.doubts else "Nothing was broken."
    more = len(verdict.breaches) - 1
    # What it does to a pot is in the report; here it is what happened.
    first = _FIRST_SENTENCE.match(verdict.breaches[0])
    return f"Broken: {verdict.breaches[0] if first is None else first[0]}" + (
        f" And {more} more, in the report." if more else ""
    )


def _left(course: Course, scale: Scale) -> str:
    """Say how hot it was when last seen, and what gas was left."""
    gas = None if course.figures.physics is None else course.figures.physics.gas
    left = "" if gas is None else f" Gas left by reckoning: {gas.left_kg:.1f} kg."
    if not course.samples:
        return f"Left: no temperature was read.{left}"
    last = course.samples[-1]
    hot = " and still hot" if last.high_c > COLD_C else ""
    open_record = "" if course.figures.closed else " Its record was not closed."
    return f"Left at {clock(last.to_s)} of the heat, {scale.show_temp(last.mean_c)}{hot}.{left}{open_record}"


def _to_do(course: Course, verdict: HeatVerdict) -> str:
    """Name the first thing to look at, and that mass and look are to be told."""
    readiness = course.figures.readiness
    if readiness is not None and readiness.ready is Ready.DRY_FIRST and course.figures.was_heat:
        first = "Dry it before anything else. "
    else:
        first = f"Look at it: {verdict.look_at[0][0].lower()}{verdict.look_at[0][1:]} "
    where = "rampwarden crucible enter" if course.header.crucible else "register it: rampwarden crucible add"
    return f"{first}Weigh it cold, and say what it weighs and looks like ({where})."
