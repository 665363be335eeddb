"""The model heat: physics, the hand at the valve and each mishap, judged by the true temperatures.

Whether a heat kept its limits is computed here from the schedule's own definition, and not by the watch's stages.
"""

import random
import statistics
import tomllib
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import pytest

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.framing import Frame, FrameDecoder
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Fault
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, SegmentKind
from rampwarden.errors import ScheduleError
from rampwarden.sources.board_model import NOISE, BoardModel, NoiseClass
from rampwarden.sources.furnace_faults import DESCRIPTIONS, FaultName, place_of
from rampwarden.sources.furnace_model import CHAMBERS, ROOM_C, FurnaceModel, PotPlace
from rampwarden.sources.rehearsal_board import ModelHeat

pytestmark = pytest.mark.long


SCHEDULES = Path(__file__).resolve().parents[2] / "config" / "schedules"
NAMES = sorted(path.stem for path in SCHEDULES.glob("*.toml"))
DEMO, CLAY = "bronze-first-heat", "clay-graphite-first-heat"

# How near a limit a heat without a mishap may come: no alarm, and hardly a caution, can be right below it.
NEAREST = 0.88


class Moment(NamedTuple):
    """The truth at one conversion, with what the board sent of it."""

    time_s: float
    temp_c: float
    pot_c: float
    place: PotPlace
    heat_w: float
    frame: Frame | None


class Heat(NamedTuple):
    """A heat from beginning to end, and when its mishap began."""

    schedule: Schedule
    moments: list[Moment]
    fault_s: float


def load(name: str) -> Schedule:
    return parse_schedule(tomllib.loads((SCHEDULES / f"{name}.toml").read_text(encoding="utf-8")), name)


@cache
def heat(name: str, fault: FaultName | None = None, interval_s: float = 1.0) -> Heat:
    schedule = load(name)
    model, decoder, moments = ModelHeat(schedule, fault=fault, interval_s=interval_s), FrameDecoder(), []
    while not model.over:
        data = model.next_frame()
        frame = None if data is None else decoder.feed(data)[0]
        furnace = model.furnace
        moments.append(
            Moment(model.time_s, furnace.probe_c, furnace.pot_c, furnace.place, furnace.heat_w, frame),
        )
    assert decoder.garbled == 0
    return Heat(schedule, moments, model.operator.fault_since_s or 0.0)


def by_segment(of: Heat) -> dict[int, list[Moment]]:
    """Walk the schedule by the true temperatures, as a person with the sheet in hand would."""
    walked: dict[int, list[Moment]] = {}
    index, soaked_s, lowest_c = 0, 0.0, 1e9
    for before, moment in pairwise(of.moments):
        if index == len(of.schedule.segments):
            break
        segment = of.schedule.segments[index]
        walked.setdefault(index, []).append(moment)
        if segment.kind is SegmentKind.SOAK:
            in_band = segment.lowest_c <= moment.temp_c <= segment.highest_c
            soaked_s += (moment.time_s - before.time_s) if in_band else 0.0
            done = soaked_s >= segment.hold_s
        elif segment.kind is SegmentKind.TRANSFER:
            lowest_c = min(lowest_c, moment.temp_c)
            done = moment.temp_c > lowest_c + 5.0
        elif segment.kind is SegmentKind.COOL:
            done = moment.temp_c <= (segment.to_c or 0.0)
        else:
            done = moment.temp_c >= of.schedule.end_of_ramp_c(index)
        if done:
            index, soaked_s = index + 1, 0.0
    assert len(walked) == len(of.schedule.segments)
    return walked


def largest_climb_c(moments: list[Moment], window_s: float, sign: float = 1.0) -> float:
    """Give the largest climb above the lowest temperature inside any window, °C."""
    interval_s = moments[1].time_s - moments[0].time_s
    reach = round(window_s / interval_s)
    # A minimum over a sliding window, done plainly on a thinned grid: enough for a percent.
    thin = max(1, reach // 30)
    values = [sign * moment.temp_c for moment in moments[::thin]]
    span = max(1, reach // thin)
    return max(value - min(values[max(0, at - span) : at + 1]) for at, value in enumerate(values))


def share_of(rate: Rate, moments: list[Moment], sign: float = 1.0) -> float:
    return largest_climb_c(moments, rate.window_s, sign) / rate.climb_c


@pytest.mark.parametrize("name", NAMES)
def test_a_heat_without_mishap_keeps_every_limit_with_room_to_spare(name: str) -> None:
    """Climbs, minimum rates, bands, ceilings, coolings and time limits of every schedule in config/."""
    run = heat(name, interval_s=1.0 if name in (DEMO, CLAY) else 10.0)
    interval_s = run.moments[1].time_s
    for index, moments in by_segment(run).items():
        segment = run.schedule.segments[index]
        sign = -1.0 if segment.kind is SegmentKind.COOL else 1.0
        for rate in run.schedule.limits_in_force(index):
            assert share_of(rate, moments, sign) < NEAREST, (segment.name, rate)
        if segment.min_rate is not None:
            reach = round(segment.min_rate.window_s / interval_s)
            slowest_c = min(after.temp_c - at.temp_c for at, after in zip(moments, moments[reach:], strict=False))
            assert slowest_c > 1.1 * segment.min_rate.climb_c, segment.name
        if segment.kind is SegmentKind.SOAK:
            assert all(segment.lowest_c - 1.0 < moment.temp_c < segment.highest_c - 3.0 for moment in moments)
        if segment.ceiling_c is not None:
            assert max(moment.temp_c for moment in moments) < segment.ceiling_c - 10.0
        if segment.within_s is not None:
            assert moments[-1].time_s - moments[0].time_s < 0.9 * segment.within_s


def test_the_demo_takes_a_working_day() -> None:
    """Five to seven hours, the pot in the oven first and then in the shut furnace."""
    run = heat(DEMO)
    assert 5 * 3600 < run.moments[-1].time_s < 7 * 3600
    places = [moment.place for moment in run.moments]
    order = [place for place, after in pairwise([*places, None]) if place is not after]
    assert order == [PotPlace.OVEN, PotPlace.OPEN_AIR, PotPlace.FURNACE_LID_SHUT]


def test_a_carried_pot_cools_in_the_air_and_climbs_again_in_the_furnace() -> None:
    """About five minutes of air; the probe ends between 110 and 150 °C, warm enough for the schedule."""
    run = heat(DEMO)
    in_air = [moment for moment in run.moments if moment.place is PotPlace.OPEN_AIR]
    assert 240 < in_air[-1].time_s - in_air[0].time_s < 360
    assert 110 < in_air[-1].temp_c < 150
    assert all(after.temp_c <= before.temp_c for before, after in pairwise(in_air))


def test_the_lid_is_open_while_drying_in_the_furnace_and_shut_from_then_on() -> None:
    """Otherwise the flame's heat would have nowhere to go at drying rates."""
    for index, moments in by_segment(heat(CLAY)).items():
        expected = PotPlace.FURNACE_LID_OPEN if index <= 3 else PotPlace.FURNACE_LID_SHUT
        assert moments[len(moments) // 2].place is expected


def test_a_shut_furnace_without_a_flame_cools_ever_more_slowly() -> None:
    """Burner off, lid shut: an exponential-like fall towards the room."""
    furnace = FurnaceModel(PotPlace.FURNACE_LID_SHUT, start_c=1000.0)
    falls_c = []
    for _ in range(20):
        before_c = furnace.pot_c
        furnace.step(600.0)
        falls_c.append(before_c - furnace.pot_c)
    assert all(0 < after < before for before, after in pairwise(falls_c[1:]))
    assert furnace.pot_c > ROOM_C


def test_the_hand_knows_what_heat_gives_what_ramp() -> None:
    """In oven and furnace, cold and hot, within a tenth after three minutes."""
    for place, start_c, ramp_c_per_s in (
        (PotPlace.OVEN, 60.0, 0.03),
        (PotPlace.FURNACE_LID_OPEN, 100.0, 0.02),
        (PotPlace.FURNACE_LID_SHUT, 400.0, 0.2),
        (PotPlace.FURNACE_LID_SHUT, 1000.0, -0.1),
    ):
        furnace = FurnaceModel(place, start_c)
        for second in range(300):
            if second % 30 == 0:
                furnace.heat_w = furnace.heat_for_ramp(ramp_c_per_s)
            if second == 240:
                at_240_c = furnace.pot_c
            furnace.step(1.0)
        assert (furnace.pot_c - at_240_c) / 60.0 == pytest.approx(ramp_c_per_s, rel=0.1), place


def test_the_probe_lags_by_its_time_constant() -> None:
    """A first-order lag of 8 s: a ramp is seen 8 s late."""
    furnace = FurnaceModel(PotPlace.FURNACE_LID_SHUT, 500.0)
    for _ in range(600):
        furnace.heat_w = furnace.heat_for_ramp(0.1)
        furnace.step(1.0)
    assert furnace.pot_c - furnace.probe_c == pytest.approx(0.1 * 8.0, rel=0.1)


def test_a_large_step_is_as_good_as_many_small_ones() -> None:
    """Intervals of the board must not change the physics."""
    fine, coarse = FurnaceModel(PotPlace.FURNACE_LID_SHUT, 300.0), FurnaceModel(PotPlace.FURNACE_LID_SHUT, 300.0)
    fine.heat_w = coarse.heat_w = 4000.0
    for _ in range(600):
        fine.step(1.0)
    for _ in range(60):
        coarse.step(10.0)
    assert coarse.pot_c == pytest.approx(fine.pot_c, abs=1.0)


def frames_of(seed: int, count: int = 2000, **options: float) -> list[bytes | None]:
    model = ModelHeat(load(CLAY), seed=seed, **options)
    return [model.next_frame() for _ in range(count)]


def test_the_same_seed_gives_the_same_bytes_and_another_seed_another_heat() -> None:
    """A rehearsal can be repeated exactly."""
    assert frames_of(7) == frames_of(7)
    assert frames_of(7) != frames_of(8)


def test_frames_tell_the_probes_temperature_with_the_junction_compensated() -> None:
    """EMF as measured: adding the junction's EMF gives the probe's temperature back, but for the noise."""
    type_k = thermocouple("K")
    errors_c, junctions_c = [], []
    for moment in heat(DEMO).moments[::10]:
        frame = moment.frame
        assert frame is not None
        assert frame.emf_uv is not None
        assert frame.junction_c is not None
        errors_c.append(type_k.temp_c(frame.emf_uv, frame.junction_c) - moment.temp_c)
        junctions_c.append(frame.junction_c)
    assert abs(statistics.median(errors_c)) < 0.1
    assert 0.05 < statistics.quantiles(errors_c, n=10)[-1] < 0.8
    assert junctions_c[0] == pytest.approx(ROOM_C, abs=0.1)
    assert ROOM_C + 3 < max(junctions_c) < 45
    assert max(abs(after - before) for before, after in pairwise(junctions_c)) < 0.2


def readings_c(noise: NoiseClass, heat_w: float, count: int = 4000) -> list[float]:
    """What the board makes of a probe that stands still at 600 °C."""
    furnace = FurnaceModel(PotPlace.FURNACE_LID_SHUT, 600.0)
    furnace.heat_w = heat_w
    board, type_k = BoardModel(random.Random(3), NOISE[noise]), thermocouple("K")
    samples = (board.measure(furnace, float(second)) for second in range(count))
    return [type_k.temp_c(sample.emf_uv, sample.junction_c) for sample in samples]


@pytest.mark.parametrize("noise", list(NoiseClass))
def test_flicker_comes_from_a_burning_flame_alone(noise: NoiseClass) -> None:
    """With the gas off only white noise, pickup and the converter's step are left, and no spikes."""
    figures = NOISE[noise]
    lit, unlit = readings_c(noise, 1000.0), readings_c(noise, 0.0)
    quiet_c = statistics.pstdev(unlit)
    expected_c = (figures.white_uv**2 + figures.mains_uv**2 + figures.step_uv**2 / 12) ** 0.5 / 42.5
    assert quiet_c == pytest.approx(expected_c, rel=0.15)
    calm = [temp_c for temp_c in lit if abs(temp_c - 600.0) < 8.0]
    assert statistics.pstdev(calm) == pytest.approx((figures.flicker_c**2 + expected_c**2) ** 0.5, rel=0.25)
    spiked = sum(abs(temp_c - 600.0) > 15.0 for temp_c in lit) / len(lit)
    assert spiked == pytest.approx(figures.spike_share, rel=0.6, abs=0.002)


def test_the_converter_gives_whole_steps() -> None:
    """Its resolution is part of what the watch has to live with."""
    furnace = FurnaceModel(PotPlace.OVEN, 100.0)
    board = BoardModel(random.Random(1), NOISE[NoiseClass.MID])
    emfs_uv = [board.measure(furnace, float(second)).emf_uv for second in range(50)]
    assert all(emf_uv % NOISE[NoiseClass.MID].step_uv == 0 for emf_uv in emfs_uv)
    assert len(set(emfs_uv)) > 1


def test_lighting_the_burner_disturbs_the_reading() -> None:
    """In the first seconds of a flame spikes are many times as frequent."""
    spikes = 0
    for seed in range(100):
        furnace, board = (
            FurnaceModel(PotPlace.FURNACE_LID_SHUT, 100.0),
            BoardModel(random.Random(seed), NOISE[NoiseClass.LOW]),
        )
        still = board.measure(furnace, 0.0).emf_uv
        furnace.heat_w = 500.0
        spikes += sum(abs(board.measure(furnace, 1.0 + second).emf_uv - still) > 600 for second in range(8))
    assert 40 < spikes < 130


# Mishaps


def during(run: Heat, from_s: float, to_s: float) -> Iterator[Moment]:
    return (moment for moment in run.moments if run.fault_s + from_s <= moment.time_s < run.fault_s + to_s)


def test_every_fault_is_described_in_one_line() -> None:
    """They are shown by the command's help."""
    assert set(DESCRIPTIONS) == set(FaultName)
    assert all("\n" not in text for text in DESCRIPTIONS.values())


@pytest.mark.parametrize("name", [DEMO, CLAY])
def test_fast_ramp_breaks_the_drying_limit_and_is_corrected(name: str) -> None:
    """1.8 times the limit for 20 minutes, in the first ramp."""
    run = heat(name, FaultName.FAST_RAMP)
    rate = run.schedule.segments[0].max_rates[0]
    climbing = list(during(run, 300, 1200))
    slope = (climbing[-1].temp_c - climbing[0].temp_c) / (climbing[-1].time_s - climbing[0].time_s)
    assert slope == pytest.approx(1.8 * rate.c_per_s, rel=0.05)
    assert share_of(rate, list(during(run, -1200, 0))) < NEAREST
    assert share_of(rate, list(during(run, 2200, 3600))) < NEAREST


def test_gas_failing_stops_the_last_ramp_until_a_new_bottle_comes() -> None:
    """The climb dies away while the valve stands still, turns into a fall, and goes on after 25 minutes."""
    run = heat(DEMO, FaultName.GAS_FAILING)
    failing = list(during(run, 1, 1500))
    assert len({moment.heat_w for moment in failing}) == 1
    hottest = max(failing, key=lambda moment: moment.temp_c)
    assert 600 < hottest.time_s - run.fault_s < 1300
    assert failing[-1].temp_c < hottest.temp_c - 5
    assert max(moment.temp_c for moment in during(run, 1500, 3600)) > 1120


def test_slow_red_heat_climbs_at_half_the_minimum_rate() -> None:
    """For a quarter of an hour, between 315 and 650 °C or nearly."""
    run = heat(DEMO, FaultName.SLOW_RED_HEAT)
    slow = list(during(run, 240, 900))
    least = run.schedule.segments[3].min_rate
    assert least is not None
    slope = (slow[-1].temp_c - slow[0].temp_c) / (slow[-1].time_s - slow[0].time_s)
    assert slope == pytest.approx(0.5 * least.c_per_s, rel=0.1)
    assert 300 < slow[0].temp_c < slow[-1].temp_c < 650


def test_oven_notches_go_up_in_steps_and_keep_the_budget() -> None:
    """Notches of 25 °C each 15 minutes: the momentary ramp swings about the limit, the climb never breaks it."""
    run = heat(DEMO, FaultName.OVEN_NOTCHES)
    rate = run.schedule.segments[0].max_rates[0]
    drying = [moment for moment in run.moments if moment.place is PotPlace.OVEN]
    assert 0.9 < share_of(rate, drying) <= 1.0
    slopes = [(after.temp_c - at.temp_c) / 120.0 for at, after in zip(drying[2700:5400], drying[2820:], strict=False)]
    assert max(slopes) > 1.15 * min(slopes) > 0


def test_soak_drift_leaves_the_band_for_some_minutes() -> None:
    """Below its lower edge for about six minutes, and back."""
    run = heat(DEMO, FaultName.SOAK_DRIFT)
    soak = run.schedule.segments[5]
    below = [moment for moment in during(run, 0, 1500) if moment.temp_c < soak.lowest_c]
    assert 300 < len(below) < 420
    assert 8 < soak.lowest_c - min(moment.temp_c for moment in below) < 20


def test_overshoot_runs_past_the_ceiling_for_some_minutes() -> None:
    """About 15 °C above it, three minutes long."""
    run = heat(DEMO, FaultName.OVERSHOOT)
    above = [moment for moment in run.moments if moment.temp_c > 1220.0]
    assert 140 < len(above) < 220
    assert 1230 < max(moment.temp_c for moment in above) < 1238


def test_open_sensor_sets_its_flag_for_forty_seconds() -> None:
    """Flag bit 0, on the way through red heat, and the EMF of an open input."""
    run = heat(DEMO, FaultName.OPEN_SENSOR)
    opened = [m for m in run.moments if m.frame is not None and m.frame.faults]
    assert len(opened) == 40
    assert opened[-1].time_s - opened[0].time_s == 39
    assert all(moment.frame is not None and moment.frame.faults == (Fault.OPEN,) for moment in opened)
    assert 315 < opened[0].temp_c < 650


def test_spikes_hit_two_to_five_readings_in_a_hundred() -> None:
    """20 to 400 °C high, as long as the burner burns."""
    run, type_k = heat(DEMO, FaultName.SPIKES), thermocouple("K")
    lit = [m for m in run.moments if m.place is PotPlace.FURNACE_LID_SHUT and m.heat_w > 0 and m.frame is not None]
    errors_c = [
        (m.frame.emf_uv + type_k.emf_uv(m.frame.junction_c) - type_k.emf_uv(m.temp_c)) / 41.0
        for m in lit
        if m.frame is not None and m.frame.emf_uv is not None and m.frame.junction_c is not None
    ]
    spiked = [abs(error_c) for error_c in errors_c if abs(error_c) > 15.0]
    assert 0.02 < len(spiked) / len(lit) < 0.05
    assert 15.0 < min(spiked) < 60.0
    assert 300.0 < max(spiked) < 410.0


def test_silence_is_ninety_seconds_without_a_frame_while_the_heat_goes_on() -> None:
    """No frames are made up afterwards either: the next sequence number follows the last."""
    run = heat(DEMO, FaultName.SILENCE)
    silent = [moment for moment in run.moments if moment.frame is None]
    assert len(silent) == 90
    assert silent[-1].temp_c > silent[0].temp_c + 10


def test_board_restart_counts_from_zero_again_after_three_seconds() -> None:
    """Sequence number and milliseconds alike; the heat's time goes on."""
    run = heat(DEMO, FaultName.BOARD_RESTART)
    away = [at for at, moment in enumerate(run.moments) if moment.frame is None]
    assert len(away) == 3
    before, after = run.moments[away[0] - 1].frame, run.moments[away[-1] + 1].frame
    assert before is not None
    assert after is not None
    assert before.seq == away[0] - 1
    assert (after.seq, after.board_ms) == (0, 0)
    following = run.moments[away[-1] + 2].frame
    assert following is not None
    assert (following.seq, following.board_ms) == (1, 1000)


@pytest.mark.parametrize("fault", list(FaultName))
def test_a_fault_that_has_no_place_in_a_schedule_is_refused(fault: FaultName) -> None:
    """Rather than rehearsed without ever happening."""
    cooling_only = parse_schedule({"segment": [{"name": "down", "kind": "cool", "to": "60 C"}]}, "test")
    with pytest.raises(ScheduleError, match=f"{fault} needs a"):
        place_of(fault, cooling_only)


def test_a_warm_pot_joins_the_schedule_where_it_stands() -> None:
    """A heat taken up at 300 °C starts in the furnace on the way to red heat, not in the oven."""
    model = ModelHeat(load(DEMO), start_c=300.0)
    assert model.furnace.place is PotPlace.FURNACE_LID_SHUT
    assert model.operator.index == 3
    for _ in range(600):
        model.next_frame()
    assert model.furnace.pot_c > 340


def test_an_oven_or_burner_is_never_asked_for_more_than_it_has() -> None:
    """Nor for less than its smallest flame, unless it is shut."""
    for fault in (None, FaultName.FAST_RAMP, FaultName.OVERSHOOT):
        for moment in heat(DEMO, fault).moments:
            chamber = CHAMBERS.get(moment.place)
            allowed = chamber is not None and chamber.lowest_w <= moment.heat_w <= chamber.highest_w
            assert allowed or moment.heat_w == 0.0
