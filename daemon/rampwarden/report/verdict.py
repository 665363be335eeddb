"""The verdict on a heat, in plain words: kept or broken, what it did to the crucible, what next.

Judges the schedule by the alarms of the replay, and the pot by its account alone, so it can no more disagree with the
watch than a replay can. By how much a limit was broken is the figures' word. Draws
and formats nothing beyond sentences.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from rampwarden.core.alarm_entry import ReportMeaning
from rampwarden.core.catalogue import entry_of
from rampwarden.core.pot import ClaimName, ClaimShown, Ready, claim_sentence, readiness_sentence, reason_sentences
from rampwarden.core.quantities import format_duration
from rampwarden.records import SegmentFigures
from rampwarden.report.consequences import BREACHES, DOUBTS, consequence, inspections
from rampwarden.report.course import Course, Episode
from rampwarden.report.plateau import melting_points
from rampwarden.report.units import Scale, clock

_CLIMBS = (ReportMeaning.HEATED_TOO_FAST, ReportMeaning.COOLED_TOO_FAST)
_UNSEEN_S = 120.0
"""s that nobody watched, beyond which a verdict says so first."""
_MANY_SET_ASIDE = 0.02
"""Share of readings set aside as spikes, beyond which the wiring is worth a look. Common practice, no source."""


class Outcome(Enum):
    """What the verdict comes to."""

    KEPT = "was kept within its schedule"
    BROKEN = "broke its schedule"
    UNFINISHED = "did not run its schedule to the end"


@dataclass(frozen=True, slots=True)
class HeatVerdict:
    """The outcome with its headline, what supports it, what the crucible is ready for, and what to look at."""

    outcome: Outcome
    headline: str
    breaches: tuple[str, ...]
    doubts: tuple[str, ...]
    ready_for: tuple[str, ...]
    look_at: tuple[str, ...]


def judge(course: Course, scale: Scale) -> HeatVerdict:
    """Give the verdict on a heat."""
    broken = [episode for episode in course.episodes if episode.alarm in BREACHES]
    outcome = Outcome.BROKEN if broken else Outcome.KEPT if course.figures.complete else Outcome.UNFINISHED
    doubts = tuple(_doubts(course))
    return HeatVerdict(
        outcome=outcome,
        headline=_headline(course, outcome, broken, in_doubt=bool(doubts)),
        breaches=tuple(_breaches(course, broken, scale)),
        doubts=doubts,
        ready_for=tuple(_ready_for(course)),
        look_at=tuple(_look_at(course)),
    )


def _headline(course: Course, outcome: Outcome, broken: list[Episode], *, in_doubt: bool) -> str:
    what = "This rehearsal" if course.header.rehearsal else "This heat"
    so_far = "" if course.figures.complete or outcome is Outcome.UNFINISHED else ", and did not run it to the end"
    text = f"{what} {outcome.value}{so_far}"
    if broken:
        rules = [rule for rule in BREACHES if any(episode.alarm == rule for episode in broken)]
        text += ": " + ", ".join(_times(rule, sum(episode.alarm == rule for episode in broken)) for rule in rules)
    elif outcome is Outcome.UNFINISHED:
        text += "; as far as it went, it was kept within it"
    return f"{text}{'; but its readings are in doubt at times' if in_doubt else ''}."


def _times(rule: str, count: int) -> str:
    return rule if count == 1 else f"{rule} {count} times"


def _breaches(course: Course, broken: list[Episode], scale: Scale) -> Iterator[str]:
    """Word each broken rule once a segment: which, when, by how much, and what it does."""
    seen: dict[tuple[str, int | None], list[Episode]] = {}
    for episode in broken:
        seen.setdefault((episode.alarm, episode.segment_number), []).append(episode)
    for (alarm, _), episodes in seen.items():
        first = episodes[0]
        total_s = sum((each.to_s or course.figures.seconds) - each.from_s for each in episodes)
        times = "" if len(episodes) == 1 else f", {len(episodes)} times"
        ranges = [_range_c(course, each) for each in episodes]
        low_c, high_c = min(low for low, _ in ranges), max(high for _, high in ranges)
        when = f"from {clock(first.from_s)}{times}, {format_duration(total_s)} in all"
        amount = _amount(course, first, low_c, high_c, scale)
        meaning = entry_of(alarm).report
        does = consequence(meaning, course.schedule.crucible_class, low_c, high_c, scale)
        if meaning is ReportMeaning.TOO_SLOW and any(_melted_during(course, each) for each in episodes):
            does = f"Metal seems to have been melting, which holds the temperature with the burner as it was. {does}"
        yield f"{alarm} in {first.segment or 'no segment'}: {amount}; {when}. {does}".rstrip()


def _range_c(course: Course, episode: Episode) -> tuple[float, float]:
    """Give the temperatures between which a rule was broken, °C: those of the climb that came to be too much, too."""
    low_c, high_c = episode.low_c or 0.0, episode.high_c or 0.0
    figures = _figures_at(course, episode.segment_number)
    if _meaning(episode) not in _CLIMBS or figures is None or figures.window_s is None:
        return low_c, high_c
    since_s = episode.from_s - figures.window_s
    climb = [sample for sample in course.samples if since_s <= sample.to_s and sample.from_s <= episode.from_s]
    return min([low_c, *(sample.low_c for sample in climb)]), max([high_c, *(sample.high_c for sample in climb)])


def _meaning(episode: Episode) -> ReportMeaning:
    return entry_of(episode.alarm).report


def _melted_during(course: Course, episode: Episode) -> bool:
    to_s = course.figures.seconds if episode.to_s is None else episode.to_s
    return any(each.from_s <= to_s and episode.from_s <= each.to_s for each in melting_points(course))


def _amount(course: Course, episode: Episode, low_c: float, high_c: float, scale: Scale) -> str:
    figures, meaning = _figures_at(course, episode.segment_number), _meaning(episode)
    if (
        meaning in _CLIMBS
        and figures is not None
        and figures.climb_c is not None
        and figures.limit_c
        and figures.window_s
    ):
        verb = "climbed" if meaning is ReportMeaning.HEATED_TOO_FAST else "fell"
        excess = figures.climb_c / figures.limit_c - 1.0
        return (
            f"{verb} {scale.show_climb(figures.climb_c, figures.window_s)} at worst, "
            f"where {scale.show_climb(figures.limit_c, figures.window_s)} is the limit ({excess:+.0%})"
        )
    limit = scale.show_measure(episode.limit, episode.unit)
    if meaning is ReportMeaning.OVERHEATED:
        return f"up to {scale.show_temp(high_c)}, ceiling {limit}"
    if meaning is ReportMeaning.OUT_OF_BAND and episode.limit is not None and episode.value is not None:
        worst_c = low_c if episode.value < episode.limit else high_c
        return f"out to {scale.show_temp(worst_c)}, edge of the band {limit}"
    value = scale.show_measure(episode.value, episode.unit)
    if meaning is ReportMeaning.OVERDUE:
        return f"not done after {limit}"
    return f"{value} when it was raised, at least {limit} wanted"


def _figures_at(course: Course, number: int | None) -> SegmentFigures | None:
    return next((part for part in course.figures.segments if part.number == number), None)


def _doubts(course: Course) -> Iterator[str]:
    figures = course.figures
    if figures.unseen_s > _UNSEEN_S:
        from_at = clock(course.longest_gap_from_s)
        yield (
            f"Nobody watched for {format_duration(figures.unseen_s)} in all (longest "
            f"{format_duration(course.longest_gap_s)} from {from_at}): what happened then is not known."
        )
    for alarm in DOUBTS:
        episodes = [episode for episode in course.episodes if episode.alarm == alarm]
        if episodes:
            total_s = sum((each.to_s or figures.seconds) - each.from_s for each in episodes)
            yield f"{_times(alarm, len(episodes))} from {clock(episodes[0].from_s)}, {format_duration(total_s)} in all."
    watched = None if figures.account is None else figures.account.claim(ClaimName.UNWATCHED)
    if watched is not None and watched.shown is ClaimShown.IN_DOUBT:
        yield claim_sentence(watched, figures=False)


def _ready_for(course: Course) -> Iterator[str]:
    """Say the account's one readiness with its reasons, and nothing that could gainsay it."""
    figures = course.figures
    if course.header.rehearsal:
        yield "This was a rehearsal: no crucible has been heated. Of a heat that went like it, this would be said:"
    if figures.readiness is not None:
        yield readiness_sentence(figures.readiness)
        yield from reason_sentences(figures.readiness, figures=False)
    if not figures.complete:
        yield "The schedule was not finished."
    if course.header.metal:
        yield f"It has held {course.header.metal}: what is left in the wall spoils another metal."


def _look_at(course: Course) -> Iterator[str]:
    said: dict[str, None] = {}
    for episode in course.episodes:
        said.update(dict.fromkeys(inspections(entry_of(episode.alarm), _range_c(course, episode)[0])))
    if course.set_aside > _MANY_SET_ASIDE * course.figures.readings:
        said["plug, cable and earth: one reading in fifty or more was a spike"] = None
    readiness = course.figures.readiness
    if not said and readiness is not None and readiness.ready is Ready.INSPECT_FIRST:
        said["the whole pot, cold: rim, bottom edge and glaze, and the ring when tapped"] = None
    elif not said:
        said["nothing in particular: the usual look at rim, bottom edge and glaze, and the ring when tapped"] = None
    said["its mass: the loss over its heats is the best single number"] = None
    for text in said:
        yield text[0].upper() + text[1:] + "."
