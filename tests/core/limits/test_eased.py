"""A broken climb limit that only its window still remembers asks for no more than to hold the heat."""

import pytest

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.limits import RAMP_HIGH, TEMPERATURE_HIGH, mark_eased
from rampwarden.core.model import Finding, Ramp, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.core.short_orders import ShortOrder

LIMITS = (Rate(25.0, 900.0), Rate(60.0, 600.0))
BROKEN = Finding(120.0, 100.0, "°C/h", "30 °C within 15 min, limit 25")


@pytest.mark.parametrize(
    ("share", "error", "eased"), [(0.5, 0.0, True), (-1.0, 0.0, True), (0.95, 0.0, False), (0.8, 0.15, False)]
)
def test_eased_is_what_lies_well_within_every_limit(share: float, error: float, eased: bool) -> None:
    """The tightest decides, and the ramp's own error counts."""
    per_s = LIMITS[0].c_per_s
    found = {RAMP_HIGH.name: BROKEN, TEMPERATURE_HIGH.name: BROKEN}
    mark_eased(found, Ramp(0.0, share * per_s, error * per_s, 300.0), LIMITS)
    assert found[RAMP_HIGH.name].milder is eased
    assert not found[TEMPERATURE_HIGH.name].milder


def test_nothing_is_eased_by_a_ramp_that_nobody_knows() -> None:
    """In the first minute of anything the order stands as it is."""
    found = {RAMP_HIGH.name: BROKEN}
    mark_eased(found, None, LIMITS)
    assert not found[RAMP_HIGH.name].milder


def test_in_doubt_comes_before_eased() -> None:
    """A ramp read from a probe in doubt eases nothing."""
    entry, eased = CATALOGUE[RAMP_HIGH.name], Finding(120.0, 100.0, "°C/h", "", milder=True)
    assert entry.order_in_short(eased, in_doubt=False) is ShortOrder.HOLD_HEAT
    assert entry.order_in_short(eased, in_doubt=True) is ShortOrder.CHECK_PROBE
    assert entry.order(eased, in_doubt=False) == entry.action_milder
    assert entry.order(eased, in_doubt=True) == entry.action_in_doubt
    assert entry.order(in_doubt=False) == entry.action


def test_once_lowered_the_heat_is_to_be_held_until_the_window_is_past_it() -> None:
    """An oven turned up too far and down again: the alarm stands on, and asks for no more than was done."""
    ramp = Segment("oven drying", SegmentKind.RAMP, to_c=180.0, max_rates=(LIMITS[0],))
    monitor, orders, temp_c = Monitor(Schedule("drying", (ramp,))), [], 20.0
    for second in range(0, 2400, 5):
        temp_c += 5.0 * (1.6 if second < 1100 else 0.2) * LIMITS[0].c_per_s
        monitor.feed(Reading(float(second), temp_c=round(4.0 * temp_c) / 4.0))
        if second % 60 == 0:
            orders += [each.order for each in monitor.status().alarms if each.alarm == RAMP_HIGH.name]
    said = list(dict.fromkeys(order for order in orders if order))
    assert said == [ShortOrder.LOWER_HEAT, ShortOrder.HOLD_HEAT]
