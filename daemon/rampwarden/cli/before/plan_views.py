"""A plan on one page, and for programs."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from rampwarden.cli.saying import say
from rampwarden.cli.tables import Cell, print_table
from rampwarden.core.quantities import format_duration, format_slope
from rampwarden.core.schedule import SegmentKind
from rampwarden.plan import HeatPlan, Pot, Stretch, Verdict

FORMAT = "rampwarden-plan/1"

_STYLES = {Verdict.FINE: "green", Verdict.LOOK_AGAIN: "yellow", Verdict.WILL_NOT_WORK: "bold red"}
_CLOSING = (
    "These are estimates. Figures rest on common practice or on handbooks where no source is named in "
    "the code; the maker's sheet, your local rules and the licensed gas fitter outrank them."
)


def print_plan(plan: HeatPlan, pot: Pot, began: datetime) -> None:
    """Print the plan: when what happens, then one line a judgement, then what it comes to."""
    schedule = plan.timeline.schedule
    whose = f" · crucible {pot.mark}" if pot.mark else ""
    say(f"{schedule.title} [{schedule.basis or 'no basis given'}]{whose}")
    print_table(("begins", "segment", "from – to", "takes", "at most"), _times(plan, began))
    print()
    print_table(("", "", "because → what would change it"), _lines(plan))
    print()
    say(f"{plan.verdict}. {_CLOSING}", hanging=0)


def plan_json(plan: HeatPlan, pot: Pot, began: datetime) -> dict[str, object]:
    """Give the plan for programs."""
    timeline = plan.timeline
    return {
        "format": FORMAT,
        "schedule": timeline.schedule.title,
        "crucible": pot.mark,
        "began": began.isoformat(timespec="minutes"),
        "total_s": timeline.total_s,
        "verdict": plan.verdict,
        "segments": [
            {
                "name": stretch.segment.name,
                "kind": stretch.segment.kind,
                "from_c": stretch.from_c,
                "to_c": stretch.to_c,
                "starts_s": stretch.starts_s,
                "likely_s": stretch.likely_s,
                "earliest_s": stretch.earliest_s,
                "limit_k_per_h": stretch.limit_k_per_h,
            }
            for stretch in timeline.stretches
        ],
        "lines": [
            {
                "topic": judgement.topic,
                "verdict": judgement.verdict,
                "finding": judgement.finding,
                "remedy": judgement.remedy,
                "figures": dict(judgement.figures),
            }
            for judgement in plan.judgements
        ],
    }


def _times(plan: HeatPlan, began: datetime) -> Iterator[tuple[Cell, ...]]:
    for stretch in plan.timeline.stretches:
        takes = "not to be known" if stretch.likely_s is None else format_duration(stretch.likely_s)
        yield (
            _clock(began, stretch.starts_s),
            stretch.segment.name,
            f"{stretch.from_c:.0f} – {stretch.to_c:.0f} °C",
            takes,
            _limits(plan, stretch),
        )
    yield _clock(began, plan.timeline.total_s), "done", "", "", ""


def _limits(plan: HeatPlan, stretch: Stretch) -> str:
    sign = -1.0 if stretch.segment.kind is SegmentKind.COOL else 1.0
    rates = plan.timeline.schedule.limits_in_force(stretch.index)
    return ", ".join(format_slope(sign * rate.c_per_s, rate.window_s) for rate in rates) or "–"


def _lines(plan: HeatPlan) -> Iterator[tuple[Cell, ...]]:
    for judgement in plan.judgements:
        remedy = f" → {judgement.remedy}" if judgement.remedy else ""
        yield judgement.topic, (str(judgement.verdict), _STYLES[judgement.verdict]), judgement.finding + remedy


def _clock(began: datetime, seconds: float | None) -> str:
    """Give a clock time, to the minute, with its day where that is another than the first."""
    if seconds is None:
        return "?"
    moment = began + timedelta(seconds=seconds)
    return f"{moment:%H:%M}" if moment.date() == began.date() else f"{moment:%a %H:%M}"
