"""A schedule laid out in time."""

from pathlib import Path

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.timeline import lay_out
from rampwarden.schedule_files import list_schedules, read_schedule

SHIPPED = Path(__file__).resolve().parents[2] / "config" / "schedules"
PER_HOUR = 3600.0


def ramp(to_c: float, *limits: Rate, least: Rate | None = None, within_s: float | None = None) -> Segment:
    return Segment(f"to {to_c:g}", SegmentKind.RAMP, to_c=to_c, max_rates=limits, min_rate=least, within_s=within_s)


def soak(at_c: float, hold_s: float = 1800.0) -> Segment:
    return Segment(f"at {at_c:g}", SegmentKind.SOAK, at_c=at_c, band_c=(-10.0, 20.0), hold_s=hold_s)


def cool(to_c: float, *limits: Rate) -> Segment:
    return Segment(f"down to {to_c:g}", SegmentKind.COOL, to_c=to_c, max_rates=limits)


def carry(arrive_above_c: float | None = None) -> Segment:
    return Segment("carry", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=arrive_above_c)


def test_a_ramp_is_reckoned_at_four_fifths_of_its_limit() -> None:
    """80 °C at 100 °C an hour: 48 min at the limit, an hour as it goes."""
    [stretch] = lay_out(Schedule("t", (ramp(100.0, Rate(25.0, 900.0)),)), 20.0).stretches
    assert (stretch.earliest_s, stretch.likely_s) == (pytest.approx(0.8 * PER_HOUR), pytest.approx(PER_HOUR))
    assert stretch.limit_k_per_h == pytest.approx(100.0)


def test_of_several_limits_the_slowest_is_in_force() -> None:
    """A burst limit lets nobody go faster for long."""
    [stretch] = lay_out(Schedule("t", (ramp(120.0, Rate(12.0, 30.0), Rate(30.0, 120.0)),)), 20.0).stretches
    assert stretch.limit_k_per_h == pytest.approx(900.0)


def test_a_least_rate_that_is_near_the_greatest_quickens_the_pace() -> None:
    """Between 90 and 100 an hour nobody goes at 80."""
    [stretch] = lay_out(
        Schedule("t", (ramp(115.0, Rate(100.0, PER_HOUR), least=Rate(90.0, PER_HOUR)),)), 20.0
    ).stretches
    assert stretch.likely_s == pytest.approx(PER_HOUR)


def test_a_ramp_with_a_least_rate_alone_is_reckoned_at_that() -> None:
    """It may go faster; how much is not known."""
    [stretch] = lay_out(Schedule("t", (ramp(120.0, least=Rate(50.0, PER_HOUR)),)), 20.0).stretches
    assert (stretch.earliest_s, stretch.likely_s) == (None, pytest.approx(2.0 * PER_HOUR))


def test_a_time_limit_bounds_the_pace_and_stands_in_for_a_missing_one() -> None:
    """Whoever must be done in an hour goes faster than four fifths, but not faster than the limit."""
    limits = (Rate(100.0, PER_HOUR),)
    hurried, impossible, unlimited = (
        lay_out(Schedule("t", (segment,)), 20.0).stretches[0]
        for segment in (
            ramp(110.0, *limits, within_s=PER_HOUR),
            ramp(220.0, *limits, within_s=PER_HOUR),
            ramp(220.0, within_s=PER_HOUR),
        )
    )
    assert hurried.likely_s == pytest.approx(PER_HOUR)
    assert impossible.likely_s == impossible.earliest_s == pytest.approx(2.0 * PER_HOUR)
    assert unlimited.likely_s == PER_HOUR


def test_a_ramp_ends_at_the_soaks_band_and_the_soak_lasts_its_hold() -> None:
    """The last degrees are climbed inside the soak."""
    timeline = lay_out(Schedule("t", (ramp(200.0, Rate(100.0, PER_HOUR)), soak(200.0))), 20.0)
    climbing, holding = timeline.stretches
    assert (climbing.from_c, climbing.to_c) == (20.0, 190.0)
    assert (holding.from_c, holding.to_c, holding.likely_s) == (190.0, 200.0, 1800.0)
    assert timeline.total_s == pytest.approx(170.0 / 80.0 * PER_HOUR + 1800.0)
    assert (timeline.aim_c, timeline.peak_c) == (200.0, 220.0)


def test_a_pot_that_is_carried_arrives_cooler_and_what_came_before_burnt_no_gas() -> None:
    """It arrives with what the schedule asks at least, else with 100 °C."""
    schedule = Schedule("t", (ramp(200.0, Rate(100.0, PER_HOUR)), carry(120.0), ramp(650.0, Rate(300.0, PER_HOUR))))
    oven, way, furnace = lay_out(schedule, 20.0).stretches
    assert [oven.in_furnace, way.in_furnace, furnace.in_furnace] == [False, False, True]
    assert (way.from_c, way.to_c, way.likely_s, furnace.from_c) == (200.0, 120.0, 1200.0, 120.0)
    unsaid = lay_out(Schedule("t", (ramp(200.0, Rate(100.0, PER_HOUR)), carry(), cool(50.0))), 20.0)
    assert unsaid.stretches[1].to_c == 100.0


def test_what_follows_a_length_that_is_not_known_has_no_clock_time() -> None:
    """Nor has the whole; but the later segment's own length is known."""
    timeline = lay_out(Schedule("t", (ramp(100.0), ramp(200.0, Rate(80.0, PER_HOUR)))), 20.0)
    first, second = timeline.stretches
    assert (first.starts_s, first.likely_s, first.ends_s) == (0.0, None, None)
    assert (second.starts_s, second.ends_s) == (None, None)
    assert second.likely_s is not None
    assert timeline.total_s is None


def test_a_warm_furnace_joins_where_it_fits() -> None:
    """As the watch would."""
    schedule = Schedule("t", (ramp(200.0, Rate(100.0, PER_HOUR)), ramp(650.0, Rate(300.0, PER_HOUR))))
    assert [stretch.index for stretch in lay_out(schedule, 300.0).stretches] == [1]


def test_time_and_dose_between_two_temperatures_are_summed_over_the_stretches() -> None:
    """An hour at 600 °C is 60 minutes of dose; cooling may be left out; the cold end counts for nothing."""
    schedule = Schedule(
        "t", (ramp(600.0, Rate(600.0, PER_HOUR)), soak(600.0, PER_HOUR), cool(100.0, Rate(250.0, PER_HOUR)))
    )
    timeline = lay_out(schedule, 100.0)
    climb_s = 490.0 / 480.0 * PER_HOUR
    assert timeline.seconds_within((0.0, 2000.0)) == pytest.approx(climb_s + PER_HOUR + 500.0 / 200.0 * PER_HOUR)
    assert timeline.seconds_within((0.0, 2000.0), heating_only=True) == pytest.approx(climb_s + PER_HOUR)
    assert timeline.seconds_within((100.0, 345.0), heating_only=True) == pytest.approx(climb_s / 2.0)
    assert timeline.dose_s((595.0, 2000.0), heating_only=True) == pytest.approx(0.95 * PER_HOUR * 0.5, rel=0.1)
    assert timeline.dose_s((700.0, 2000.0)) == 0.0


def test_a_dose_that_depends_on_an_unknown_length_is_not_known() -> None:
    """Unless the unknown stretch stays out of the range."""
    timeline = lay_out(Schedule("t", (ramp(300.0), ramp(700.0, Rate(100.0, PER_HOUR)))), 20.0)
    assert timeline.seconds_within((100.0, 650.0)) is None
    assert timeline.seconds_within((315.0, 650.0)) is not None


@pytest.mark.parametrize("path", list_schedules([SHIPPED]), ids=lambda path: path.stem)
def test_every_schedule_that_is_shipped_can_be_laid_out_whole(path: Path) -> None:
    """Each segment begins where the one before it ended, in time and temperature."""
    timeline = lay_out(read_schedule(path)[0], 20.0)
    for before, after in zip(timeline.stretches, timeline.stretches[1:], strict=False):
        assert before.ends_s == after.starts_s
        assert before.to_c == after.from_c
    assert timeline.total_s is not None
    assert timeline.total_s > 3600.0
