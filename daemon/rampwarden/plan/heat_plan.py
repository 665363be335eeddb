"""A whole plan: the schedule laid out in time, and every line that is to be said of it before the burner is lit."""

from collections.abc import Sequence
from dataclasses import dataclass

from rampwarden.core.schedule import Schedule
from rampwarden.plan.judge_gas import judge_gas
from rampwarden.plan.judge_heat import judge_class, judge_drying, judge_passage, judge_schedule
from rampwarden.plan.judge_probe import judge_life, judge_place, judge_range, judge_response, judge_uncertainty
from rampwarden.plan.judge_wall import judge_sheet, judge_wall
from rampwarden.plan.judgement import Judgement, Verdict, worst
from rampwarden.plan.timeline import Timeline, lay_out
from rampwarden.plan.workshop import Pot, Workshop


@dataclass(frozen=True, slots=True)
class HeatPlan:
    """What the plan says, in the order in which somebody asks: time, pot, thermocouple, gas."""

    timeline: Timeline
    judgements: tuple[Judgement, ...]

    @property
    def verdict(self) -> Verdict:
        """The worst of its lines."""
        return worst(self.judgements)


def plan_heat(schedule: Schedule, workshop: Workshop, pot: Pot, known: Sequence[Judgement] = ()) -> HeatPlan:
    """Judge a heat before it begins; `known` is what has been judged already, and comes first.

    Nothing that is missing stops it: what cannot be told says so in its own line.
    """
    timeline = lay_out(schedule, workshop.ambient_c)
    probe = workshop.probe
    judgements = (
        *known,
        *judge_schedule(timeline),
        *judge_class(timeline, pot),
        *judge_sheet(timeline, pot),
        *judge_drying(timeline, pot, probe.place),
        *judge_passage(timeline, pot),
        *judge_wall(timeline, pot),
        *judge_range(timeline, probe),
        *judge_place(timeline, probe),
        *judge_life(timeline, probe, gas=workshop.gas),
        *judge_uncertainty(timeline, probe, pot),
        *judge_response(timeline, probe),
        *judge_gas(timeline, workshop),
    )
    return HeatPlan(timeline, judgements)
