"""What is said of the sensor, and in which segments; every watch is tested by itself."""

import math
from collections.abc import Iterator, Mapping
from functools import partial

import pytest

from courses import CALM, FLAME, Course, corners, lid, noisy
from rampwarden.core.alarm_entry import names
from rampwarden.core.catalogue import SUPPRESSED_IN_TRANSFER
from rampwarden.core.diagnosis.diagnosis import DIAGNOSES, Diagnosis
from rampwarden.core.explanation import TOLD_ALARMS
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument import as_other_types
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Noise

TYPE_K = thermocouple("K")
JUNCTION_C = 22.0
AT_JUNCTION_UV = TYPE_K.emf_uv(JUNCTION_C)
LID_S = 1800.0
RAMP = {"name": "up", "kind": "ramp", "to": "1150 C", "max_rate": "40 C / 2 min"}
SOAK = {"name": "hold", "kind": "soak", "at": "800 C", "band": ["-300 C", "+300 C"], "hold": "5 h"}
TRANSFER = {"name": "carry", "kind": "transfer", "within": "20 min", "arrive_above": "100 C"}
COOL = {"name": "down", "kind": "cool", "to": "60 C"}
SLOW = lid(LID_S, 60.0, 120.0, 40.0)
"""A lid over a probe too slow for two minutes' windows."""


class Diagnosed:
    """One diagnosis and when each alarm's condition was first found."""

    def __init__(self, segment: Mapping[str, object]) -> None:
        schedule = parse_schedule({"title": "test", "segment": [segment]}, "test")
        self.diagnosis = Diagnosis(schedule, partial(as_other_types, "K"))
        self.diagnosis.enter(0)
        self.first_s: dict[str, float] = {}
        self.doubted_since_s: list[float] = []

    def feed(
        self,
        readings: Iterator[tuple[float, float]],
        noise: Noise,
        stuck: tuple[float, float] = (math.inf, math.inf),
        blind: tuple[float, float] = (math.inf, math.inf),
        otherwise_s: float = math.inf,
        lid_s: float = LID_S,
    ) -> "Diagnosed":
        """Take readings; the converter stuck, and nobody watching, from one time to another."""
        held_uv, resumed = None, False
        for time_s, temp_c in readings:
            if blind[0] <= time_s < blind[1]:
                continue
            if time_s >= blind[1] and not resumed:
                resumed = True
                self.diagnosis.resume()
            emf_uv = round(TYPE_K.emf_uv(temp_c) - AT_JUNCTION_UV, 1)
            if stuck[0] <= time_s < stuck[1]:
                emf_uv = held_uv = emf_uv if held_uv is None else held_uv
            read_c = TYPE_K.temp_c(emf_uv, JUNCTION_C)
            lids = (lid_s, otherwise_s if time_s >= otherwise_s else -math.inf)
            found = self.diagnosis.feed(time_s, emf_uv, read_c, JUNCTION_C, noise, lids)
            for name in found or ():
                self.first_s.setdefault(name, time_s)
            if found and self.diagnosis.doubted_since_s is not None:
                self.doubted_since_s.append(self.diagnosis.doubted_since_s)
        return self


class TestABlindTime:
    def test_is_no_step_and_no_pulse(self) -> None:
        """A watch that was killed as a lid went up and is back 20 s later: what it missed says nothing of the probe."""
        watched = Diagnosed(RAMP).feed(noisy(SLOW, 2400.0, CALM, 1), CALM)
        assert set(watched.first_s) == {"sensor-lagging"}
        blind = Diagnosed(RAMP).feed(noisy(SLOW, 2400.0, CALM, 1), CALM, blind=(LID_S - 5.0, LID_S + 15.0))
        assert blind.first_s == {}


class TestSegments:
    @pytest.mark.parametrize("segment", [COOL, TRANSFER])
    def test_in_which_the_pot_itself_steps_say_nothing_of_the_probe(self, segment: Mapping[str, object]) -> None:
        assert Diagnosed(segment).feed(noisy(SLOW, 2400.0, CALM, 1), CALM).first_s == {}

    def test_after_the_heat_a_sensor_that_sticks_is_still_told(self) -> None:
        said = Diagnosed(SOAK)
        said.diagnosis.enter(None)
        said.feed(noisy(lambda _: 800.0, 3000.0, FLAME), FLAME, stuck=(2400.0, math.inf))
        assert set(said.first_s) == {"sensor-stuck"}

    @pytest.mark.parametrize("segment", [RAMP, SOAK, COOL])
    def test_that_go_as_they_should_say_nothing(self, segment: Mapping[str, object]) -> None:
        course: Course = {
            "ramp": corners((0.0, 300.0), (4200.0, 1140.0)),
            "soak": lambda _: 800.0,
            "cool": lambda time_s: 100.0 + 900.0 * math.exp(-time_s / 4000.0),
        }[str(segment["kind"])]
        assert Diagnosed(segment).feed(noisy(course, 4200.0, FLAME), FLAME).first_s == {}


class TestASensorInDoubt:
    def test_is_doubted_since_its_value_stands(self) -> None:
        """Not since it was found out."""
        climbing = corners((0.0, 300.0), (4200.0, 1140.0))
        said = Diagnosed(RAMP).feed(noisy(climbing, 4200.0, FLAME), FLAME, stuck=(2000.0, 2600.0))
        assert set(said.first_s) == {"sensor-stuck"}
        assert 2060.0 <= said.first_s["sensor-stuck"] < 2100.0
        assert set(said.doubted_since_s) == {2000.0}

    def test_is_found_odd_before_it_is_proven_and_never_where_nothing_scattered(self) -> None:
        still = Diagnosed(SOAK).feed(noisy(lambda _: 800.0, 2015.0, FLAME), FLAME, stuck=(2000.0, math.inf))
        assert still.diagnosis.stillness_is_odd()
        assert still.first_s == {}
        quiet = Diagnosed(SOAK).feed(((float(second), 800.0) for second in range(2000)), CALM)
        assert not quiet.diagnosis.stillness_is_odd()

    def test_a_course_that_is_explained_otherwise_says_nothing_of_its_probe(self) -> None:
        said = Diagnosed(RAMP).feed(noisy(SLOW, 2400.0, CALM, 1), CALM, otherwise_s=LID_S + 60.0)
        assert said.first_s == {}


def test_every_alarm_of_the_course_waits_for_a_reading_and_those_of_the_heat_rest_in_a_transfer() -> None:
    """None of them is told by the clock."""
    assert all(entry.waits_for_reading for entry in (*DIAGNOSES, *TOLD_ALARMS))
    assert set(names(TOLD_ALARMS)) <= SUPPRESSED_IN_TRANSFER
