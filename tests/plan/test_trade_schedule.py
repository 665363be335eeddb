"""A heat by the check values of the trade, planned: no line of the plan may talk nonsense of it.

Check values: 25 °C per 15 min to 200 °C; about 100 °C/min to 600 °C and on to 1100 °C; 30 min at 1100 °C; at least 90
min of closed cooling. Common practice, no source.
"""

import re

import pytest

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.schedule import Schedule
from rampwarden.plan.bodies import CrucibleClass
from rampwarden.plan.heat_plan import HeatPlan, plan_heat
from rampwarden.plan.judgement import Verdict
from rampwarden.plan.probe import Probe, ProbePlace, Sheath
from rampwarden.plan.workshop import BottleSettings, Pot, Workshop


def trade_schedule() -> Schedule:
    """The check values, and nothing else but the soak that they leave at 200 °C. Shut for 90 min."""
    return parse_schedule(
        {
            "title": "By the check values of the trade",
            "segment": [
                {"name": "drying", "kind": "ramp", "to": "200 C", "max_rate": "25 C / 15 min"},
                {"name": "dry soak", "kind": "soak", "at": "200 C", "hold": "1 h"},
                {"name": "to 600", "kind": "ramp", "to": "600 C", "max_rate": "100 C / min"},
                {"name": "to working temperature", "kind": "ramp", "to": "1100 C", "max_rate": "100 C / min"},
                {"name": "working temperature", "kind": "soak", "at": "1100 C", "hold": "30 min"},
                {
                    "name": "closed furnace",
                    "kind": "cool",
                    "to": "300 C",
                    "max_rate": "120 C / 10 min",
                    "hold": "90 min",
                },
            ],
        },
        "trade",
    )


def planned(crucible_class: CrucibleClass = CrucibleClass.CLAY_GRAPHITE, sheath_mm: float = 3.0) -> HeatPlan:
    shop = Workshop(
        burner_kw={"*": 12.0},
        bottle=BottleSettings(full_kg=19.0, butane_share=0.05),
        probe=Probe("K", 2, sheath_mm=sheath_mm, sheath=Sheath.STEEL_310, place=ProbePlace.POT),
    )
    return plan_heat(trade_schedule(), shop, Pot(crucible_class, 20.0, must_dry="the crucible is new"))


def test_it_takes_the_time_that_it_takes() -> None:
    """180 °C at four fifths of 100 °C/h, an hour, 900 °C at 80 °C/min, half an hour, 90 min shut: 5 h 43 min."""
    total_s = planned().timeline.total_s
    assert total_s is not None
    minutes = 165.0 / 80.0 * 60.0 + 60.0 + 900.0 / 80.0 + 30.0 + 90.0
    assert total_s / 60.0 == pytest.approx(minutes, abs=5.0)


@pytest.mark.parametrize("crucible_class", [CrucibleClass.CLAY_GRAPHITE, CrucibleClass.CARBON_BONDED_SIC])
def test_nothing_of_it_will_not_work_for_a_pot_that_carries_graphite(crucible_class: CrucibleClass) -> None:
    """Dried slowly enough, through red heat too fast for graphite to burn, and the gas lasts."""
    lines = {judgement.topic: judgement for judgement in planned(crucible_class).judgements}
    assert not [topic for topic, line in lines.items() if line.verdict is Verdict.WILL_NOT_WORK]
    fine = ("schedule", "drying", "graphite", "wall, cooling", "thermocouple type", "gas, mass", "gas, withdrawal")
    assert [topic for topic in fine if lines[topic].verdict is not Verdict.FINE] == []
    assert all(line.remedy for line in lines.values() if line.verdict is not Verdict.FINE)


def test_no_line_of_it_names_a_rate_beyond_its_own() -> None:
    """100 °C/min is 6000 °C/h; whoever reads of more might try it."""
    for line in planned().judgements:
        told = [float(rate) for rate in re.findall(r"([\d.]+) °C/h", line.finding + line.remedy)]
        told += [60.0 * float(rate) for rate in re.findall(r"([\d.]+) °C/min", line.finding + line.remedy)]
        assert all(rate <= 6000.0 for rate in told), line


def test_a_probe_of_6_mm_is_said_to_be_too_slow_for_a_window_of_a_minute() -> None:
    """At 200 °C it takes more than a minute to follow: with 100 °C/min the reading is 100 °C behind."""
    line = next(line for line in planned(sheath_mm=6.0).judgements if line.topic == "response")
    assert line.verdict is Verdict.LOOK_AGAIN
    assert isinstance(line.figures["lag_c"], float)
    assert 80.0 < line.figures["lag_c"] < 130.0
