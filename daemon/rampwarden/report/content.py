"""What stands in a report, in order, whatever it is printed on: headings, sentences and tables.

Everything is plain text here. Whoever prints it escapes it in its own way, for marks, notes and schedules are other
people's words.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo

from rampwarden.core.instrument import board_figures, expanded_uncertainty_c, is_covered, thermocouple, what_is_in_it
from rampwarden.core.model import EventName
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.quantities import format_duration
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.core.usual_marks import WATCHED_BY, maybe_usual
from rampwarden.plan import ProbePlace
from rampwarden.records import SegmentFigures
from rampwarden.report.course import Course, Episode, Remark
from rampwarden.report.plateau import melting_points
from rampwarden.report.plateau import sentence as plateau_sentence
from rampwarden.report.units import Scale, clock
from rampwarden.report.verdict import HeatVerdict
from rampwarden.report.when import began_words
from rampwarden.spot import SpotCheck, Suspect, doubt, read_note
from rampwarden.terminal_text import printable

CAUTIONS = (
    "A probe sees one spot: the pot can be hotter or colder elsewhere.",
    "The maker's sheet outranks every number here. Do not use a pot with a crack, a dull ring or an unknown history.",
)


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings; `numbers` are the columns set flush right."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a report: sentences, then a table; either may be missing."""

    heading: str
    sentences: tuple[str, ...] = ()
    table: Table | None = None


_PLACES: Mapping[str, str] = {
    ProbePlace.POT: "on the pot: what is told is the pot's temperature at that spot",
    ProbePlace.CHAMBER: "in the chamber: what is told is the chamber's temperature; on a ramp the pot is behind it",
}


def subtitle(course: Course, zone: tzinfo | None = None) -> str:
    """Give the line under the title: when by the clocks of `zone`, here where it is None; of what, with what."""
    header, figures = course.header, course.figures
    parts = [
        f"began {began_words(header.started, zone)}",
        f"lasted {format_duration(figures.seconds)}",
        f"crucible {header.crucible}" if header.crucible else "",
        course.schedule.crucible_class,
        f"for {header.metal}" if header.metal else "",
        "rehearsal" if header.rehearsal else "",
        f"watched by {who}" if (who := watched_by_words(course)) else "",
        f"record {course.path.name}",
    ]
    return printable(" · ".join(part for part in parts if part))


def verdict_sections(verdict: HeatVerdict) -> Iterator[Section]:
    """Give what the verdict rests on and what follows from it."""
    if verdict.breaches:
        yield Section("What was broken", verdict.breaches)
    if verdict.doubts:
        yield Section("What is in doubt", verdict.doubts)
    yield Section("What the crucible is ready for", verdict.ready_for)
    yield Section("What to look at before the next heat", verdict.look_at)


def segments_section(course: Course, scale: Scale) -> Section:
    """Give the segments: what was asked, what was done, the worst and how much was left."""
    rows = tuple(_segment_row(course, part, scale) for part in course.figures.segments)
    passed = len(course.schedule.segments) - len(rows)
    sentences = (f"{passed} of {len(course.schedule.segments)} segments were not run.",) if passed else ()
    headings = ("", "segment", "asked", "done", "worst", "margin")
    return Section("Segments", sentences, Table(headings, rows, numbers=(0, 5)))


def alarms_section(course: Course, scale: Scale) -> Section:
    """Give each alarm of the heat."""
    if not course.episodes:
        return Section("Alarms", ("None was raised.",))
    rows = tuple(
        (
            clock(each.from_s),
            format_duration(each.to_s - each.from_s) if each.to_s is not None else "to the end",
            each.alarm,
            str(each.priority),
            scale.show_measure(each.value, each.unit),
            "–" if each.worst is None else scale.show_measure(each.worst, each.unit),
            scale.show_measure(each.limit, each.unit),
            printable(each.segment),
            _answer(each),
        )
        for each in course.episodes
    )
    headings = ("at", "lasted", "alarm", "priority", "when it rang", "at worst", "limit", "segment", "acknowledged")
    return Section("Alarms", (), Table(headings, rows, numbers=(0, 1)))


def _answer(episode: Episode) -> str:
    if episode.said_wrong:
        return "said to be wrong"
    return "–" if episode.acknowledged_s is None else clock(episode.acknowledged_s)


def remarks_section(course: Course, scale: Scale) -> Section | None:
    """Give what people noted and marked and what the watch observed, numbered as in the drawing."""
    if not course.remarks:
        return None
    rows = tuple(
        (str(number), clock(each.time_s), _KINDS[each.kind], scale.show_temp(each.temp_c), printable(each.text))
        for number, each in enumerate(course.remarks, start=1)
    )
    left_out = course.remarks_left_out
    sentences = (f"{left_out} more are left out here; a replay shows them.",) if left_out else ()
    return Section("Notes and marks", sentences, Table(("", "at", "what", "stood at", "text"), rows, numbers=(0, 1, 3)))


def checklist_section(course: Course) -> Section | None:
    """Give the list that was to be ticked off before the fire was lit, and what was answered when."""
    lines = course.schedule.checklist
    if not lines:
        return None
    said = {
        asked: (clock(each.time_s), answer)
        for each in course.remarks
        if each.kind is EventName.ANSWERED
        for asked, _, answer in [each.text.rpartition(" · ")]
    }
    rows = tuple((printable(line), *map(printable, said.get(line, ("–", "not ticked")))) for line in lines)
    return Section("Before lighting", (), Table(("", "at", ""), rows, numbers=(1,)))


def watched_by_words(course: Course) -> str:
    """Say who watched the furnace from when on, as it was marked; empty where nobody said."""
    hands = [
        f"{printable(usual[1])} from {clock(each.time_s)}"
        for each in course.remarks
        if each.kind is EventName.MARK and (usual := maybe_usual(each.text)) is not None and usual[0].name == WATCHED_BY
    ]
    return ", ".join(hands)


def checks_section(course: Course, scale: Scale) -> Section | None:
    """Give what the thermocouple was held against in its place: spot checks and melting plateaus."""
    spots = list(spot_checks(course))
    parameters = course.parameters
    plateaus = tuple(
        plateau_sentence(each, _uncertain_c(parameters, each.point_c), scale) for each in melting_points(course)
    )
    if not spots:
        return Section("The thermocouple checked in its place", plateaus) if plateaus else None
    rows: list[tuple[str, ...]] = []
    earlier: list[SpotCheck] = []
    for remark, check in spots:
        found = None
        if check.thermocouple_c is not None:
            uncertain_c = _uncertain_c(parameters, check.thermocouple_c)
            found = None if uncertain_c is None else doubt(check, uncertain_c, earlier)
        earlier.append(check)
        difference_c = check.difference_c
        rows.append(
            (
                clock(remark.time_s),
                scale.show_temp(check.reading_c),
                f"{check.emissivity:.2f}, {check.band}, around {scale.show_temp(check.around_c)}",
                scale.show_temp(check.corrected_c),
                scale.show_temp(check.thermocouple_c),
                "–" if difference_c is None else scale.show_signed(difference_c),
                "–" if found is None else found.suspect.value,
            )
        )
        if found is not None and found.suspect is not Suspect.NEITHER:
            plateaus += (f"At {clock(remark.time_s)} doubt {found.suspect.value}: {found.why}.",)
    headings = ("at", "spot showed", "surface", "corrected", "thermocouple", "difference", "doubt")
    return Section(
        "The thermocouple checked in its place", plateaus, Table(headings, tuple(rows), numbers=(0, 1, 3, 4, 5))
    )


def spot_checks(course: Course) -> Iterator[tuple[Remark, SpotCheck]]:
    """Give the notes that are spot checks, held against what this replay measured, which may be of other settings."""
    for remark in course.remarks:
        check = read_note(remark.text) if remark.kind is EventName.NOTE else None
        if check is not None:
            believed = check.thermocouple_c is not None and remark.temp_c is not None
            yield remark, replace(check, thermocouple_c=remark.temp_c) if believed else check


def sensor_section(course: Course, scale: Scale) -> Section:
    """Give what is to be known of the sensor and of what it sent."""
    parameters, figures = course.parameters, course.figures
    letter, tolerance_class = parameters.thermocouple_type, parameters.tolerance_class
    rows = [("thermocouple", f"type {letter}, tolerance class {tolerance_class} of IEC 60584-1")]
    rows += [
        (f"uncertainty at {scale.show_temp(temp_c)}", _uncertainty(parameters, temp_c, scale))
        for temp_c in _temperatures_that_matter(course)
    ]
    rows.append(("hung", _PLACES.get(parameters.place, "not said where: pot and chamber differ on a ramp")))
    if parameters.calibration.is_made:
        rows.append(("calibration of the board", printable(parameters.calibration.words())))
    rows.append(("readings", f"{figures.readings}, set aside as spikes or settling: {course.set_aside}"))
    longest = (
        f", longest {format_duration(course.longest_gap_s)} from {clock(course.longest_gap_from_s)}"
        if course.gaps
        else ""
    )
    rows.append(("gaps over 15 s", f"{course.gaps or 'none'}{longest}"))
    if course.faults:
        rows.append(("faults the board told of", _counts(course.faults)))
    if course.notices:
        rows.append(("board and line", _counts(course.notices)))
    if course.junction_c is not None:
        low_c, high_c = course.junction_c
        rows.append(("reference junction", f"{scale.show_temp(low_c)} to {scale.show_temp(high_c)}"))
    if course.converted_by_board:
        rows.append(("converted by the board", f"{course.converted_by_board} readings: that conversion was not ours"))
    if not figures.closed:
        rows.append(("record", "not closed: the watch was broken off"))
    return Section("Sensor and record", (), Table(("", ""), tuple(rows)))


def crucible_section(course: Course, scale: Scale) -> Section:
    """Give what the heat comes to for the crucible."""
    figures = course.figures
    rows = (
        ("highest", scale.show_temp(figures.peak_c)),
        ("soaked at the hottest soak", format_duration(figures.soaked_s)),
        (f"above {scale.show_temp(700.0)}", format_duration(figures.hot_h * 3600.0)),
        ("oxidation dose", _dose(course, scale)),
    )
    return Section("What it comes to", (), Table(("", ""), rows))


def _dose(course: Course, scale: Scale) -> str:
    """Say the account's own figure: the sentence of its claim and this row are one number."""
    if not course.parameters.oxidises:
        return "none: its class holds no graphite that burns"
    return (
        f"at most {course.figures.dose_min:.0f} equivalent minutes at {scale.show_temp(600.0)}, up to where the glaze "
        "has sealed the wall (bare graphite in air; Luo, Robin and Yu 2004)"
    )


_KINDS = {
    EventName.NOTE: "note",
    EventName.MARK: "mark",
    EventName.OBSERVED: "observed",
    EventName.ASKED: "asked",
    EventName.ANSWERED: "answered",
}


def _segment_row(course: Course, part: SegmentFigures, scale: Scale) -> tuple[str, ...]:
    segment = course.schedule.segments[part.number - 1]
    done = [f"in {format_duration(part.seconds)}"]
    if part.kind == SegmentKind.SOAK:
        done.append(f"soaked {format_duration(part.soaked_s)} of {format_duration(part.hold_s)}")
    low_c, high_c = _extremes(course, part.number - 1)
    if low_c is not None:
        done.append(f"{scale.temp(low_c):.0f} to {scale.show_temp(high_c)}")
    worst = margin = "–"
    if part.climb_c is not None and part.limit_c and part.window_s:
        worst = scale.show_climb(part.climb_c, part.window_s)
        margin = f"{1.0 - part.climb_c / part.limit_c:+.0%}".replace("-", "−")
    asked = _asked(course.schedule, part.number - 1, segment, scale)
    return (str(part.number), printable(part.name), asked, ", ".join(done), worst, margin)


def _asked(schedule: Schedule, index: int, segment: Segment, scale: Scale) -> str:
    parts = []
    if segment.kind is SegmentKind.SOAK:
        low, high = scale.temp(segment.lowest_c), scale.show_temp(segment.highest_c)
        parts.append(f"hold {low:.0f} to {high} for {format_duration(segment.hold_s)}")
    elif segment.kind is SegmentKind.TRANSFER:
        parts.append("carry the pot over")
    else:
        parts.append(f"{'cool' if segment.kind is SegmentKind.COOL else 'heat'} to {scale.show_temp(segment.to_c)}")
    parts += [f"at most {scale.show_climb(rate.climb_c, rate.window_s)}" for rate in schedule.limits_in_force(index)]
    if segment.min_rate is not None:
        parts.append(f"at least {scale.show_climb(segment.min_rate.climb_c, segment.min_rate.window_s)}")
    if segment.ceiling_c is not None:
        parts.append(f"ceiling {scale.show_temp(segment.ceiling_c)}")
    if segment.within_s is not None:
        parts.append(f"within {format_duration(segment.within_s)}")
    return ", ".join(parts)


def _extremes(course: Course, index: int) -> tuple[float | None, float | None]:
    stretches = [each for each in course.stretches if each.index == index]
    if not stretches:
        return None, None
    return min(each.low_c for each in stretches), max(each.high_c for each in stretches)


def _temperatures_that_matter(course: Course) -> Sequence[float]:
    """Give the soaks that were reached, or the peak where there was none, °C."""
    soaks = {
        course.schedule.segments[each.index].at_c
        for each in course.stretches
        if course.schedule.segments[each.index].kind is SegmentKind.SOAK
    }
    return sorted(temp_c for temp_c in soaks if temp_c is not None) or [course.figures.peak_c]


def _uncertain_c(parameters: MonitorParameters, temp_c: float) -> float | None:
    """Give what the thermocouple may be off, ± °C (k = 2); None outside its class."""
    couple, tolerance_class = thermocouple(parameters.thermocouple_type), parameters.tolerance_class
    if not is_covered(couple, tolerance_class, temp_c):
        return None
    return expanded_uncertainty_c(couple, tolerance_class, temp_c, board_figures(parameters.calibration))


def _uncertainty(parameters: MonitorParameters, temp_c: float, scale: Scale) -> str:
    uncertain_c = _uncertain_c(parameters, temp_c)
    if uncertain_c is None:
        return f"not known: no class {parameters.tolerance_class} of type {parameters.thermocouple_type} covers it"
    placed = f"{scale.difference(5.0):.0f} to {scale.difference(20.0):.0f} {scale.unit} of placement"
    return f"± {scale.show_difference(uncertain_c)} ({what_is_in_it(parameters.thermocouple_type)}), and {placed}"


def _counts(counts: dict[str, int]) -> str:
    return ", ".join(f"{name} {count}" for name, count in sorted(counts.items()))
