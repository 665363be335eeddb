"""The ramp alarm through the whole core: EMF in, alarms out, with the truth known.

Noise class low of the simulator: 2 µV of white noise, a converter step of 0.025 °C, 0.3 °C of flicker over 5 s, sparks,
mains pickup, uneven pace, gaps, a thin probe's lag of 2 s (the window of 100 °C / min leaves 8.6 s between the budget's
end and a tenth over it; a thicker probe would eat them). Invented figures, shaped like a small gas
furnace.
"""

import numpy as np
import pytest

from benchmarks.noise_model import CLASSES, Heats, Pace, simulate
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import AlarmState, Event, Reading
from rampwarden.core.monitor import Monitor

pytestmark = pytest.mark.long


LIMITS = {"25 C / 15 min": (25.0, 900.0), "100 C / min": (100.0, 60.0)}
JUNCTION_C = 24.0
START_C = 30.0
PACE = Pace(lag_s=2.0)
TOP_C = 1250.0


def events_of(heats: Heats, heat: int, limit: str) -> list[Event]:
    """Run one simulated heat through a monitor that watches a single ramp under `limit`."""
    couple = thermocouple("K")
    segment = {"name": "ramp", "kind": "ramp", "to": "1350 C", "max_rate": limit}
    monitor = Monitor(parse_schedule({"title": "one ramp", "segment": [segment]}, "test"))
    temp_c = np.clip(heats.temp_c[:, heat], -200.0, 1370.0)
    emf_uv = couple.emf_uv(temp_c) - couple.emf_uv(JUNCTION_C)
    events: list[Event] = []
    for time_s, emf in zip(heats.time_s[:, heat], emf_uv, strict=True):
        events += monitor.feed(Reading(float(time_s), float(emf), JUNCTION_C))
    return events


def raised(events: list[Event], alarm: str) -> list[float]:
    return [event.time_s for event in events if event.alarm == alarm and event.state is AlarmState.UNACKNOWLEDGED]


@pytest.mark.parametrize("limit", LIMITS)
def test_no_ramp_high_in_eight_hours_at_four_fifths_of_the_limit(limit: str) -> None:
    """Heats one after another, each from cold, for eight hours: silence. Days of it are in `make bench-ramp`."""
    climb_c, window_s = LIMITS[limit]
    slope = 0.8 * climb_c / window_s
    one_heat_s = (TOP_C - START_C) / slope
    count = int(np.ceil(8 * 3600 / one_heat_s))
    heats = simulate(
        lambda time_s: START_C + slope * time_s, CLASSES["low"], int(one_heat_s), count, seed=2402, pace=PACE
    )
    watched_s = float(heats.time_s[-1].sum())
    alarms = [raised(events_of(heats, heat, limit), "ramp-high") for heat in range(count)]
    assert watched_s >= 8 * 3600 * 0.99
    assert alarms == [[]] * count


@pytest.mark.parametrize("limit", LIMITS)
def test_at_half_above_the_limit_the_alarm_comes_before_the_climb_is_a_tenth_over_its_budget(limit: str) -> None:
    """From 0.8 to 1.5 times the limit: told before the true climb stands above 1.1 times the budget."""
    climb_c, window_s = LIMITS[limit]
    slope = climb_c / window_s
    turns_s = max(3 * window_s, 600.0) if window_s > 100 else 420.0
    rows = int(turns_s + 2 * window_s)

    def programme(time_s: np.ndarray) -> np.ndarray:
        return START_C + 0.8 * slope * time_s + 0.7 * slope * np.clip(time_s - turns_s, 0.0, None)

    heats = simulate(programme, CLASSES["low"], rows, 8, seed=15, pace=PACE)
    for heat in range(8):
        time_s, true_c = heats.time_s[:, heat], heats.true_c[:, heat]
        lowest_c = np.array(
            [true_c[np.searchsorted(time_s, at - window_s) : row + 1].min() for row, at in enumerate(time_s)]
        )
        over = np.flatnonzero(true_c - lowest_c > 1.1 * climb_c)
        alarms = raised(events_of(heats, heat, limit), "ramp-high")
        assert alarms, f"heat {heat}: the alarm never came"
        assert turns_s < alarms[0] <= time_s[over[0]], f"heat {heat}: came at {alarms[0]:.0f} s"
