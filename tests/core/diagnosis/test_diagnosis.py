"""What may be said of sensor and heat, and when: segments, marks and doubts decide; every watch is tested by itself."""

import math
from collections.abc import Iterator, Mapping
from functools import partial

import pytest

from courses import CALM, FLAME, Course, corners, lid, noisy
from rampwarden.core.alarm_entry import names
from rampwarden.core.catalogue import CATALOGUE, SUPPRESSED_IN_TRANSFER
from rampwarden.core.diagnosis.diagnosis import (
    DIAGNOSES,
    EXPLAINING_MARKS_S,
    HEAT_DIAGNOSES,
    SENSOR_DIAGNOSES,
    Diagnosis,
)
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument import as_other_types
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import AlarmState, Command, CommandName, Event, EventName, Noise, Reading
from rampwarden.core.monitor import Monitor

TYPE_K = thermocouple("K")
OTHER_TYPES = partial(as_other_types, "K")
JUNCTION_C = 22.0
OUT_S = 1800.0

RAMP = {"name": "up", "kind": "ramp", "to": "1150 C", "max_rate": "40 C / 2 min"}
SOAK = {"name": "hold", "kind": "soak", "at": "800 C", "band": ["-300 C", "+300 C"], "hold": "5 h"}
TRANSFER = {"name": "carry", "kind": "transfer", "within": "20 min", "arrive_above": "100 C"}
COOL = {"name": "down", "kind": "cool", "to": "60 C"}


def out_at(out_s: float, c_per_min: float = 10.0) -> Course:
    """Give a ramp whose flame goes out: the furnace turns to its own fall with its own time constant."""

    def course(time_s: float) -> float:
        since_s = max(time_s - out_s, 0.0)
        settled_s = since_s + 80.0 * math.expm1(-since_s / 80.0)
        return 500.0 + (c_per_min * time_s - (9.0 + c_per_min) * settled_s) / 60.0

    return course


class Said:
    """What a diagnosis said: first times of alarms, and messages."""

    def __init__(self) -> None:
        self.first_s: dict[str, float] = {}
        self.observed: list[str] = []
        self.resumed = False


def diagnose(
    segment: Mapping[str, object],
    readings: Iterator[tuple[float, float]],
    noise: Noise = FLAME,
    marks: Mapping[float, str] = {},
    stuck: tuple[float, float] = (math.inf, math.inf),
    blind_until_s: float = 0.0,
    blind_s: float = 20.0,
) -> Said:
    """Diagnose readings in one segment; `marks` by their time, the converter stuck from one time to another.

    For `blind_s` before `blind_until_s` nobody watched; with 0 somebody always did.
    """
    diagnosis = Diagnosis(parse_schedule({"title": "test", "segment": [segment]}, "test"), OTHER_TYPES)
    diagnosis.enter(0)
    said, to_come, held_uv = Said(), dict(marks), None
    at_junction_uv = TYPE_K.emf_uv(JUNCTION_C)
    for time_s, temp_c in readings:
        if blind_until_s - blind_s < time_s <= blind_until_s:
            continue
        if blind_until_s < time_s and not said.resumed and blind_until_s:
            said.resumed = True
            diagnosis.resume()
        for mark_s in [mark_s for mark_s in to_come if mark_s <= time_s]:
            diagnosis.mark(mark_s, to_come.pop(mark_s))
        emf_uv = round(TYPE_K.emf_uv(temp_c) - at_junction_uv, 1)
        if stuck[0] <= time_s < stuck[1]:
            emf_uv = held_uv = emf_uv if held_uv is None else held_uv
        read_c = TYPE_K.temp_c(emf_uv, JUNCTION_C)
        diagnosed = diagnosis.feed(time_s, emf_uv, read_c, JUNCTION_C, noise)
        if diagnosed is not None:
            for name in diagnosed.found:
                said.first_s.setdefault(name, time_s)
            said.observed += diagnosed.observed
    return said


def flame_out(segment: Mapping[str, object], marks: Mapping[float, str] = {}, seconds: float = 2600.0) -> Said:
    return diagnose(segment, noisy(out_at(OUT_S), seconds, FLAME, 1, OUT_S), marks=marks)


class TestABlindTime:
    def test_is_no_step_and_no_pulse(self) -> None:
        """A watch that was killed as a lid went up and is back 20 s later: what it missed says nothing of the probe."""
        slow = lid(OUT_S, 60.0, 120.0, 40.0)
        watched = diagnose(RAMP, noisy(slow, 2400.0, CALM, 1), CALM)
        assert "sensor-lagging" in watched.first_s
        blind = diagnose(RAMP, noisy(slow, 2400.0, CALM, 1), CALM, blind_until_s=OUT_S + 15.0)
        assert blind.resumed
        assert "sensor-lagging" not in blind.first_s


class TestSegments:
    def test_that_heat_are_judged(self) -> None:
        """Ramp and soak."""
        for segment in (RAMP, SOAK):
            assert OUT_S < flame_out(segment).first_s["flame-out"] < OUT_S + 200.0

    @pytest.mark.parametrize("segment", [COOL, TRANSFER])
    def test_in_which_the_flame_may_go_out_are_not(self, segment: Mapping[str, object]) -> None:
        """Planned cooling is no flame-out, a pot in the open air is no failing gas."""
        assert not set(flame_out(segment).first_s) & set(names(HEAT_DIAGNOSES))

    def test_that_cool_may_fall_as_failing_gas_does(self) -> None:
        """Ever more slowly, for hours."""
        falling = noisy(lambda time_s: 100.0 + 900.0 * math.exp(-time_s / 4000.0), 12000, CALM)
        said = diagnose(COOL, falling, CALM)
        assert (said.first_s, said.observed) == ({}, [])

    def test_after_the_heat_nothing_is_said_of_it_any_more(self) -> None:
        """But a sensor that sticks is still told."""
        diagnosis = Diagnosis(
            parse_schedule({"title": "test", "segment": [RAMP]}, "test"), partial(as_other_types, "K")
        )
        diagnosis.enter(None)
        found: set[str] = set()
        for time_s, temp_c in noisy(out_at(OUT_S), 2600.0, FLAME, 1, OUT_S):
            raw = 20000.0 if time_s > 2400.0 else round(TYPE_K.emf_uv(temp_c))
            diagnosed = diagnosis.feed(time_s, raw, temp_c, JUNCTION_C, FLAME)
            found |= set(diagnosed.found) if diagnosed else set()
        assert found == {"sensor-stuck"}


class TestMarks:
    @pytest.mark.parametrize("mark", ["lid-open", "Lid open", " LID_OPEN "])
    def test_explain_a_fall_for_two_minutes_however_they_are_written(self, mark: str) -> None:
        """A minute or two after a lid was opened a fall is no flame-out; later a flame that is out is out."""
        said = flame_out(RAMP, {OUT_S + 60.0: mark})
        assert OUT_S + 180.0 <= said.first_s["flame-out"] < OUT_S + 200.0

    def test_that_tell_of_the_flame_itself_explain_it_for_ten_minutes(self) -> None:
        """Who marks it knows."""
        assert "flame-out" not in flame_out(RAMP, {OUT_S + 20.0: "flame-out"}, 2380.0).first_s

    def test_of_any_other_kind_explain_nothing(self) -> None:
        """They are in the record for whoever reads it."""
        assert "flame-out" in flame_out(RAMP, {OUT_S + 20.0: "had a coffee"}).first_s

    @pytest.mark.parametrize("mark", ["charged", "bottle-changed", "lid-open"])
    def test_that_explain_a_slower_climb_start_its_judgement_afresh(self, mark: str) -> None:
        """What was climbed before is no measure any more."""

        def dying(time_s: float) -> float:
            since_s = min(max(time_s - 1200.0, 0.0), 1200.0)
            return 300.0 + 0.2 * (min(time_s, 1200.0) + since_s - since_s * since_s / 2400.0)

        plain = diagnose(RAMP, noisy(dying, 2400.0, CALM), CALM).first_s
        marked = diagnose(RAMP, noisy(dying, 2400.0, CALM), CALM, {1750.0: mark}).first_s
        assert "heat-failing" in plain
        assert "heat-failing" not in marked

    def test_of_a_lid_make_the_message_about_it_needless(self) -> None:
        """The word of a person beats a guess."""
        lifted = lid(1200.0, 60.0, 40.0, 8.0, start_c=500.0)
        assert len(diagnose(RAMP, noisy(lifted, 1700.0, FLAME)).observed) == 2
        assert diagnose(RAMP, noisy(lifted, 1700.0, FLAME), marks={1190.0: "lid-open"}).observed == []

    def test_a_lid_marked_open_explains_a_long_fall_where_no_flicker_can_tell(self) -> None:
        """Until two minutes after it was marked shut, and for ten minutes if that was forgotten."""
        fall = corners((0.0, 500.0), (1200.0, 800.0), (2400.0, 600.0))
        plain = diagnose(RAMP, noisy(fall, 2400.0, CALM), CALM)
        left = diagnose(RAMP, noisy(fall, 2400.0, CALM), CALM, {1200.0: "lid-open"})
        shut = diagnose(RAMP, noisy(fall, 2400.0, CALM), CALM, {1200.0: "lid-open", 1320.0: "lid-closed"})
        assert plain.first_s["flame-out"] < 1500.0
        assert 1980.0 <= left.first_s["flame-out"] < 2100.0
        assert 1620.0 <= shut.first_s["flame-out"] < 1700.0

    def test_are_those_the_watch_offers(self) -> None:
        """No mark explains anything for longer than ten minutes."""
        assert set(EXPLAINING_MARKS_S) == {
            "lid-open",
            "lid-closed",
            "charged",
            "bottle-changed",
            "flame-out",
            "transfer",
            "arrived",
        }
        assert max(EXPLAINING_MARKS_S.values()) <= 600.0


class TestASensorInDoubt:
    def test_says_nothing_of_the_heat(self) -> None:
        """A stuck reading has no flicker and does not climb; when it lets go it leaps."""
        climbing = corners((0.0, 300.0), (4200.0, 1140.0))
        said = diagnose(RAMP, noisy(climbing, 4200.0, FLAME), stuck=(2000.0, 2600.0))
        assert set(said.first_s) == {"sensor-stuck"}
        assert said.observed == []
        assert said.first_s["sensor-stuck"] < 2100.0

    def test_a_reading_that_stands_still_is_no_flame_that_went_out(self) -> None:
        """With few readings a minute it takes three minutes to call it stuck, and its flicker is gone long before."""
        sparse = Noise(white_c=0.1, flicker_c=1.0, flicker_s=8.0, interval_s=3.0)
        climbing = corners((0.0, 300.0), (4200.0, 1700.0))
        said = diagnose(RAMP, noisy(climbing, 2400.0, sparse), sparse, stuck=(2000.0, 2240.0))
        assert set(said.first_s) == {"sensor-stuck"}


class TestAPlateau:
    @staticmethod
    def melting(read_c: float) -> Course:
        melts_s = (read_c - 300.0) * 6.0
        return corners((0.0, 300.0), (melts_s, read_c), (melts_s + 600.0, read_c), (melts_s + 2400.0, read_c + 300.0))

    def test_at_a_metals_point_is_a_message(self) -> None:
        """And the sensor is believed."""
        said = diagnose(RAMP, noisy(self.melting(655.0), 4500.0, FLAME))
        assert [text.partition(":")[0] for text in said.observed] == ["possibly aluminium melts"]
        assert said.first_s == {}

    def test_where_another_type_would_put_a_metals_point_casts_doubt_on_the_type(self) -> None:
        """Type N wire on a board set to K shows aluminium melting at 558 °C."""
        read_c = TYPE_K.temp_c(thermocouple("N").emf_uv(660.323))
        diagnosis = Diagnosis(
            parse_schedule({"title": "test", "segment": [RAMP]}, "test"), partial(as_other_types, "K")
        )
        diagnosis.enter(0)
        found = {}
        for time_s, temp_c in noisy(self.melting(read_c), 3600.0, FLAME):
            diagnosed = diagnosis.feed(time_s, TYPE_K.emf_uv(temp_c), temp_c, JUNCTION_C, FLAME)
            found |= diagnosed.found if diagnosed else {}
        what = found["sensor-type-suspect"].what
        assert what.startswith("a plateau at 55")
        assert what.endswith(
            " °C, where no pure metal has one; as type J it would be zinc's, as type N it would be aluminium's: "
            "possibly the probe is of type J or N"
        )

    def test_elsewhere_is_an_alloy_and_nobodys_business(self) -> None:
        """No message, no doubt."""
        said = diagnose(RAMP, noisy(self.melting(760.0), 4500.0, FLAME))
        assert (said.first_s, said.observed) == ({}, [])


class TestThroughTheMonitor:
    @staticmethod
    def watch(readings: Iterator[tuple[float, float]], marks: Mapping[float, str] = {}) -> list[Event]:
        monitor = Monitor(parse_schedule({"title": "test", "segment": [RAMP, COOL]}, "test"))
        events, to_come = [], dict(marks)
        for time_s, temp_c in readings:
            for mark_s in [mark_s for mark_s in to_come if mark_s <= time_s]:
                events += monitor.feed(Command(mark_s, CommandName.MARK, text=to_come.pop(mark_s)))
            emf_uv = TYPE_K.emf_uv(temp_c) - TYPE_K.emf_uv(JUNCTION_C)
            events += monitor.feed(Reading(time_s, emf_uv, JUNCTION_C))
        return events

    def test_a_message_is_an_event_with_its_segment_and_no_alarm(self) -> None:
        """And it clears and silences nothing."""
        observed = [
            event
            for event in self.watch(noisy(lid(1200.0, 60.0, 40.0, 8.0, start_c=500.0), 1700.0, FLAME))
            if event.event is EventName.OBSERVED
        ]
        assert [event.segment for event in observed] == ["up", "up"]
        assert all(event.alarm is None and event.state is None for event in observed)

    def test_a_flame_out_is_raised_with_the_hazards_action_and_a_mark_ends_it(self) -> None:
        """Who marks it knows; the alarm returns after its off-delay."""
        events = [
            event
            for event in self.watch(noisy(out_at(OUT_S), 2400.0, FLAME, 1, OUT_S), {2100.0: "flame-out"})
            if event.alarm == "flame-out"
        ]
        assert [event.state for event in events] == [AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED]
        assert 2160.0 <= events[1].time_s < 2175.0
        assert events[0].text.endswith("· up · " + CATALOGUE["flame-out"].action)

    def test_every_diagnosis_has_an_entry_and_waits_for_a_reading(self) -> None:
        """None of them is told by the clock."""
        assert (*SENSOR_DIAGNOSES, *HEAT_DIAGNOSES) == DIAGNOSES
        assert all(entry.waits_for_reading for entry in DIAGNOSES)
        assert set(names(HEAT_DIAGNOSES)) <= SUPPRESSED_IN_TRANSFER
