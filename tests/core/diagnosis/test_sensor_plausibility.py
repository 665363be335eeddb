"""What no rightly wired thermocouple reads: below its junction while heated, a racing junction, a senseless start."""

import pytest

from courses import CALM, ROUGH, Course, buckets, corners, noisy
from rampwarden.core.diagnosis.sensor_plausibility import JunctionWatch, ReversedWatch, StartWatch
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Finding, Noise

TYPE_K = thermocouple("K")


def crossed(course: Course, junction_c: float) -> Course:
    """Give what is read when the wires are crossed at the board."""
    at_junction_uv = TYPE_K.emf_uv(junction_c)
    return lambda time_s: TYPE_K.temp_c(at_junction_uv - TYPE_K.emf_uv(course(time_s)), junction_c)


def reversed_findings(
    course: Course, seconds: float, junction_c: float, noise: Noise = CALM, *, heating: bool = True, seed: int = 1
) -> list[Finding]:
    watch = ReversedWatch()
    seen = buckets(noisy(course, seconds, noise, seed), lambda _: junction_c)
    found = [watch.feed(bucket, noise, heating=heating) for bucket in seen]
    return [finding for finding in found if finding is not None]


class TestCrossedWires:
    @pytest.mark.parametrize("noise", [CALM, ROUGH])
    def test_show_a_fall_below_the_junction_while_the_heat_is_on(self, noise: Noise) -> None:
        """At 60 °C an hour within half an hour, whatever the flame."""
        warming = corners((0.0, 21.0), (1800.0, 51.0))
        found = reversed_findings(crossed(warming, 21.0), 1800.0, 21.0, noise)
        assert found
        assert found[0].unit == "°C"
        assert "below its own junction: likely the wires are crossed" in found[0].what

    def test_go_on_being_told_as_long_as_the_reading_is_below(self) -> None:
        """One alarm, not one for each flicker."""
        warming = corners((0.0, 21.0), (3600.0, 121.0))
        seen = list(buckets(noisy(crossed(warming, 21.0), 3600.0, ROUGH), lambda _: 21.0))
        watch = ReversedWatch()
        told = [watch.feed(bucket, ROUGH, heating=True) is not None for bucket in seen]
        assert all(told[told.index(True) :])

    def test_of_a_pot_that_was_hot_are_told_in_a_transfer_too(self) -> None:
        """Replugged the wrong way round while the pot was carried: 130 °C become 80 below the junction."""
        carried = corners((0.0, 130.0), (300.0, 130.0), (301.0, -75.0))
        assert reversed_findings(carried, 400.0, 25.0, heating=False)


class TestWiresThatAreRight:
    def test_in_a_winter_workshop_stand_below_a_warm_board_and_are_believed(self) -> None:
        """The furnace out of doors at -5 °C, the board inside at 20 °C."""
        assert reversed_findings(corners((0.0, -5.0), (3600.0, 55.0)), 3600.0, 20.0, ROUGH) == []

    def test_in_a_furnace_that_cools_overnight_are_believed(self) -> None:
        """Fifteen degrees in five hours, with the ramp not yet begun."""
        assert reversed_findings(corners((0.0, 15.0), (18000.0, 0.0)), 18000.0, 20.0) == []

    @pytest.mark.parametrize("seed", range(5))
    def test_at_room_temperature_are_believed_through_the_roughest_flame(self, seed: int) -> None:
        """Flicker of 1.5 °C about the junction for four hours."""
        assert reversed_findings(lambda _: 20.0, 14400.0, 21.0, ROUGH, seed=seed) == []

    def test_that_fall_where_nothing_heats_are_believed(self) -> None:
        """A cooling out of doors ends below a board that stands inside."""
        assert reversed_findings(corners((0.0, 40.0), (3600.0, -2.0)), 3600.0, 20.0, heating=False) == []

    def test_without_a_junction_cannot_be_judged(self) -> None:
        """A board that converts may not tell it."""
        watch = ReversedWatch()
        seen = buckets(noisy(corners((0.0, 20.0), (600.0, -80.0)), 600.0, CALM))
        assert all(watch.feed(bucket, CALM, heating=True) is None for bucket in seen)


def junction_findings(junction_c: Course, seconds: float = 1800.0) -> list[Finding]:
    watch = JunctionWatch()
    found = [watch.feed(bucket) for bucket in buckets(noisy(lambda _: 500.0, seconds, CALM), junction_c)]
    return [finding for finding in found if finding is not None]


class TestTheJunction:
    def test_that_races_is_told_with_its_rate_and_what_it_does_to_the_reading(self) -> None:
        """Three degrees a minute up, and down again."""
        found = junction_findings(corners((0.0, 25.0), (600.0, 25.0), (1000.0, 45.0)), 1000.0)
        assert found[-1].value == pytest.approx(3.0, rel=0.01)
        assert found[-1].limit == 1.0
        assert "+3.0 °C/min, now 45 °C: the reading is off by what its sensor lags behind" in found[-1].what
        assert junction_findings(corners((0.0, 45.0), (600.0, 25.0)), 600.0)[-1].value == pytest.approx(-2.0, rel=0.01)

    @pytest.mark.parametrize("c_per_h", [12.0, 30.0, -12.0])
    def test_that_drifts_with_the_furnace_is_let_alone(self, c_per_h: float) -> None:
        """Warm-up after switching on, and the workshop getting warm."""
        assert junction_findings(corners((0.0, 25.0), (1800.0, 25.0 + c_per_h / 2.0))) == []

    def test_of_coarse_steps_is_no_race(self) -> None:
        """A sensor of 1 °C steps that flutters between two of them."""
        assert junction_findings(lambda time_s: 25.0 + (time_s // 7.0) % 2.0) == []

    def test_is_not_judged_across_a_gap(self) -> None:
        """Half an hour without readings explains any difference."""
        watch = JunctionWatch()
        early = list(buckets(noisy(lambda _: 500.0, 300.0, CALM), lambda _: 25.0))
        late = list(buckets(((time_s + 1800.0, 500.0) for time_s in range(300)), lambda _: 45.0))
        assert all(watch.feed(bucket) is None for bucket in early + late)


def start_findings(course: Course, junction_c: float | None = 21.0, seconds: float = 400.0) -> list[Finding]:
    watch = StartWatch()
    junction = None if junction_c is None else lambda _: junction_c
    found = [watch.feed(bucket) for bucket in buckets(noisy(course, seconds, CALM), junction)]
    return [finding for finding in found if finding is not None]


class TestAStart:
    def test_at_twice_the_junction_suggests_a_junction_compensated_twice(self) -> None:
        """42 °C beside a board at 21 °C."""
        found = start_findings(lambda _: 42.3)
        assert found[0].what == (
            "a cold start stands at 42 °C, twice its junction: possibly the junction is compensated twice; "
            "doubt board and format, not the heat"
        )

    def test_at_zero_suggests_a_junction_not_compensated(self) -> None:
        """0 °C beside a board at 21 °C."""
        assert "its junction 21: possibly the junction is not compensated" in start_findings(lambda _: 0.4)[0].what

    @pytest.mark.parametrize("start_c", [21.0, 24.0, 30.0, 60.0, 150.0, -8.0, 900.0])
    def test_elsewhere_is_believed(self, start_c: float) -> None:
        """A furnace at room temperature, warm from yesterday, out of doors in winter, or taken over hot."""
        assert start_findings(lambda _: start_c) == []

    def test_that_moves_is_no_known_point(self) -> None:
        """Who starts the watch in the middle of a ramp gets no lecture on types."""
        assert start_findings(corners((0.0, 40.0), (120.0, 44.0))) == []

    def test_in_the_cold_and_without_a_junction_says_nothing(self) -> None:
        """Twice 5 °C and 5 °C are too near to each other."""
        assert start_findings(lambda _: 10.0, junction_c=5.0) == []
        assert start_findings(lambda _: 42.0, junction_c=None) == []

    def test_stands_until_the_reading_has_climbed_away(self) -> None:
        """From then on a person has seen more than the first two minutes."""
        climbing = corners((0.0, 42.0), (200.0, 42.0), (1000.0, 122.0))
        assert start_findings(climbing, seconds=300.0)
        watch = StartWatch()
        found = [watch.feed(bucket) for bucket in buckets(noisy(climbing, 1000.0, CALM), lambda _: 21.0)]
        assert found[-1] is None
