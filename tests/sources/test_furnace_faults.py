"""The mishaps that a diagnosis is rehearsed with, judged by the true temperatures and by what the board sends."""

import tomllib
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import pytest

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.framing import Frame, FrameDecoder
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Fault
from rampwarden.sources.furnace_faults import FaultName, FaultPlace
from rampwarden.sources.furnace_model import FurnaceModel, PotPlace
from rampwarden.sources.rehearsal_board import ModelHeat

SCHEDULE = Path(__file__).resolve().parents[2] / "config" / "schedules" / "bronze-first-heat.toml"
TYPE_K = thermocouple("K")


class Moment(NamedTuple):
    since_s: float
    temp_c: float
    place: PotPlace
    burning: bool
    frame: Frame


@cache
def around(fault: FaultName, until_s: float = 1500.0) -> list[Moment]:
    """Give the moments from five minutes before a mishap until so long after it began."""
    table = tomllib.loads(SCHEDULE.read_text(encoding="utf-8"))
    heat, decoder, moments = ModelHeat(parse_schedule(table, "bronze"), fault=fault), FrameDecoder(), []
    while not heat.over:
        data, furnace, began_s = heat.next_frame(), heat.furnace, heat.operator.fault_since_s
        assert data is not None
        moment = Moment(heat.time_s, furnace.probe_c, furnace.place, furnace.burning, decoder.feed(data)[0])
        moments.append(moment)
        if began_s is not None and heat.time_s >= began_s + until_s:
            break
    assert began_s is not None
    return [
        moment._replace(since_s=moment.since_s - began_s) for moment in moments if moment.since_s >= began_s - 300.0
    ]


def at(moments: list[Moment], since_s: float) -> Moment:
    return next(moment for moment in moments if moment.since_s >= since_s)


def read_c(moment: Moment) -> float:
    assert moment.frame.emf_uv is not None
    assert moment.frame.junction_c is not None
    return TYPE_K.temp_c(moment.frame.emf_uv, moment.frame.junction_c)


def test_a_flame_that_goes_out_turns_the_climb_into_a_fall_until_it_is_lit_again() -> None:
    """From one moment; after eight minutes somebody has seen it."""
    moments = around(FaultName.FLAME_OUT)
    assert {moment.burning for moment in moments if 0.0 < moment.since_s < 479.0} == {False}
    assert {moment.burning for moment in moments if moment.since_s < -1.0 or moment.since_s > 481.0} == {True}
    assert at(moments, 60.0).temp_c > at(moments, 0.0).temp_c  # the hot chamber carries on for a while
    assert at(moments, 470.0).temp_c < at(moments, 0.0).temp_c - 10.0
    assert at(moments, 1400.0).temp_c > at(moments, 0.0).temp_c + 100.0


def test_a_lifted_lid_shows_at_once_and_is_made_up_for() -> None:
    """The probe falls by tens of degrees within its lag and rises as suddenly; the pot hardly notices."""
    moments = around(FaultName.LID_OPEN, 600.0)
    uncovered = [moment.since_s for moment in moments if moment.place is PotPlace.FURNACE_UNCOVERED]
    # What the hand does takes effect with the next conversion.
    assert (uncovered[0], uncovered[-1]) == (1.0, 44.0)
    assert all(moment.burning for moment in moments)
    assert at(moments, 20.0).temp_c < at(moments, 0.0).temp_c - 25.0
    assert at(moments, 75.0).temp_c > at(moments, 0.0).temp_c


def test_cold_metal_pulls_the_pot_down_for_minutes() -> None:
    """The lid is shut again, and the reading stays short of where it was."""
    moments = around(FaultName.CHARGE, 600.0)
    assert at(moments, 180.0).temp_c < at(moments, 0.0).temp_c - 20.0
    assert at(moments, 180.0).place is PotPlace.FURNACE_LID_SHUT


def test_charging_takes_from_the_pot_what_the_metal_gains() -> None:
    """In a place without any other exchange the heat is conserved."""
    furnace = FurnaceModel(PotPlace.OPEN_AIR, 21.0)
    furnace.pot_c = furnace.probe_c = 21.0
    furnace.charge(1200.0)
    furnace.step(600.0)
    assert furnace.pot_c == pytest.approx(21.0)


def test_a_short_sets_its_flag_for_forty_seconds() -> None:
    """Flag bit 1, and no EMF."""
    shorted = [m for m in around(FaultName.SHORTED_SENSOR, 100.0) if m.frame.faults]
    assert len(shorted) == 40
    assert {moment.frame.faults for moment in shorted} == {(Fault.SHORT_GROUND,)}
    assert {moment.frame.emf_uv for moment in shorted} == {0.0}


def test_a_stuck_converter_repeats_its_last_value_and_the_junction_goes_on() -> None:
    """Ten minutes of one EMF, while the furnace climbs."""
    moments = around(FaultName.STUCK_SENSOR, 700.0)
    stuck = [moment.frame.emf_uv for moment in moments if -1.0 <= moment.since_s < 600.0]
    assert len(set(stuck)) == 1
    after = [moment.frame.emf_uv for moment in moments if moment.since_s >= 600.0]
    assert len(set(after)) > 20
    assert len({moment.frame.junction_c for moment in moments}) > 3


def test_crossed_wires_read_as_far_below_the_junction_as_the_pot_is_above() -> None:
    """From the first frame on; and out of the type's range while red heat is still far."""
    moments = around(FaultName.REVERSED_SENSOR, 9000.0)
    warm = at(moments, 2400.0)
    assert warm.temp_c > 60.0
    assert warm.frame.junction_c is not None
    assert warm.frame.emf_uv is not None
    expected_uv = TYPE_K.emf_uv(warm.frame.junction_c) - TYPE_K.emf_uv(warm.temp_c)
    assert warm.frame.emf_uv == pytest.approx(expected_uv, abs=25.0)
    assert read_c(warm) < 0.0


def test_pickup_adds_a_beat_of_the_mains() -> None:
    """3 °C rms at the alias, and the mean stays true."""
    moments = [moment for moment in around(FaultName.NOISY_SENSOR, 1000.0) if 0.0 <= moment.since_s < 900.0]
    errors_c = [error_c for moment in moments if abs(error_c := read_c(moment) - moment.temp_c) < 12.0]
    mean_c = sum(errors_c) / len(errors_c)
    assert abs(mean_c) < 0.3
    assert (sum(error_c**2 for error_c in errors_c) / len(errors_c)) ** 0.5 == pytest.approx(3.0, rel=0.15)
    turns = sum((a < 0.0) is not (b < 0.0) for a, b in pairwise(errors_c)) / 2
    assert turns / len(errors_c) == pytest.approx(0.13, abs=0.03)


def test_hot_air_races_the_junction_and_leaves_the_temperature_right() -> None:
    """25 °C in ten minutes, compensated as it should be."""
    moments = around(FaultName.HOT_BOARD, 700.0)
    before_c, after_c = at(moments, -1.0).frame.junction_c, at(moments, 599.0).frame.junction_c
    assert before_c is not None
    assert after_c is not None
    assert after_c - before_c == pytest.approx(25.0, abs=3.0)
    errors_c = [error_c for moment in moments if abs(error_c := read_c(moment) - moment.temp_c) < 10.0]
    assert abs(sum(errors_c) / len(errors_c)) < 0.1


def test_a_mishap_may_be_put_anywhere_and_last_as_long_as_is_asked() -> None:
    """For whoever wants many heats, each a little different."""
    table = tomllib.loads(SCHEDULE.read_text(encoding="utf-8"))
    place = FaultPlace(4, from_c=900.0, lasting_s=20.0)
    heat = ModelHeat(parse_schedule(table, "bronze"), fault=FaultName.LID_OPEN, fault_place=place, interval_s=2.0)
    lifted = []
    while not heat.over:
        heat.next_frame()
        if heat.furnace.place is PotPlace.FURNACE_UNCOVERED:
            lifted.append(heat.time_s)
    assert lifted[-1] - lifted[0] == pytest.approx(18.0, abs=2.0)
