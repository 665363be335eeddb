"""Turns a simulated heat into what an explanation is given: readings as the gate judged them, segments, marks."""

from benchmarks.furnaces.story import SimulatedHeat
from rampwarden.core.explanation import Context
from rampwarden.core.heat import HeatTracker, Milestone
from rampwarden.core.instrument.outlier_gate import OutlierGate
from rampwarden.core.model import Quality
from rampwarden.core.pot_keeper import SoakClocks
from rampwarden.core.schedule import SegmentKind
from rampwarden.core.watching.explaining import context_of

READING, ENTER, MARK = range(3)
Step = tuple[int, float, float, bool] | tuple[int, float, Context | None] | tuple[int, float, str]


def prepared(heat: SimulatedHeat) -> list[Step]:
    """Give a heat's steps in order of time."""
    gate, tracker = OutlierGate(), HeatTracker(heat.schedule, SoakClocks(15.0))
    marks = list(heat.marks)
    steps: list[Step] = []

    def reach(reached: list, time_s: float) -> None:  # type: ignore[type-arg]
        for step in reached:
            if step.milestone is Milestone.SEGMENT_STARTED:
                steps.append((ENTER, time_s, context_of(heat.schedule, step.index)))
            elif step.milestone is Milestone.HEAT_COMPLETE:
                steps.append((ENTER, time_s, None))

    for time_s, temp_c in zip(heat.time_s.tolist(), heat.temp_c.tolist(), strict=True):
        while marks and marks[0][0] <= time_s:
            mark_s, name = marks.pop(0)
            steps.append((MARK, mark_s, name))
            wanted = {"transfer": 1, "arrived": 0}.get(name)
            segments = heat.schedule.segments
            if tracker.segment is not None and wanted is not None:
                index = tracker.index + wanted
                if index < len(segments) and segments[index].kind is SegmentKind.TRANSFER:
                    reach(tracker.skip(mark_s), mark_s)
        good = gate.feed(time_s, temp_c) is Quality.GOOD
        steps.append((READING, time_s, temp_c, not good))
        if good:
            reach(tracker.feed(time_s, temp_c), time_s)
    return steps
