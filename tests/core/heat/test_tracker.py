"""The heat along its schedule: the table of phases, an honest soak clock, a pot in transit, a person's word."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rampwarden.core.heat.tracker import (
    LONGEST_CREDITED_S,
    TRANSITIONS,
    HeatProgress,
    HeatTracker,
    Milestone,
    Phase,
    TrackerInput,
    next_phase,
)
from rampwarden.core.pot_keeper import SoakClocks
from rampwarden.core.schedule import OutOfBand, Schedule, Segment, SegmentKind
from rampwarden.errors import HeatTransitionError


def ramp(to_c: float) -> Segment:
    return Segment(f"to {to_c:g}", SegmentKind.RAMP, to_c=to_c, within_s=3600.0)


def soak(at_c: float, hold_s: float = 60.0, out_of_band: OutOfBand = OutOfBand.PAUSE) -> Segment:
    return Segment("soak", SegmentKind.SOAK, at_c=at_c, band_c=(-10.0, 20.0), hold_s=hold_s, out_of_band=out_of_band)


def carry(arrive_above_c: float | None = None) -> Segment:
    return Segment("carry", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=arrive_above_c)


def cool(to_c: float) -> Segment:
    return Segment(f"down to {to_c:g}", SegmentKind.COOL, to_c=to_c)


def tracker(*segments: Segment) -> HeatTracker:
    return HeatTracker(Schedule("test", segments), SoakClocks(LONGEST_CREDITED_S))


def started(index: int) -> HeatProgress:
    return HeatProgress(Milestone.SEGMENT_STARTED, index)


def soaked(index: int) -> HeatProgress:
    return HeatProgress(Milestone.SOAK_COMPLETE, index)


def done(index: int) -> HeatProgress:
    return HeatProgress(Milestone.SCHEDULE_DONE, index)


def complete(index: int) -> HeatProgress:
    return HeatProgress(Milestone.HEAT_COMPLETE, index)


def feed_all(heat: HeatTracker, temps_c: list[float], from_s: float = 0.0, every_s: float = 1.0) -> list[HeatProgress]:
    """Feed one temperature every `every_s` seconds; gives everything reached."""
    return [step for n, temp_c in enumerate(temps_c) for step in heat.feed(from_s + n * every_s, temp_c)]


def state_of(heat: HeatTracker) -> dict[str, object]:
    return dict(vars(heat))


BEGINNINGS = {
    TrackerInput.BEGIN_RAMP: Phase.RAMPING,
    TrackerInput.BEGIN_SOAK: Phase.APPROACHING,
    TrackerInput.BEGIN_TRANSFER: Phase.TRANSFERRING,
    TrackerInput.BEGIN_COOL: Phase.COOLING,
}
BANDS = {
    (Phase.APPROACHING, TrackerInput.ENTER_BAND): Phase.SOAKING,
    (Phase.ADRIFT, TrackerInput.ENTER_BAND): Phase.SOAKING,
    (Phase.SOAKING, TrackerInput.LEAVE_BAND): Phase.ADRIFT,
}


def expected_phase(phase: Phase, happening: TrackerInput) -> Phase | None:
    """State the table anew, in words: a finished heat stays so, one that only cools can but finish, any other may begin
    anything; bands are the soak's.
    """
    if phase is Phase.COMPLETE:
        return None
    if happening is TrackerInput.FINISH:
        return Phase.COMPLETE
    if phase is Phase.STILL_HOT:
        return None
    if happening is TrackerInput.RUN_OUT:
        return Phase.STILL_HOT
    return BEGINNINGS.get(happening) or BANDS.get((phase, happening))


class TestTheTable:
    @pytest.mark.parametrize("happening", TrackerInput)
    @pytest.mark.parametrize("phase", Phase)
    def test_allows_in_each_cell_what_it_should_and_refuses_the_rest(
        self, phase: Phase, happening: TrackerInput
    ) -> None:
        """Every pair of phase and happening, the refusal with its exact words."""
        expected = expected_phase(phase, happening)
        if expected is not None:
            assert next_phase(phase, happening) is expected
            return
        with pytest.raises(HeatTransitionError) as refusal:
            next_phase(phase, happening)
        assert str(refusal.value) == f"a heat that is {phase.value} cannot {happening.value}"

    def test_cannot_be_changed_by_anybody(self) -> None:
        """One table for every heat of the process."""
        with pytest.raises(TypeError):
            TRANSITIONS[Phase.COMPLETE, TrackerInput.BEGIN_RAMP] = Phase.RAMPING  # type: ignore[index]

    @pytest.mark.parametrize("after", SegmentKind)
    @pytest.mark.parametrize(
        "before", [Phase.RAMPING, Phase.APPROACHING, Phase.SOAKING, Phase.ADRIFT, Phase.TRANSFERRING, Phase.COOLING]
    )
    def test_is_what_the_tracker_walks_by(self, before: Phase, after: SegmentKind) -> None:
        """From every phase into every kind of segment, on a person's word."""
        first, temps_c = {
            Phase.RAMPING: ([ramp(900.0)], [20.0]),
            Phase.APPROACHING: ([soak(900.0)], [20.0]),
            Phase.SOAKING: ([soak(900.0)], [900.0]),
            Phase.ADRIFT: ([soak(900.0)], [900.0, 800.0]),
            Phase.TRANSFERRING: ([ramp(200.0), carry()], [20.0, 200.0]),
            Phase.COOLING: ([cool(100.0)], [900.0]),
        }[before]
        then = {
            SegmentKind.RAMP: ramp(1000.0),
            SegmentKind.SOAK: soak(1000.0),
            SegmentKind.TRANSFER: carry(),
            SegmentKind.COOL: cool(10.0),
        }[after]
        heat = tracker(*first, then)
        feed_all(heat, temps_c)
        assert heat.phase is before
        assert heat.skip(10.0) == [started(len(first))]
        assert heat.phase is BEGINNINGS[TrackerInput[f"BEGIN_{after.name}"]]


class TestThePath:
    def test_of_a_whole_heat_is_walked_in_order(self) -> None:
        """Ramp, transfer, ramp, soak, cool: each milestone once, with its segment, and where it was reached."""
        heat = tracker(ramp(200.0), carry(), ramp(400.0), soak(400.0, hold_s=3.0), cool(60.0))
        assert heat.segment is None
        assert heat.phase is Phase.WAITING
        assert heat.feed(0.0, 20.0) == [started(0)]
        assert heat.phase is Phase.RAMPING
        assert heat.feed(1.0, 199.9) == []
        assert heat.feed(2.0, 200.0) == [started(1)]
        assert heat.started_s == 2.0
        assert feed_all(heat, [150.0, 100.0, 109.0, 110.0], from_s=3.0) == [started(2)]
        assert feed_all(heat, [380.0, 390.0], from_s=10.0) == [started(3)]
        assert heat.phase is Phase.SOAKING
        assert feed_all(heat, [400.0, 401.0, 402.0], from_s=12.0) == [soaked(3), started(4)]
        assert heat.segment is heat.schedule.segments[4]
        assert heat.feed(20.0, 60.1) == []
        assert heat.feed(21.0, 60.0) == [complete(4)]
        assert heat.phase is Phase.COMPLETE
        assert heat.segment is None

    def test_ends_for_good(self) -> None:
        """Whatever the furnace does after the last segment, the heat is over."""
        heat = tracker(cool(60.0))
        feed_all(heat, [100.0, 50.0])
        before = state_of(heat)
        assert feed_all(heat, [20.0, 1000.0], from_s=5.0) == []
        assert state_of(heat) == before

    def test_takes_one_segment_a_reading_however_far_the_temperature_has_got(self) -> None:
        """After a gap three ramps may be climbed at once; each still gets its start, and the soak is watched."""
        heat = tracker(ramp(100.0), ramp(200.0), ramp(300.0), soak(300.0, hold_s=5.0))
        heat.feed(0.0, 20.0)
        assert heat.feed(600.0, 310.0) == [started(1)]
        assert heat.feed(601.0, 310.0) == [started(2)]
        assert heat.feed(602.0, 310.0) == [started(3)]
        assert heat.soaked_s == 0.0

    def test_begins_where_the_furnace_is_found(self) -> None:
        """Warm, hot, and hotter than the whole schedule."""
        plan = (ramp(200.0), soak(200.0), ramp(650.0), soak(650.0), cool(60.0))
        for temp_c, index, phase in [
            (20.0, 0, Phase.RAMPING),
            (195.0, 1, Phase.SOAKING),
            (300.0, 2, Phase.RAMPING),
            (1000.0, 3, Phase.APPROACHING),
        ]:
            heat = tracker(*plan)
            assert heat.feed(5.0, temp_c) == [started(index)]
            assert (heat.phase, heat.index, heat.started_s) == (phase, index, 5.0)

    def test_of_a_ramp_ends_at_the_lower_edge_of_the_soak_after_it(self) -> None:
        """The last degrees belong to the soak, whose clock runs from there."""
        heat = tracker(ramp(200.0), soak(200.0))
        assert feed_all(heat, [20.0, 189.9, 190.0]) == [started(0), started(1)]
        assert heat.phase is Phase.SOAKING

    def test_says_when_its_segment_is_overdue(self) -> None:
        """Counted from the segment's own start; nothing where there is no limit, before and after the heat."""
        heat = tracker(ramp(200.0), soak(400.0), cool(60.0))
        assert heat.overdue_s is None
        heat.feed(100.0, 20.0)
        assert heat.overdue_s == 3700.0
        heat.feed(200.0, 200.0)
        assert heat.overdue_s is None
        heat.finish()
        assert heat.overdue_s is None


def soaking(hold_s: float = 60.0, out_of_band: OutOfBand = OutOfBand.PAUSE) -> HeatTracker:
    """Give a heat that has just entered its soak's band, 390 to 420 °C, at 0 s."""
    heat = tracker(soak(400.0, hold_s, out_of_band), cool(60.0))
    heat.feed(0.0, 400.0)
    return heat


class TestTheSoakClock:
    def test_counts_from_one_reading_in_the_band_to_the_next(self) -> None:
        """The first one only starts it; the way to the band is not soaked."""
        heat = tracker(soak(400.0))
        feed_all(heat, [300.0, 380.0, 390.0])
        assert (heat.phase, heat.soaked_s) == (Phase.SOAKING, 0.0)
        heat.feed(4.5, 420.0)
        assert heat.soaked_s == 2.5

    def test_ends_the_soak_when_it_has_held_as_long_as_it_should(self) -> None:
        """At the hold and not a second sooner."""
        heat = soaking(hold_s=10.0)
        assert heat.feed(9.9, 400.0) == []
        assert heat.feed(10.0, 400.0) == [soaked(0), started(1)]

    def test_pauses_out_of_the_band_and_counts_neither_way_across_its_edge(self) -> None:
        """What happened between a reading inside and one outside nobody knows."""
        heat = soaking()
        feed_all(heat, [400.0, 400.0, 389.9, 380.0, 390.0, 400.0], from_s=1.0)
        assert heat.soaked_s == 2.0 + 1.0
        assert heat.phase is Phase.SOAKING

    @pytest.mark.parametrize("outside_c", [389.9, 420.1])
    def test_starts_again_where_the_schedule_says_so(self, outside_c: float) -> None:
        """Left above as well as below; standing outside does not make it less than nothing."""
        heat = soaking(out_of_band=OutOfBand.RESTART)
        feed_all(heat, [400.0] * 5, from_s=1.0)
        assert heat.soaked_s == 5.0
        feed_all(heat, [outside_c] * 17, from_s=6.0)
        assert (heat.phase, heat.soaked_s) == (Phase.ADRIFT, 0.0)
        feed_all(heat, [400.0, 400.0], from_s=23.0)
        assert heat.soaked_s == 1.0

    def test_starts_again_for_no_single_reading(self) -> None:
        """Nor for a few: a flicker at the edge of the band must not cost twenty minutes of soak."""
        heat = soaking(out_of_band=OutOfBand.RESTART)
        feed_all(heat, [400.0] * 5, from_s=1.0)
        feed_all(heat, [389.0, 400.0, 400.0, *[389.0] * 14, 400.0], from_s=6.0)
        assert heat.soaked_s == 6.0

    def test_credits_no_gap(self) -> None:
        """A gap nobody has watched is not soaked, though both its ends were in the band."""
        heat = soaking()
        heat.feed(LONGEST_CREDITED_S, 400.0)
        assert heat.soaked_s == LONGEST_CREDITED_S
        heat.feed(2 * LONGEST_CREDITED_S + 0.1, 400.0)
        assert heat.soaked_s == LONGEST_CREDITED_S
        heat.feed(2 * LONGEST_CREDITED_S + 1.1, 400.0)
        assert heat.soaked_s == pytest.approx(LONGEST_CREDITED_S + 1.0)

    def test_never_completes_on_the_strength_of_a_gap(self) -> None:
        """An hour of silence is not an hour of soak."""
        heat = soaking(hold_s=3600.0)
        assert heat.feed(7200.0, 400.0) == []
        assert heat.soaked_s == 0.0

    def test_credits_nothing_from_before_the_soak_was_skipped_to(self) -> None:
        """The reading before belongs to the segment that was left; the clock starts with the next."""
        heat = carrying(soak(200.0))
        heat.feed(9.0, 200.0)
        heat.skip(10.0)
        assert heat.phase is Phase.SOAKING
        heat.feed(12.0, 200.0)
        assert heat.soaked_s == 0.0
        heat.feed(14.0, 200.0)
        assert heat.soaked_s == 2.0

    def test_starts_from_nothing_in_each_soak(self) -> None:
        """Two soaks at one temperature are two soaks."""
        heat = tracker(soak(400.0, hold_s=5.0), soak(400.0, hold_s=5.0))
        assert feed_all(heat, [400.0] * 6) == [started(0), soaked(0), started(1)]
        assert heat.soaked_s == 0.0
        assert feed_all(heat, [400.0] * 5, from_s=6.0) == [soaked(1), done(1)]

    @given(
        st.lists(
            st.tuples(st.sampled_from([0.25, 1.0, 5.0, 15.0, 15.5, 100.0]), st.sampled_from([380.0, 400.0, 430.0])),
            max_size=60,
        ),
        st.sampled_from(OutOfBand),
    )
    def test_is_the_sum_of_what_was_seen(self, steps: list[tuple[float, float]], out_of_band: OutOfBand) -> None:
        """For any walk in and out of the band, with and without gaps, added up here from pairs of readings."""
        heat = soaking(math.inf, out_of_band)
        time_s, last_c, expected_s, left_s = 0.0, 400.0, 0.0, 0.0
        for step_s, temp_c in steps:
            time_s += step_s
            heat.feed(time_s, temp_c)
            if last_c == temp_c == 400.0 and step_s <= 15.0:
                expected_s += step_s
            if temp_c != 400.0:
                left_s = time_s if last_c == 400.0 else left_s
                if out_of_band is OutOfBand.RESTART and time_s - left_s >= 15.0:
                    expected_s = 0.0
            last_c = temp_c
        assert heat.soaked_s == expected_s
        assert heat.phase is (Phase.SOAKING if last_c == 400.0 else Phase.ADRIFT)


def carrying(*then: Segment, arrive_above_c: float | None = None) -> HeatTracker:
    """Give a heat whose pot leaves the oven at 200 °C, 0 s."""
    heat = tracker(ramp(200.0), carry(arrive_above_c), *(then or (ramp(650.0),)))
    assert feed_all(heat, [199.0, 200.0], from_s=-1.0) == [started(0), started(1)]
    return heat


class TestATransfer:
    def test_ends_when_the_probe_dipped_and_climbs_again(self) -> None:
        """Out in the air it falls by 15 °C and more; in the furnace it climbs 10 °C from its lowest."""
        heat = carrying()
        assert feed_all(heat, [190.0, 160.0, 140.0, 149.9], from_s=1.0) == []
        assert heat.phase is Phase.TRANSFERRING
        assert heat.feed(5.0, 150.0) == [started(2)]

    def test_is_not_ended_by_flicker_in_the_oven(self) -> None:
        """An oven swings by a dozen degrees about its setting for an hour; nothing has been carried anywhere."""
        heat = carrying(arrive_above_c=100.0)
        swings_c = [200.0 + 12.0 * math.sin(n / 40.0) for n in range(3600)]
        assert feed_all(heat, swings_c, from_s=1.0) == []

    def test_is_not_ended_by_a_dip_alone(self) -> None:
        """A probe that hangs in the air has not arrived, however it flutters."""
        heat = carrying()
        assert feed_all(heat, [185.1, 198.0, 120.0, 80.0, 60.0, 69.9, 55.0, 64.9], from_s=1.0) == []

    def test_needs_no_dip_far_above_the_oven(self) -> None:
        """A second probe waiting in the furnace never dips; 50 °C above the oven there can be no doubt."""
        heat = carrying()
        assert heat.feed(1.0, 249.9) == []
        assert heat.feed(2.0, 250.0) == [started(2)]

    def test_waits_for_the_temperature_it_should_arrive_above(self) -> None:
        """Dipped and risen, but still too cold to be in the furnace; the dip is remembered until it is not."""
        heat = carrying(arrive_above_c=100.0)
        assert feed_all(heat, [80.0, 40.0, 60.0, 99.9], from_s=1.0) == []
        assert heat.feed(5.0, 100.0) == [started(2)]

    def test_into_a_furnace_too_cold_for_its_schedule_goes_on_until_that_is_so(self) -> None:
        """Far above the oven still means above what the schedule names."""
        heat = carrying(arrive_above_c=400.0)
        assert feed_all(heat, [300.0, 399.9], from_s=1.0) == []
        assert heat.feed(3.0, 400.0) == [started(2)]

    def test_measures_the_dip_from_where_this_transfer_began(self) -> None:
        """A cold drying segment before it does not count as the dip."""
        heat = tracker(ramp(200.0), carry(), ramp(650.0))
        assert feed_all(heat, [20.0, 100.0, 200.0]) == [started(0), started(1)]
        assert feed_all(heat, [205.0, 210.0, 230.0], from_s=3.0) == []
        assert heat.phase is Phase.TRANSFERRING


class TestAPersonsWord:
    def test_skips_to_the_next_segment(self) -> None:
        """Dated as given; no milestone is claimed that was not reached."""
        heat = soaking(hold_s=3600.0)
        assert heat.skip(30.0) == [started(1)]
        assert (heat.phase, heat.started_s, heat.soaked_s) == (Phase.COOLING, 30.0, 0.0)

    def test_skips_into_a_soak_by_the_temperature_last_seen(self) -> None:
        """In the band it soaks at once, below it has still to get there."""
        for last_c, phase in [(195.0, Phase.SOAKING), (150.0, Phase.APPROACHING)]:
            heat = carrying(soak(200.0))
            heat.feed(1.0, last_c)
            heat.skip(2.0)
            assert heat.phase is phase

    def test_skips_into_a_transfer_from_the_temperature_last_seen(self) -> None:
        """The dip is measured from there."""
        heat = tracker(ramp(300.0), carry(), ramp(650.0))
        feed_all(heat, [150.0, 200.0])
        assert heat.skip(2.0) == [started(1)]
        assert feed_all(heat, [186.0, 198.0], from_s=3.0) == []
        assert feed_all(heat, [185.0, 195.0], from_s=5.0) == [started(2)]

    def test_skips_out_of_the_last_segment_into_the_end(self) -> None:
        """The schedule is then done, and the heat over when the pot is cold."""
        heat = tracker(cool(60.0))
        heat.feed(0.0, 300.0)
        assert heat.skip(1.0) == [done(0)]
        assert heat.phase is Phase.STILL_HOT
        assert heat.feed(2.0, 60.0) == [complete(0)]
        assert heat.phase is Phase.COMPLETE

    @pytest.mark.parametrize("phase", [Phase.WAITING, Phase.STILL_HOT, Phase.COMPLETE])
    def test_skips_nothing_where_there_is_no_segment(self, phase: Phase) -> None:
        """Before the first temperature and after the end; nothing has changed."""
        heat = tracker(ramp(200.0))
        if phase is not Phase.WAITING:
            feed_all(heat, [200.0, 200.0])
        if phase is Phase.COMPLETE:
            heat.finish()
        before = state_of(heat)
        with pytest.raises(HeatTransitionError) as refusal:
            heat.skip(5.0)
        assert str(refusal.value) == f"a heat that is {phase.value} has no segment to skip"
        assert state_of(heat) == before

    def test_ends_the_heat_from_any_phase_but_its_end(self) -> None:
        """Even before the first temperature; a second time it is refused and nothing has changed."""
        heat = tracker(ramp(200.0))
        heat.finish()
        assert heat.phase is Phase.COMPLETE
        before = state_of(heat)
        with pytest.raises(HeatTransitionError) as refusal:
            heat.finish()
        assert str(refusal.value) == "a heat that is complete cannot finish"
        assert state_of(heat) == before


class TestAPotThatIsStillHot:
    """The heat is over when it is cold, not when the last line is ticked."""

    def test_is_watched_until_it_is_cold(self) -> None:
        """A schedule that ends with its soak leaves a pot at 400 °C: the soak stays in force until 60 °C."""
        heat = tracker(soak(400.0, hold_s=5.0))
        assert feed_all(heat, [400.0] * 6) == [started(0), soaked(0), done(0)]
        assert heat.phase is Phase.STILL_HOT
        assert heat.segment == heat.schedule.segments[0]
        assert heat.overdue_s is None
        assert feed_all(heat, [300.0, 60.1], from_s=1000.0, every_s=1000.0) == []
        assert heat.feed(2100.0, 60.0) == [complete(0)]
        assert heat.segment is None

    def test_is_cold_at_the_end_of_its_last_cooling_if_that_is_warmer(self) -> None:
        """Whoever writes `to = "300 C"` opens the furnace then."""
        heat = tracker(cool(300.0))
        assert feed_all(heat, [900.0, 301.0]) == [started(0)]
        assert heat.feed(5.0, 300.0) == [complete(0)]

    def test_is_cold_at_sixty_degrees_though_the_schedule_says_twenty(self) -> None:
        """No pot comes down to 20 °C in a warm shed."""
        heat = tracker(cool(20.0))
        assert feed_all(heat, [900.0, 61.0]) == [started(0)]
        assert heat.feed(5.0, 60.0) == [complete(0)]

    def test_cools_no_further_than_its_own_line_where_another_follows(self) -> None:
        """Only the last cooling is the end."""
        heat = tracker(cool(20.0), cool(10.0))
        assert feed_all(heat, [900.0, 50.0]) == [started(0)]
        assert heat.feed(5.0, 20.0) == [started(1)]

    def test_stays_shut_for_the_least_time(self) -> None:
        """ "Ninety minutes at least in the closed furnace": cold before that is not yet done."""
        shut = Segment("shut", SegmentKind.COOL, to_c=300.0, hold_s=90.0)
        heat = tracker(shut)
        assert feed_all(heat, [900.0, 300.0, 200.0], every_s=40.0) == [started(0)]
        assert heat.soaked_s == 80.0
        assert heat.feed(89.9, 190.0) == []
        assert heat.feed(90.0, 190.0) == [complete(0)]

    def test_is_over_on_a_persons_word(self) -> None:
        """Whoever ends the heat by hand has the last word."""
        heat = tracker(ramp(400.0))
        feed_all(heat, [20.0, 400.0])
        heat.finish()
        assert heat.phase is Phase.COMPLETE
