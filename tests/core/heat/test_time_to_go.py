"""How long still: honest where it can be guessed, and None where it cannot."""

import pytest

from rampwarden.core.heat.time_to_go import time_to_end_s, time_to_next_s
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

LIMIT = Rate(36.0, 360.0)  # 0.1 °C/s
LOWEST = Rate(3.0, 60.0)  # 0.05 °C/s


def ramp(to_c: float, *limits: Rate, min_rate: Rate | None = None) -> Segment:
    return Segment("up", SegmentKind.RAMP, to_c=to_c, max_rates=limits, min_rate=min_rate)


def soak(at_c: float, hold_s: float = 600.0) -> Segment:
    return Segment("hold", SegmentKind.SOAK, at_c=at_c, band_c=(-10.0, 10.0), hold_s=hold_s)


def cool(to_c: float, *limits: Rate) -> Segment:
    return Segment("down", SegmentKind.COOL, to_c=to_c, max_rates=limits)


def carry(arrive_above_c: float | None = None) -> Segment:
    return Segment("carry", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=arrive_above_c)


def to_next_s(*segments: Segment, temp_c: float | None, c_per_s: float | None, soaked_s: float = 0.0) -> float | None:
    """Ask of the last of these segments."""
    return time_to_next_s(Schedule("t", segments), len(segments) - 1, temp_c, c_per_s, soaked_s)


class TestToTheNextSegment:
    @pytest.mark.parametrize(
        ("c_per_s", "seconds"),
        [
            (0.08, 100.0 / 0.08),  # as it goes
            (0.2, 1000.0),  # too fast: held to the limit, for somebody will turn it down
            (0.001, 4000.0),  # hardly moving: a quarter of the limit
            (0.0, 4000.0),  # standing still is no reason to expect the fastest pace
            (-0.3, 4000.0),
            (None, 1000.0),  # nothing known yet: as planned
        ],
    )
    def test_a_ramp_goes_on_at_its_pace_held_within_what_is_allowed(
        self, c_per_s: float | None, seconds: float
    ) -> None:
        """From 100 to 200 °C at no more than 0.1 °C/s."""
        assert to_next_s(ramp(200.0, LIMIT), temp_c=100.0, c_per_s=c_per_s) == pytest.approx(seconds)

    def test_a_ramp_with_several_limits_is_held_to_the_tightest(self) -> None:
        """A burst is allowed, an hour of it is not."""
        segment = ramp(200.0, Rate(60.0, 60.0), LIMIT)
        assert to_next_s(segment, temp_c=100.0, c_per_s=0.9) == pytest.approx(1000.0)

    def test_a_ramp_is_expected_to_keep_its_least_rate(self) -> None:
        """Below it there is an alarm, and then a hand at the valve."""
        assert to_next_s(ramp(200.0, LIMIT, min_rate=LOWEST), temp_c=100.0, c_per_s=0.01) == pytest.approx(2000.0)

    def test_a_ramp_is_done_at_the_soak_that_follows(self) -> None:
        """At the lower edge of its band."""
        plan = Schedule("t", (ramp(200.0, LIMIT), soak(200.0)))
        assert time_to_next_s(plan, 0, 100.0, 0.09, 0.0) == pytest.approx(1000.0)

    def test_a_ramp_without_a_limit_goes_by_its_pace_alone(self) -> None:
        """And where that leads nowhere within a week, nobody knows."""
        assert to_next_s(ramp(200.0), temp_c=100.0, c_per_s=0.5) == pytest.approx(200.0)
        for c_per_s in (None, 0.0, -1.0, 1e-9):
            assert to_next_s(ramp(200.0), temp_c=100.0, c_per_s=c_per_s) is None

    def test_a_cooling_falls_at_its_pace_held_to_its_limit(self) -> None:
        """Climbing meanwhile means the least pace."""
        for c_per_s, seconds in [(-0.08, 1250.0), (-1.0, 1000.0), (0.5, 4000.0), (None, 1000.0)]:
            assert to_next_s(cool(100.0, LIMIT), temp_c=200.0, c_per_s=c_per_s) == pytest.approx(seconds)

    @pytest.mark.parametrize(
        ("segment", "temp_c"), [(ramp(200.0, LIMIT), 250.0), (cool(100.0, LIMIT), 50.0)], ids=["ramp", "cool"]
    )
    def test_what_is_reached_already_ends_with_the_next_reading(self, segment: Segment, temp_c: float) -> None:
        """Skipped into from beyond its end."""
        assert to_next_s(segment, temp_c=temp_c, c_per_s=0.05) == 0.0

    def test_a_soak_lasts_what_is_left_of_its_hold(self) -> None:
        """In the band, above it, and while no temperature is known."""
        for temp_c in (390.0, 400.0, 450.0, None):
            assert to_next_s(soak(400.0), temp_c=temp_c, c_per_s=0.0, soaked_s=200.0) == 400.0

    def test_a_soak_not_yet_in_its_band_has_still_to_get_there(self) -> None:
        """Under the limits it keeps from its ramp; without any, by its pace, or nobody knows."""
        led_to = (ramp(300.0, LIMIT), soak(400.0))
        assert to_next_s(*led_to, temp_c=300.0, c_per_s=0.09) == pytest.approx(1000.0 + 600.0)
        assert to_next_s(soak(400.0), temp_c=300.0, c_per_s=0.5) == pytest.approx(180.0 + 600.0)
        assert to_next_s(soak(400.0), temp_c=300.0, c_per_s=0.0) is None

    def test_a_transfer_takes_as_long_as_it_takes(self) -> None:
        """Its time limit is no forecast."""
        assert to_next_s(carry(), temp_c=200.0, c_per_s=0.0) is None

    @pytest.mark.parametrize("segment", [ramp(200.0, LIMIT), cool(100.0, LIMIT)])
    def test_nothing_is_guessed_without_a_temperature(self, segment: Segment) -> None:
        """A sensor that is open tells no distance."""
        assert to_next_s(segment, temp_c=None, c_per_s=0.1) is None


class TestToTheEnd:
    def test_adds_what_is_planned_to_what_is_left(self) -> None:
        """Climbs and falls at their limits, soaks at their hold."""
        plan = Schedule("t", (ramp(200.0, LIMIT), soak(200.0), ramp(300.0, LIMIT), soak(300.0), cool(100.0, LIMIT)))
        assert time_to_end_s(plan, 0, 50.0) == pytest.approx(50.0 + 600.0 + 1000.0 + 600.0 + 2000.0)
        assert time_to_end_s(plan, 3, 50.0) == pytest.approx(50.0 + 2000.0)
        assert time_to_end_s(plan, 4, 50.0) == 50.0

    def test_of_a_soak_counts_the_climb_to_it(self) -> None:
        """A soak far above the ramp before it is not reached for nothing."""
        plan = Schedule("t", (cool(100.0, LIMIT), ramp(200.0, LIMIT), soak(300.0)))
        assert time_to_end_s(plan, 0, 0.0) == pytest.approx(1000.0 + 1000.0 + 600.0)

    def test_after_a_transfer_climbs_from_what_the_pot_arrives_with(self) -> None:
        """Not from nothing: a ramp to red heat takes its time."""
        plan = Schedule("t", (ramp(200.0, LIMIT), carry(arrive_above_c=100.0), ramp(650.0, LIMIT)))
        assert time_to_end_s(plan, 0, 50.0) == pytest.approx(50.0 + 1200.0 + 5500.0)

    @pytest.mark.parametrize(
        "then",
        [
            (carry(), ramp(650.0, LIMIT)),  # arriving with who knows what
            (carry(), soak(650.0)),
            (ramp(650.0),),  # at no limit
            (cool(60.0),),
        ],
        ids=["ramp after transfer", "soak after transfer", "ramp without limit", "cool without limit"],
    )
    def test_is_not_guessed_where_a_part_of_it_cannot_be(self, then: tuple[Segment, ...]) -> None:
        """None instead of a fantasy."""
        assert time_to_end_s(Schedule("t", (ramp(200.0, LIMIT), *then)), 0, 50.0) is None

    def test_is_not_guessed_where_the_present_segment_cannot_be(self) -> None:
        """Nothing to add to."""
        assert time_to_end_s(Schedule("t", (carry(), ramp(650.0, LIMIT))), 0, None) is None

    def test_needs_no_limit_where_nothing_is_to_be_climbed(self) -> None:
        """A soak after a ramp without one is its hold."""
        assert time_to_end_s(Schedule("t", (ramp(200.0), soak(200.0))), 0, 50.0) == 650.0
