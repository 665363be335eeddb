"""How long still: honest where it can be guessed, as wide as it is unsure, and None where it cannot."""

import math
from collections.abc import Callable

import pytest

from rampwarden.core.heat.heat_course import LevelCourse
from rampwarden.core.heat.time_to_go import Outlook, TimeToGo, planned_s
from rampwarden.core.model import EarlierHeat, EarlierLeg
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

LIMIT = Rate(36.0, 360.0)  # 0.1 °C/s
UP = Segment("up", SegmentKind.RAMP, to_c=610.0, max_rates=(LIMIT,))
HOLD = Segment("hold", SegmentKind.SOAK, at_c=610.0, band_c=(-10.0, 10.0), hold_s=600.0)
DOWN = Segment("down", SegmentKind.COOL, to_c=100.0)
CARRY = Segment("carry", SegmentKind.TRANSFER, within_s=1200.0)
FREE = Segment("free", SegmentKind.RAMP, to_c=900.0)
ROOM_C = 20.0


def climbing(c_per_s: float, from_c: float = 100.0) -> Callable[[float], float]:
    return lambda time_s: from_c + c_per_s * time_s


def falling(tau_s: float, from_c: float = 600.0) -> Callable[[float], float]:
    return lambda time_s: ROOM_C + (from_c - ROOM_C) * math.exp(-time_s / tau_s)


def feed(to_go: TimeToGo, course: Callable[[float], float], until_s: float, from_s: float = 0.0) -> None:
    for second in range(round(until_s - from_s) + 1):
        to_go.feed(from_s + second, course(from_s + second), ROOM_C)


def watched(*segments: Segment, course: Callable[[float], float], until_s: float) -> TimeToGo:
    """Watch the first of these segments for so long."""
    to_go = TimeToGo(Schedule("t", segments))
    to_go.enter(0, 0.0)
    feed(to_go, course, until_s)
    return to_go


def seen(to_go: TimeToGo, now_s: float, soaked_s: float = 0.0, *, in_band: bool = False) -> Outlook:
    return to_go.look(now_s, soaked_s, in_band=in_band)


def best_s(outlook: Outlook) -> float | None:
    return None if outlook.to_next is None else outlook.to_next.best_s


def leg(segment: Segment, lasted_s: float, course: Callable[[float], float] | None = None) -> EarlierLeg:
    points = () if course is None else tuple((s, course(s)) for s in range(0, round(lasted_s) + 1, 60))
    limit = min((rate.c_per_s for rate in segment.max_rates), default=None)
    return EarlierLeg(segment.kind.value, lasted_s, segment.target_c, segment.hold_s, limit, points)


class TestTheFirstMinute:
    def test_says_nothing_and_that_it_is_too_early(self) -> None:
        to_go = watched(UP, HOLD, DOWN, course=climbing(0.08), until_s=200.0)
        assert seen(to_go, 59.0) == Outlook(settling=True)
        assert best_s(seen(to_go, 200.0)) is not None

    def test_of_each_segment_anew_but_for_a_soak_in_its_band_whose_clock_is_no_guess(self) -> None:
        to_go = watched(UP, HOLD, DOWN, course=climbing(0.08), until_s=200.0)
        to_go.enter(1, 200.0)
        assert seen(to_go, 210.0).settling
        assert best_s(seen(to_go, 210.0, 10.0, in_band=True)) == 590.0
        to_go.enter(2, 810.0)
        assert seen(to_go, 860.0).settling

    def test_after_a_blind_time_too(self) -> None:
        to_go = watched(UP, course=climbing(0.08), until_s=200.0)
        to_go.resume(1000.0)
        to_go.feed(1001.0, 180.0, None)
        assert seen(to_go, 1030.0).settling

    def test_nothing_is_guessed_from_an_old_temperature(self) -> None:
        to_go = watched(UP, course=climbing(0.08), until_s=200.0)
        assert best_s(seen(to_go, 255.0)) is not None
        assert seen(to_go, 261.0) == Outlook()

    def test_nor_once_the_heat_leads_nowhere(self) -> None:
        to_go = watched(UP, course=climbing(0.08), until_s=200.0)
        to_go.enter(None, 200.0)
        assert seen(to_go, 300.0) == Outlook()


class TestAClimb:
    def test_goes_on_at_the_pace_it_has_kept(self) -> None:
        """0.06 °C/s, well below what people hold of the limit: 3600 s in have 294 °C left, and a little to close in."""
        outlook = seen(watched(UP, course=climbing(0.06), until_s=3600.0), 3600.0)
        assert best_s(outlook) == pytest.approx(294.0 / 0.06, rel=0.06)

    def test_that_is_young_is_expected_at_the_share_of_a_limit_that_people_hold(self) -> None:
        outlook = seen(watched(UP, course=climbing(0.1), until_s=65.0), 65.0)
        assert best_s(outlook) == pytest.approx(503.0 / 0.077, rel=0.1)

    def test_is_done_at_the_band_of_the_soak_that_follows(self) -> None:
        alone, followed = (
            best_s(seen(watched(*segments, course=climbing(0.06), until_s=3600.0), 3600.0))
            for segments in ((UP,), (UP, HOLD))
        )
        assert alone is not None
        assert followed is not None
        # Sooner, for the band begins below its target; by less than at this pace, for who closes in on a soak slows.
        assert 0.1 * 10.0 / 0.06 < alone - followed < 0.9 * 10.0 / 0.06

    def test_without_limit_goes_by_its_pace_alone_or_nobody_knows(self) -> None:
        assert best_s(seen(watched(FREE, course=climbing(0.2), until_s=2000.0), 2000.0)) == pytest.approx(
            2000.0, rel=0.05
        )
        assert best_s(seen(watched(FREE, course=climbing(0.0), until_s=2000.0), 2000.0)) is None

    def test_an_interval_holds_the_guess_and_is_wider_the_less_is_known(self) -> None:
        young = seen(watched(UP, course=climbing(0.08), until_s=70.0), 70.0).to_next
        old = seen(watched(UP, course=climbing(0.08), until_s=5000.0), 5000.0).to_next
        assert young is not None
        assert old is not None
        for guess in (young, old):
            low_s, high_s = guess.range_s
            assert low_s < guess.best_s < high_s
        assert young.range_s[1] / young.range_s[0] > 1.2
        assert old.sd_s < young.sd_s

    def test_that_levels_off_takes_longer_than_at_its_present_pace_and_may_be_later_rather_than_earlier(self) -> None:
        """Towards 700 °C with 1000 s: the burner is at its end."""
        outlook = seen(
            watched(UP, HOLD, course=lambda s: 700.0 - 600.0 * math.exp(-s / 1000.0), until_s=1200.0), 1200.0
        )
        assert outlook.to_next is not None
        left_s = 1000.0 * math.log(600.0 / 100.0) - 1200.0
        pace = 0.6 * math.exp(-1.2)
        now_c = 700.0 - 600.0 * math.exp(-1.2)
        assert (600.0 - now_c) / pace < outlook.to_next.best_s
        low_s, high_s = outlook.to_next.range_s
        assert low_s < left_s < high_s
        assert high_s - outlook.to_next.best_s > outlook.to_next.best_s - low_s

    def test_into_another_climb_is_not_slowed_down(self) -> None:
        further = Segment("further", SegmentKind.RAMP, to_c=900.0, max_rates=(LIMIT,))
        outlook = seen(watched(UP, further, course=climbing(0.06), until_s=3600.0), 3600.0)
        assert best_s(outlook) == pytest.approx(294.0 / 0.06, rel=0.05)


class TestACooling:
    def test_that_is_held_back_by_a_flame_goes_on_at_its_pace_until_the_furnace_is_slower(self) -> None:
        """1000 °C at 3 °C/min under a limit of 4: no furnace of this kind does that by itself."""
        held = Segment("down", SegmentKind.COOL, to_c=600.0, max_rates=(Rate(40.0, 600.0),))
        outlook = seen(watched(held, UP, course=climbing(-0.05, from_c=1000.0), until_s=2400.0), 2400.0)
        assert best_s(outlook) == pytest.approx(280.0 / 0.05, rel=0.06)

    def test_goes_by_what_it_does_now_once_it_does_something_else(self) -> None:
        """Held for hours, left to itself for the last half hour: the hours tell nothing of what comes."""
        held = Segment("down", SegmentKind.COOL, to_c=200.0, max_rates=(Rate(30.0, 600.0),))

        def course(time_s: float) -> float:
            if time_s < 14000.0:
                return 1000.0 - 0.04 * time_s
            return ROOM_C + 420.0 * math.exp(-(time_s - 14000.0) / 10500.0)

        outlook = seen(watched(held, UP, course=course, until_s=19000.0), 19000.0)
        assert best_s(outlook) == pytest.approx(10500.0 * math.log(420.0 / 180.0) - 5000.0, rel=0.03)

    def test_follows_newtons_law_with_the_junction_for_the_room(self) -> None:
        """τ = 3000 s from 600 °C: 100 °C are reached after τ ln(580/80)."""
        outlook = seen(watched(DOWN, UP, course=falling(3000.0), until_s=1800.0), 1800.0)
        assert best_s(outlook) == pytest.approx(3000.0 * math.log(580.0 / 80.0) - 1800.0, rel=0.03)

    def test_the_coldest_junction_is_the_nearest_to_the_room(self) -> None:
        """A board that warms by 10 °C beside the furnace does not warm the room."""
        warm, cold = (TimeToGo(Schedule("t", (DOWN, UP))) for _ in range(2))
        for to_go, warms_c in ((warm, 10.0), (cold, 0.0)):
            to_go.enter(0, 0.0)
            for second in range(1800):
                to_go.feed(second, falling(3000.0)(second), ROOM_C + warms_c * second / 1800.0)
        assert best_s(seen(warm, 1800.0)) == best_s(seen(cold, 1800.0))

    def test_lasts_at_least_what_it_is_to_stay_shut(self) -> None:
        shut = Segment("down", SegmentKind.COOL, to_c=500.0, hold_s=9000.0)
        outlook = seen(watched(shut, UP, course=falling(3000.0), until_s=600.0), 600.0, 600.0)
        assert best_s(outlook) == 8400.0

    def test_the_last_one_ends_when_the_pot_is_cold(self) -> None:
        """60 °C, wherever the schedule ends."""
        last = Segment("down", SegmentKind.COOL, to_c=30.0)
        outlook = seen(watched(last, course=falling(3000.0), until_s=1800.0), 1800.0)
        assert best_s(outlook) == pytest.approx(3000.0 * math.log(580.0 / 40.0) - 1800.0, rel=0.05)


class TestASoak:
    def test_lasts_what_is_left_of_its_hold(self) -> None:
        to_go = watched(HOLD, course=lambda _: 610.0, until_s=300.0)
        assert best_s(seen(to_go, 300.0, 300.0, in_band=True)) == 300.0

    def test_that_is_above_its_band_has_to_fall_back_first(self) -> None:
        """By 1.2 °C/min from 6 °C above it: five minutes."""
        to_go = watched(HOLD, course=climbing(-0.02, from_c=632.0), until_s=300.0)
        assert best_s(seen(to_go, 300.0, 0.0)) == pytest.approx(900.0, abs=20.0)

    def test_that_climbs_towards_its_upper_edge_may_last_longer(self) -> None:
        """2 °C/min with 4 °C to go: it will be out of its band in two minutes, and its clock stands."""
        rising = watched(HOLD, course=climbing(2.0 / 60.0, from_c=606.0), until_s=300.0)
        level = watched(HOLD, course=lambda _: 616.0, until_s=300.0)
        late, even = (seen(each, 300.0, 300.0, in_band=True).to_next for each in (rising, level))
        assert late is not None
        assert even is not None
        assert even.best_s == 300.0
        assert late.best_s > even.best_s
        assert late.range_s[0] <= 300.0
        assert late.range_s[1] > 300.0 + 300.0

    def test_below_its_band_has_to_get_there_first(self) -> None:
        segments = (Segment("up", SegmentKind.RAMP, to_c=500.0, max_rates=(LIMIT,)), HOLD)
        to_go = TimeToGo(Schedule("t", segments))
        to_go.enter(1, 0.0)
        feed(to_go, climbing(0.075, from_c=500.0), 300.0)
        assert best_s(seen(to_go, 300.0)) == pytest.approx(600.0 + 77.5 / 0.075, rel=0.1)


class TestTheEnd:
    def test_is_what_is_left_and_each_later_segment(self) -> None:
        outlook = seen(watched(UP, HOLD, DOWN, course=climbing(0.08), until_s=3000.0), 3000.0)
        assert outlook.to_next is not None
        assert outlook.to_end is not None
        assert len(outlook.rest.later) == 2
        assert outlook.to_end.best_s == pytest.approx(
            outlook.to_next.best_s + sum(each.best_s for each in outlook.rest.later)
        )
        assert outlook.to_end.range_s[0] < outlook.to_end.best_s < outlook.to_end.range_s[1]

    def test_is_not_guessed_where_a_part_of_it_cannot_be(self) -> None:
        outlook = seen(watched(UP, FREE, course=climbing(0.08), until_s=3000.0), 3000.0)
        assert outlook.to_next is not None
        assert (outlook.rest.later, outlook.to_end) == ((), None)

    def test_reckons_with_a_transfer_as_usually_taken(self) -> None:
        """Eight minutes of which nobody knows, and not the twenty that it may take."""
        outlook = seen(watched(UP, CARRY, course=climbing(0.08), until_s=3000.0), 3000.0)
        assert [each.best_s for each in outlook.rest.later] == [480.0]
        assert outlook.rest.later[0].range_s[1] > 2.0 * outlook.rest.later[0].range_s[0]

    def test_of_a_schedule_not_begun_is_a_plan_at_the_pace_people_hold(self) -> None:
        assert planned_s(Schedule("t", (UP, HOLD)), 20.0) == pytest.approx(580.0 / 0.077 + 600.0, rel=0.02)
        assert planned_s(Schedule("t", (FREE,)), 20.0) is None


class TestAsking:
    """What comes after is put together once; whoever asks twice is told the same, and asking changes nothing."""

    def test_puts_together_what_comes_after_only_where_a_segment_ends_or_more_is_known(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        put_together = []
        later = TimeToGo._later
        monkeypatch.setattr(TimeToGo, "_later", lambda self, index: put_together.append(index) or later(self, index))
        to_go = TimeToGo(Schedule("t", (UP, HOLD, DOWN)))
        to_go.enter(0, 0.0)
        for second in range(1000):
            to_go.feed(float(second), 100.0 + 0.08 * second, ROOM_C)
            seen(to_go, float(second))
        to_go.enter(1, 1000.0)
        for second in range(100):
            seen(to_go, 1000.0 + second, float(second), in_band=True)
        assert put_together == [0, 1]

    @pytest.mark.parametrize("news", ["a colder room", "an earlier heat", "another segment"])
    def test_gives_what_one_who_was_never_asked_before_gives(self, news: str) -> None:
        asked, unasked = (TimeToGo(Schedule("t", (UP, HOLD, DOWN))) for _ in range(2))
        for to_go in (asked, unasked):
            to_go.enter(0, 0.0)
            feed(to_go, climbing(0.08), 1000.0)
        before = seen(asked, 1000.0).rest
        for to_go in (asked, unasked):
            if news == "an earlier heat":
                to_go.remember(EarlierHeat(0.0, "one", (leg(HOLD, 900.0), leg(DOWN, 5000.0, falling(2000.0, 610.0)))))
            elif news == "another segment":
                to_go.enter(1, 1000.0)
            for second in range(1001, 1066):
                to_go.feed(float(second), 180.0, 10.0 if news == "a colder room" else ROOM_C)
        assert seen(asked, 1065.0).rest == seen(unasked, 1065.0).rest != before


class TestEarlierHeats:
    def heats(self, *paces: float) -> list[EarlierHeat]:
        return [
            EarlierHeat(
                0.0,
                f"heat {number}",
                (
                    leg(UP, 500.0 / pace, climbing(pace)),
                    leg(HOLD, 660.0),
                    leg(CARRY, 300.0),
                    leg(DOWN, 5000.0, falling(2700.0)),
                ),
            )
            for number, pace in enumerate(paces)
        ]

    def test_say_how_long_later_segments_take(self) -> None:
        to_go = watched(UP, HOLD, CARRY, DOWN, course=climbing(0.05), until_s=900.0)
        for heat in self.heats(0.05, 0.05, 0.05):
            to_go.remember(heat)
        later = [each.best_s for each in seen(to_go, 900.0).rest.later]
        assert later[:2] == pytest.approx([660.0, 300.0])
        assert to_go.earlier_heats == ("heat 0", "heat 1", "heat 2")

    def test_are_followed_at_this_heats_pace(self) -> None:
        """They went at 0.05, this one goes at 0.04: a limit's 0.077 tells nothing here."""
        to_go = watched(UP, HOLD, course=climbing(0.04), until_s=4000.0)
        for heat in self.heats(0.05, 0.05, 0.05):
            to_go.remember(heat)
        assert best_s(seen(to_go, 4000.0)) == pytest.approx(340.0 / 0.04, rel=0.06)

    def test_make_the_guess_surer(self) -> None:
        alone, learnt = (watched(UP, HOLD, DOWN, course=climbing(0.05), until_s=900.0) for _ in range(2))
        for heat in self.heats(0.05, 0.051, 0.049):
            learnt.remember(heat)
        first, fourth = seen(alone, 900.0).to_end, seen(learnt, 900.0).to_end
        assert first is not None
        assert fourth is not None
        assert fourth.sd_s < 0.5 * first.sd_s

    def test_a_transfer_that_lasts_longer_than_ever_is_about_to_end(self) -> None:
        to_go = watched(CARRY, UP, course=climbing(-0.1), until_s=400.0)
        for heat in self.heats(0.05, 0.05):
            to_go.remember(heat)
        assert best_s(seen(to_go, 100.0)) == pytest.approx(200.0)
        assert best_s(seen(to_go, 400.0)) == pytest.approx(60.0)

    def test_legs_that_cannot_be_are_left_out(self) -> None:
        """A record may hold anything."""
        to_go, plain = (watched(UP, HOLD, course=climbing(0.08), until_s=900.0) for _ in range(2))
        to_go.remember(
            EarlierHeat(
                0.0,
                "x",
                (
                    EarlierLeg("ramp", -5.0, 610.0, 0.0, 0.1),
                    EarlierLeg("ramp", 1e300, 610.0, 0.0, 0.1),
                    EarlierLeg("ramp", 900.0, 610.0, 0.0, 0.1, ((50.0, 100.0), (10.0, 200.0))),
                    EarlierLeg("ramp", 900.0, 610.0, 0.0, 0.0),
                    EarlierLeg("soak", math.inf, 610.0, 600.0),
                ),
            )
        )
        assert seen(to_go, 900.0) == seen(plain, 900.0)

    def test_a_heat_keeps_how_its_own_segments_went_for_the_next(self) -> None:
        """A segment that was skipped tells nothing."""
        to_go = watched(UP, HOLD, DOWN, course=climbing(0.1), until_s=5000.0)
        to_go.enter(1, 5000.0)
        feed(to_go, lambda _: 605.0, 5300.0, 5001.0)
        to_go.enter(2, 5300.0)
        assert [(each.segment, each.lasted_s) for each in to_go.legs] == [("ramp", 5000.0)]
        assert len(to_go.legs[0].course) <= 32
        assert to_go.legs[0].course[-1][1] == pytest.approx(600.0, abs=3.0)

    def test_a_kept_course_is_close_where_it_bends(self) -> None:
        """A furnace holds its heat for two minutes and then falls: a chord across the turn would be minutes off."""

        def course(time_s: float) -> float:
            return 600.0 if time_s < 120.0 else falling(3000.0)(time_s - 120.0)

        to_go = watched(DOWN, HOLD, course=course, until_s=6200.0)
        to_go.enter(1, 6200.0)
        kept = LevelCourse(falls=True)
        for time_s, temp_c in to_go.legs[0].course:
            kept.feed(time_s, temp_c)
        for passed_c in (590.0, 580.0, 560.0, 300.0, 110.0):
            truly_s = 120.0 + 3000.0 * math.log(580.0 / (passed_c - ROOM_C))
            assert kept.passed_s(passed_c) == pytest.approx(truly_s, abs=25.0)


class TestAStand:
    def levelling(self, at_c: float, tau_s: float = 1500.0) -> Callable[[float], float]:
        return lambda time_s: at_c - (at_c - 300.0) * math.exp(-time_s / tau_s)

    def test_short_of_the_end_is_said_with_where_it_will_be(self) -> None:
        to_go = watched(UP, HOLD, course=self.levelling(560.0), until_s=3600.0)
        outlook = seen(to_go, 3600.0)
        assert outlook.stops_near_c == pytest.approx(560.0, abs=5.0)
        assert (outlook.to_next, outlook.to_end) == (None, None)

    def test_far_off_is_not_said_before_much_of_the_way_to_it_is_seen(self) -> None:
        """With 340 °C short there is time to look on: deep walls drink for hours."""
        course = self.levelling(560.0, 3000.0)
        assert seen(watched(FREE, course=course, until_s=1600.0), 1600.0).stops_near_c is None
        assert seen(watched(FREE, course=course, until_s=6000.0), 6000.0).stops_near_c == pytest.approx(560.0, abs=8.0)

    def test_beyond_the_end_is_none(self) -> None:
        to_go = watched(UP, HOLD, course=self.levelling(700.0), until_s=1300.0)
        outlook = seen(to_go, 1300.0)
        assert outlook.stops_near_c is None
        assert outlook.to_next is not None

    def test_an_even_climb_has_none(self) -> None:
        assert seen(watched(UP, HOLD, course=climbing(0.03), until_s=5000.0), 5000.0).stops_near_c is None

    def test_is_forgotten_with_its_segment(self) -> None:
        to_go = watched(UP, HOLD, course=self.levelling(560.0), until_s=3600.0)
        to_go.enter(1, 3600.0)
        feed(to_go, lambda _: 560.0, 3800.0, 3601.0)
        assert seen(to_go, 3800.0).stops_near_c is None


def test_to_ask_changes_nothing_and_a_heat_seen_again_says_the_same() -> None:
    """However often it is asked."""
    asked, silent = (TimeToGo(Schedule("t", (UP, HOLD, DOWN))) for _ in range(2))
    for to_go in (asked, silent):
        to_go.enter(0, 0.0)
        for second in range(2000):
            to_go.feed(second, climbing(0.06)(second) + math.sin(second), ROOM_C)
            if to_go is asked and second % 7 == 0:
                seen(to_go, second)
    assert seen(asked, 2000.0) == seen(silent, 2000.0)
