"""Lids, charges, melting and freezing: messages in words of probability, and silence on everything else."""

import math

import pytest

from courses import CALM, FLAME, ROUGH, Course, corners, lid, noisy, trends
from rampwarden.core.diagnosis.bucket_means import BucketMeter, TrendMeter
from rampwarden.core.diagnosis.furnace_events import FREEZING_POINTS_C, LidWatch, Plateau, PlateauWatch, plateau_text
from rampwarden.core.model import Noise

LIFTED_S = 1200.0


def messages(
    course: Course, seconds: float = 2400.0, noise: Noise = CALM, seed: int = 1, *, told: bool = False
) -> list[tuple[float, str]]:
    watch = LidWatch()
    said = [(trend.time_s, watch.feed(trend, told=told)) for trend in trends(course, seconds, noise, seed)]
    return [(time_s, text) for time_s, text in said if text]


class TestALid:
    @pytest.mark.parametrize("seed", range(3))
    @pytest.mark.parametrize("noise", [CALM, FLAME, ROUGH])
    def test_lifted_is_possible_and_shut_again_likely(self, noise: Noise, seed: int) -> None:
        """Told within a quarter of a minute, both times."""
        said = messages(lid(LIFTED_S, 50.0, 40.0, 8.0), noise=noise, seed=seed)
        assert [text[:30] for _, text in said] == ["possibly the lid was lifted: " + said[0][1][29], said[1][1][:30]]
        assert said[1][1].startswith("likely the lid is shut again after ")
        assert LIFTED_S < said[0][0] < LIFTED_S + 16.0
        assert LIFTED_S + 50.0 < said[1][0] < LIFTED_S + 66.0

    def test_says_how_much_fell_in_what_time_and_what_else_it_may_be(self) -> None:
        """One probe cannot know more."""
        (_, text), *_ = messages(lid(LIFTED_S, 50.0, 40.0, 8.0))
        assert text.endswith(" °C fell within 10 s; or a draught, or the probe was moved")

    def test_that_was_marked_is_not_told_again(self) -> None:
        """Whoever marked it knows."""
        assert messages(lid(LIFTED_S, 50.0, 40.0, 8.0), told=True) == []

    @pytest.mark.parametrize("seed", range(3))
    @pytest.mark.parametrize("noise", [FLAME, ROUGH])
    def test_is_not_seen_in_a_flame_nor_in_the_corners_of_a_ramp(self, noise: Noise, seed: int) -> None:
        """Hours of it."""
        course = corners((0.0, 300.0), (3600.0, 1100.0), (5400.0, 1150.0), (7200.0, 1000.0), (10800.0, 1150.0))
        assert messages(course, 10800.0, noise, seed) == []

    def test_is_not_seen_in_sparks_on_a_slow_board(self) -> None:
        """One reading in five seconds, and one of them 24 °C too high or too low."""
        buckets, trend_meter, watch, said = BucketMeter(), TrendMeter(), LidWatch(), []
        for number, (time_s, temp_c) in enumerate(noisy(lambda time_s: 500.0 + time_s / 10, 6000, CALM)):
            spark_c = {103: 24.0, 307: -24.0, 555: 22.0, 560: -22.0}.get(number // 5, 0.0) if number % 5 == 0 else 0.0
            bucket = buckets.feed(time_s, temp_c + spark_c, None) if number % 5 == 0 else None
            if bucket is not None:
                said.append(watch.feed(trend_meter.feed(bucket, CALM), told=False))
        assert not any(said)


class TestAddedMetal:
    @staticmethod
    def charged(lasting_s: float = 60.0) -> Course:
        lifted = lid(LIFTED_S, lasting_s, 40.0, 8.0)

        def course(time_s: float) -> float:
            since_s = max(time_s - LIFTED_S - 30.0, 0.0)
            return lifted(time_s) + 90.0 * math.expm1(-since_s / 90.0)

        return course

    @pytest.mark.parametrize("noise", [CALM, FLAME, ROUGH])
    def test_is_likely_when_the_reading_has_not_regained_what_it_had(self, noise: Noise) -> None:
        """Some minutes after the lid, so that a lid alone would be forgotten."""
        time_s, text = messages(self.charged(), noise=noise)[-1]
        assert text.startswith("likely cold metal was added")
        assert text.endswith(" °C short of where the ramp before would have led")
        assert LIFTED_S + 150.0 < time_s < LIFTED_S + 330.0

    def test_is_not_said_of_a_lid_alone(self) -> None:
        """Not even of one that costs the pot some of its ramp."""
        assert not any("metal" in text for _, text in messages(lid(LIFTED_S, 90.0, 40.0, 8.0), noise=FLAME))

    def test_is_not_told_from_a_lid_that_stays_open(self) -> None:
        """So both are named."""
        said = messages(lid(LIFTED_S, 1e9, 60.0, 8.0))
        assert said[-1][1].startswith("likely cold metal was added, or the lid stands open: ")


def plateaus(course: Course, seconds: float, noise: Noise = FLAME, *, falling: bool = False) -> list[Plateau]:
    watch = PlateauWatch()
    found = [watch.feed(trend, noise, falling=falling) for trend in trends(course, seconds, noise)]
    return [plateau for plateau in found if plateau is not None]


def melting(point_c: float, c_per_min: float, stands_s: float) -> Course:
    melts_s = (point_c - 300.0) * 60.0 / c_per_min
    ends_s = melts_s + stands_s
    return corners((0.0, 300.0), (melts_s, point_c), (ends_s, point_c), (ends_s + 3600.0, point_c + 60.0 * c_per_min))


class TestAPlateau:
    @pytest.mark.parametrize("c_per_min", [4.0, 12.0])
    def test_in_a_climb_is_told_once(self, c_per_min: float) -> None:
        """With its temperature."""
        found = plateaus(melting(660.3, c_per_min, 900.0), 9000.0 - 300.0 * c_per_min)
        assert len(found) == 1
        assert found[0].temp_c == pytest.approx(660.3, abs=1.0)
        assert not found[0].falling

    def test_in_a_cooling_is_metal_that_freezes(self) -> None:
        """The other way round."""
        course = corners((0.0, 900.0), (1440.0, 660.0), (2340.0, 660.0), (4000.0, 400.0))
        found = plateaus(course, 4000.0, falling=True)
        assert [plateau.falling for plateau in found] == [True]

    def test_is_not_seen_in_a_ramp_that_is_steady_slowing_or_turning(self) -> None:
        """A course that turns stands still for a minute or two only."""
        assert plateaus(corners((0.0, 300.0), (6000.0, 1300.0)), 6000.0) == []
        assert plateaus(corners((0.0, 300.0), (2000.0, 650.0), (4000.0, 750.0), (6000.0, 850.0)), 6000.0) == []
        assert plateaus(lambda time_s: 700.0 - ((time_s - 3000.0) / 130.0) ** 2, 6000.0) == []

    def test_is_not_seen_where_the_ramp_is_too_slow_to_stand_out(self) -> None:
        """Half a degree a minute."""
        assert plateaus(melting(330.0, 0.5, 1800.0), 7200.0) == []


class TestItsWords:
    @pytest.mark.parametrize(("metal", "point_c"), list(FREEZING_POINTS_C.items()))
    def test_name_a_metal_within_what_wire_and_drift_allow(self, metal: str, point_c: float) -> None:
        """And by how much the probe reads beside the published point."""
        text = plateau_text(Plateau(point_c - 7.0, 300.0, falling=False))
        assert text.startswith(f"possibly {metal} melts: {point_c - 7.0:.0f} °C for 5 min; ")
        assert text.endswith(f"pure {metal} melts at {point_c:.1f}, 7 °C above this reading")
        assert plateau_text(Plateau(point_c + 13.0, 300.0, falling=False)) == ""

    def test_say_freezes_in_a_cooling(self) -> None:
        """The same point, the other way."""
        assert "possibly aluminium freezes: 662 °C" in plateau_text(Plateau(662.0, 300.0, falling=True))

    def test_know_the_fixed_points_of_the_temperature_scale(self) -> None:
        """ITS-90, defining fixed points, in °C."""
        assert FREEZING_POINTS_C == {"zinc": 419.527, "aluminium": 660.323, "copper": 1084.62}
