"""A schedule in use: which limits are in force, when a ramp is done, and where a warm furnace joins."""

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

SLOW = Rate(25.0, 900.0)
FAST = Rate(100.0, 60.0)
OWN = Rate(5.0, 60.0)


def ramp(to_c: float, *limits: Rate) -> Segment:
    return Segment(f"to {to_c:g}", SegmentKind.RAMP, to_c=to_c, max_rates=limits)


def soak(at_c: float, *limits: Rate, band_c: tuple[float, float] = (-15.0, 15.0)) -> Segment:
    return Segment(f"at {at_c:g}", SegmentKind.SOAK, at_c=at_c, band_c=band_c, hold_s=600.0, max_rates=limits)


def cool(to_c: float, *limits: Rate) -> Segment:
    return Segment(f"down to {to_c:g}", SegmentKind.COOL, to_c=to_c, max_rates=limits)


CARRY = Segment("carry", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=100.0)


def schedule(*segments: Segment) -> Schedule:
    return Schedule("test", segments)


class TestTargets:
    def test_ramp_and_cool_lead_to_their_end_and_a_soak_to_its_temperature(self) -> None:
        """What a display names as the aim."""
        assert [ramp(200.0).target_c, soak(1150.0).target_c, cool(60.0).target_c] == [200.0, 1150.0, 60.0]

    def test_a_transfer_leads_nowhere_in_degrees(self) -> None:
        """What it arrives above is a condition, not an aim."""
        assert CARRY.target_c is None

    def test_a_band_is_differences_about_the_soak(self) -> None:
        """Lower and upper edge, not symmetric."""
        segment = soak(1150.0, band_c=(-25.0, 35.0))
        assert (segment.lowest_c, segment.highest_c) == (1125.0, 1185.0)


class TestLimitsInForce:
    def test_a_segment_has_its_own_limits(self) -> None:
        """All of them, where it carries several."""
        assert schedule(ramp(200.0, SLOW, FAST)).limits_in_force(0) == (SLOW, FAST)

    def test_a_soak_without_limits_keeps_those_of_the_ramp_that_leads_to_it(self) -> None:
        """The last degrees are climbed inside the soak, and are no less dangerous there."""
        assert schedule(ramp(200.0, SLOW), soak(200.0)).limits_in_force(1) == (SLOW,)

    def test_a_soak_with_limits_has_only_its_own(self) -> None:
        """Whoever writes one means it."""
        assert schedule(ramp(200.0, SLOW), soak(200.0, OWN)).limits_in_force(1) == (OWN,)

    @pytest.mark.parametrize("before", [soak(190.0, SLOW), cool(300.0, SLOW), CARRY], ids=["soak", "cool", "transfer"])
    def test_a_soak_after_anything_but_a_ramp_inherits_nothing(self, before: Segment) -> None:
        """A cooling limit is one of fall; a carried pot starts afresh."""
        assert schedule(ramp(185.0, FAST), before, soak(200.0)).limits_in_force(2) == ()

    def test_a_soak_at_the_start_has_nothing_to_inherit(self) -> None:
        """In particular not from the last segment, which an index of -1 would be."""
        assert schedule(soak(200.0), ramp(300.0, FAST)).limits_in_force(0) == ()

    def test_no_other_kind_inherits(self) -> None:
        """A ramp, a transfer or a cool without limits has none."""
        plan = schedule(ramp(200.0, SLOW), ramp(300.0), CARRY, cool(60.0))
        assert [plan.limits_in_force(index) for index in (1, 2, 3)] == [(), (), ()]


class TestEndOfRamp:
    def test_is_where_the_ramp_leads(self) -> None:
        """Alone, and before anything but a soak."""
        assert schedule(ramp(200.0)).end_of_ramp_c(0) == 200.0
        assert schedule(ramp(200.0), CARRY).end_of_ramp_c(0) == 200.0
        assert schedule(ramp(200.0), ramp(300.0)).end_of_ramp_c(0) == 200.0

    def test_is_the_lower_edge_of_the_soak_that_follows(self) -> None:
        """Who levels off two degrees low has arrived."""
        assert schedule(ramp(200.0), soak(200.0)).end_of_ramp_c(0) == 185.0

    def test_is_never_higher_than_the_ramp_itself_leads(self) -> None:
        """A soak far above is approached inside the soak."""
        assert schedule(ramp(200.0), soak(400.0)).end_of_ramp_c(0) == 200.0


TWO_VESSELS = schedule(
    ramp(200.0, SLOW), CARRY, ramp(650.0, FAST), ramp(1130.0, FAST), soak(1150.0), cool(400.0), ramp(500.0), cool(60.0)
)


class TestJoining:
    @pytest.mark.parametrize(
        ("temp_c", "index"),
        [
            (-20.0, 0),
            (20.0, 0),
            (199.9, 0),
            (200.0, 2),  # never a transfer: nobody is carrying a pot as the watch begins
            (649.9, 2),
            (650.0, 3),
            (1129.9, 3),
            (1130.0, 4),
            (1150.0, 4),
            (1165.0, 4),
            (1165.1, 4),
            (1400.0, 4),
        ],
    )
    def test_is_at_the_first_segment_not_yet_done(self, temp_c: float, index: int) -> None:
        """Cold, warm, at the soak and hotter than all of it; never in the cooling, nor beyond."""
        assert TWO_VESSELS.joining_segment(temp_c) == index

    @pytest.mark.parametrize(("temp_c", "index"), [(100.0, 0), (185.0, 1), (215.0, 1), (215.1, 2), (700.0, 2)])
    def test_at_a_soak_is_from_its_lower_edge_to_its_upper(self, temp_c: float, index: int) -> None:
        """A drying soak that has been passed is passed."""
        assert schedule(ramp(200.0), soak(200.0), ramp(650.0)).joining_segment(temp_c) == index

    def test_takes_no_last_soak_as_done_without_having_watched_it(self) -> None:
        """However hot, the soak is where the watch begins."""
        assert schedule(ramp(200.0), soak(200.0)).joining_segment(1000.0) == 1

    def test_of_a_schedule_that_only_cools_is_at_its_start(self) -> None:
        """Watching a furnace cool down is a schedule too."""
        assert schedule(cool(400.0), cool(60.0)).joining_segment(200.0) == 0

    def test_of_a_schedule_that_only_carries_is_at_its_start(self) -> None:
        """A transfer alone still begins."""
        assert schedule(CARRY).joining_segment(200.0) == 0
