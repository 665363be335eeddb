"""A whole plan: every line of it, and the worst of them."""

from pathlib import Path

import pytest

from rampwarden.plan.bodies import class_named
from rampwarden.plan.heat_plan import plan_heat
from rampwarden.plan.judgement import Judgement, Verdict, worst
from rampwarden.plan.probe import Probe, Sheath
from rampwarden.plan.workshop import BottleSettings, Pot, Workshop
from rampwarden.schedule_files import list_schedules, read_schedule

SHIPPED = Path(__file__).resolve().parents[2] / "config" / "schedules"
SHOP = Workshop(
    burner_kw={"*": 12.0},
    bottle=BottleSettings(full_kg=47.0),
    probe=Probe("K", 2, sheath_mm=6.0, sheath=Sheath.STEEL_310),
)


def test_the_worst_line_is_the_plans_verdict() -> None:
    """One thing that will not work is enough; no line at all is fine."""
    fine, look, fails = (Judgement("t", verdict, "") for verdict in Verdict)
    assert worst([fine, fails, look]) is Verdict.WILL_NOT_WORK
    assert worst([fine, look]) is Verdict.LOOK_AGAIN
    assert worst([fine]) is worst([]) is Verdict.FINE


@pytest.mark.parametrize("path", list_schedules([SHIPPED]), ids=lambda path: path.stem)
def test_every_schedule_that_is_shipped_can_be_planned(path: Path) -> None:
    """Each line has a reason, and whatever is not fine says what would change it."""
    schedule, _ = read_schedule(path)
    plan = plan_heat(schedule, SHOP, Pot(class_named(schedule.crucible_class), 20.0))
    topics = [judgement.topic for judgement in plan.judgements]
    assert len(topics) == len(set(topics))
    assert {"schedule", "drying", "wall, heating", "wall, cooling", "thermocouple type", "wire and sheath"} <= set(
        topics
    )
    assert {"uncertainty", "response", "gas, mass", "gas, withdrawal"} <= set(topics)
    for judgement in plan.judgements:
        assert judgement.finding
        assert bool(judgement.remedy) is (judgement.verdict is not Verdict.FINE), judgement


@pytest.mark.parametrize("path", list_schedules([SHIPPED]), ids=lambda path: path.stem)
def test_no_wall_of_a_shipped_schedule_is_asked_for_more_than_it_stands(path: Path) -> None:
    """At 20 mm, all classes: the schedules and the estimates agree."""
    schedule, _ = read_schedule(path)
    plan = plan_heat(schedule, SHOP, Pot(class_named(schedule.crucible_class), 20.0))
    assert [line.verdict for line in plan.judgements if line.topic.startswith("wall")] == [Verdict.FINE, Verdict.FINE]


def test_what_is_known_already_comes_first() -> None:
    """What the register has against a heat outweighs any figure."""
    schedule, _ = read_schedule(SHIPPED / "bronze-first-heat.toml")
    retired = Judgement("crucible", Verdict.WILL_NOT_WORK, "it was retired", "another")
    plan = plan_heat(schedule, SHOP, Pot(), [retired])
    assert plan.judgements[0] is retired
    assert plan.verdict is Verdict.WILL_NOT_WORK
