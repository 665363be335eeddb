"""Probes beside the pot's in a rehearsal: what they feel, what befalls them, and that the pot's is none the wiser."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.framing import Frame, FrameDecoder
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Fault
from rampwarden.core.schedule import Schedule
from rampwarden.errors import ScheduleError
from rampwarden.sources.beside_the_pot import BesidePlace, BesideThePot
from rampwarden.sources.board_model import NoiseClass
from rampwarden.sources.furnace_faults import FaultName
from rampwarden.sources.furnace_model import FurnaceModel, PotPlace
from rampwarden.sources.probe_mishaps import read_mishaps
from rampwarden.sources.rehearsal_board import ModelHeat

ALL = tuple(BesidePlace)
TYPE_K = thermocouple("K")
INTERVAL_S = 10.0
UNTIL_S = 18_000.0  # forty minutes into the cooling


@cache
def bronze() -> Schedule:
    file = Path(__file__).resolve().parents[2] / "config" / "schedules" / "bronze-first-heat.toml"
    return parse_schedule(tomllib.loads(file.read_text(encoding="utf-8")), "bronze")


def frames_of(
    places: tuple[BesidePlace, ...] = ALL, mishaps: Mapping[BesidePlace, FaultName] | None = None
) -> dict[int, dict[float, Frame]]:
    """Give every frame of a bronze heat by channel and time, s."""
    model, decoder = ModelHeat(bronze(), beside=places, mishaps=mishaps, interval_s=INTERVAL_S), FrameDecoder()
    frames: dict[int, dict[float, Frame]] = {}
    while model.time_s < UNTIL_S:
        for frame in decoder.feed(model.next_frame() or b""):
            frames.setdefault(frame.channel, {})[model.time_s] = frame
    assert decoder.garbled == 0
    return frames


@cache
def sound() -> dict[int, dict[float, Frame]]:
    return frames_of()


@cache
def befallen() -> dict[int, dict[float, Frame]]:
    return frames_of(
        mishaps={
            BesidePlace.CHAMBER: FaultName.PULLED_SENSOR,
            BesidePlace.BOTTLE: FaultName.OPEN_SENSOR,
            BesidePlace.ROOM: FaultName.SILENCE,
        }
    )


def read_c(frame: Frame) -> float:
    assert frame.emf_uv is not None
    assert frame.junction_c is not None
    return TYPE_K.temp_c(frame.emf_uv, frame.junction_c)


def test_the_pot_s_frames_are_the_same_whoever_stands_beside() -> None:
    """A rehearsal over one probe stays what it was, to the byte."""
    assert sound()[0] == frames_of(())[0] == befallen()[0]
    assert sorted(sound()) == [0, 1, 2, 3]


def test_a_chamber_leads_while_it_heats_and_falls_behind_while_it_cools() -> None:
    """Heat flows from it into the pot, and out of the pot into it."""
    pot, chamber = sound()[0], sound()[1]
    heating, cooling = 11_000.0, 17_000.0
    assert read_c(chamber[heating]) > read_c(pot[heating]) + 20.0
    assert read_c(chamber[cooling]) < read_c(pot[cooling]) - 5.0


def test_a_bottle_grows_cold_only_while_gas_is_burnt_and_a_room_a_little_warm() -> None:
    """In the drying oven nothing is drawn."""
    bottle, room = sound()[2], sound()[3]
    assert read_c(bottle[8000.0]) == pytest.approx(21.0, abs=0.5)
    assert 5.0 < read_c(bottle[15_000.0]) < 16.0
    assert 22.0 < read_c(room[15_000.0]) < 30.0


def test_what_befalls_one_probe_befalls_no_other() -> None:
    """Pulled back by a fifth for 15 minutes, open for 40 s, silent for 90 s: each by itself, all at one moment."""
    chamber = [at_s for at_s, frame in befallen()[1].items() if read_c(frame) < read_c(sound()[1][at_s]) - 30.0]
    opened = [at_s for at_s, frame in befallen()[2].items() if Fault.OPEN in frame.faults]
    silent = sorted(sound()[3].keys() - befallen()[3].keys())
    assert (chamber[0], opened[0], silent[0]) == (silent[0],) * 3
    assert (len(chamber), len(opened), len(silent)) == (90, 4, 9)
    at_s = chamber[45]
    shown_c, true_c = read_c(befallen()[1][at_s]), read_c(sound()[1][at_s])
    assert shown_c == pytest.approx(true_c - 0.2 * (true_c - 21.0), abs=1.0)


def test_a_probe_that_drifts_reads_lower_each_hour() -> None:
    """The pot's as well: by 5 % an hour of what it shows over the room."""
    model, decoder = ModelHeat(bronze(), fault=FaultName.DRIFTING_SENSOR, interval_s=INTERVAL_S), FrameDecoder()
    while (began_s := model.operator.fault_since_s) is None or model.time_s < began_s + 3600.0:
        [frame] = decoder.feed(model.next_frame() or b"")
    true_c = model.furnace.probe_c
    assert read_c(frame) == pytest.approx(true_c - 0.05 * (true_c - 21.0), abs=4.0)


def test_a_carried_chamber_probe_hangs_in_the_warmed_furnace_meanwhile() -> None:
    """It is not in the oven any more, nor where the pot is."""
    furnace = FurnaceModel(PotPlace.OVEN, 180.0)
    beside = BesideThePot(furnace)
    furnace.move_to(PotPlace.OPEN_AIR)
    beside.step(60.0)
    assert beside.felt_c[BesidePlace.CHAMBER] == pytest.approx(100.0, abs=0.1)


def test_an_empty_bottle_gives_nothing_and_breaks_nothing() -> None:
    """However long the burner is left open."""
    furnace = FurnaceModel(PotPlace.FURNACE_LID_SHUT, 21.0)
    beside = BesideThePot(furnace, bottle_kg=0.05)
    furnace.heat_w = 12_000.0
    for _ in range(600):
        beside.step(5.0)
    assert beside.bottle.content_kg == 0.0


def test_mishaps_are_read_by_probe() -> None:
    """Without a probe, or with pot, it is the followed one's, the heat's or the board's."""
    read = read_mishaps(["fast-ramp", "chamber:stuck-sensor", "room:silence"], ALL)
    assert read.of_heat is FaultName.FAST_RAMP
    assert read.of_probes == {
        BesidePlace.CHAMBER: FaultName.STUCK_SENSOR,
        BesidePlace.ROOM: FaultName.SILENCE,
    }
    assert read_mishaps(["pot:open-sensor"], ()).of_heat is FaultName.OPEN_SENSOR


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (["fire"], "'fire': there is no such mishap there; known: fast-ramp, "),
        (["chamber:fast-ramp"], "'chamber:fast-ramp': there is no such mishap there; known: open-sensor, "),
        (["room:silence"], "'room:silence': there is no such probe in this rehearsal (pot, chamber); add --probe room"),
        (["attic:silence"], "'attic:silence': there is no such probe in this rehearsal (pot, chamber)"),
        (["silence", "pot:fast-ramp"], "silence and fast-ramp: one mishap of the heat at a time"),
        (["chamber:silence", "chamber:open-sensor"], "one mishap a probe at a time, and it has silence"),
    ],
)
def test_mishaps_that_cannot_be_are_refused(written: list[str], said: str) -> None:
    """With what there is."""
    with pytest.raises(ScheduleError) as caught:
        read_mishaps(written, (BesidePlace.CHAMBER,))
    assert said in str(caught.value)


def test_the_noise_of_every_probe_is_its_own() -> None:
    """Two channels of one board do not scatter in step."""
    model = ModelHeat(bronze(), beside=(BesidePlace.BOTTLE, BesidePlace.ROOM), noise=NoiseClass.HIGH)
    decoder = FrameDecoder()
    pairs = [[frame.emf_uv for frame in decoder.feed(model.next_frame() or b"")] for _ in range(50)]
    assert sum(bottle == room for _, bottle, room in pairs) < 20
