"""What two probes settle in heats of two simulated furnaces: what is so is told, and of sound heats nothing."""

import pytest

from benchmarks.furnaces.beside import Befalls
from benchmarks.furnaces.scenarios import SIMULATORS, Stream
from benchmarks.furnaces.story import Row
from benchmarks.two_probes_bench import CASES, Case, Outcome, run

pytestmark = pytest.mark.long


def case_of(row: Row, befalls: Befalls = Befalls.NOTHING) -> Case:
    """Give the bench's case of a row."""
    return next(case for case in CASES if case.row is row and case.befalls is befalls)


def outcomes(case: Case, simulator: str, seeds: range) -> list[Outcome]:
    """Run heats of a case that nothing was tuned by."""
    return [run(case, simulator, seed, Stream.REPORTING) for seed in seeds]


@pytest.mark.parametrize("row", [Row.SOUND, Row.LONG_SOAK, Row.LID_120_SOAK, Row.FLAME_OUT_CLIMB], ids=str)
@pytest.mark.parametrize("simulator", SIMULATORS)
def test_nothing_is_said_of_a_pair_of_sound_probes(simulator: str, row: Row) -> None:
    """Whole heats with oven and transfer among them; a lid and a lost flame move both, or one and then the other."""
    assert [one.wrong for one in outcomes(case_of(row), simulator, range(3))] == [(), (), ()]


@pytest.mark.parametrize("simulator", SIMULATORS)
@pytest.mark.parametrize(
    ("row", "befalls", "within_s"),
    [
        (Row.MOVED_SOAK, Befalls.NOTHING, 130.0),
        (Row.OUT_OF_SEAT, Befalls.NOTHING, 130.0),
        (Row.SOUND, Befalls.MOVES, 200.0),
    ],
    ids=["pot's probe moved", "pot's probe out of its seat", "chamber's probe moved"],
)
def test_a_probe_that_alone_makes_a_step_is_named(simulator: str, row: Row, befalls: Befalls, within_s: float) -> None:
    """Within two minutes, and the chamber's within three: a pot takes its time to ignore it."""
    found = outcomes(case_of(row, befalls), simulator, range(3))
    delays_s = [one.delay_s for one in found]
    assert all(delay_s is not None and delay_s <= within_s for delay_s in delays_s), delays_s
    assert all(one.wrong == () for one in found)


@pytest.mark.parametrize("simulator", SIMULATORS)
def test_cold_metal_is_told_as_a_pot_that_lags(simulator: str) -> None:
    """Of four charges of 15 to 60 % of the pot's capacity most."""
    found = outcomes(case_of(Row.CHARGE), simulator, range(4))
    assert sum(one.delay_s is not None for one in found) >= 2
    assert all(one.wrong == () for one in found)


def test_a_pots_probe_that_drifts_low_on_a_soak_is_suspected() -> None:
    """15 to 45 K an hour while somebody holds what it shows: told within the soak."""
    found = outcomes(case_of(Row.POT_DRIFTS), "two-mass", range(4))
    assert sum(one.delay_s is not None for one in found) >= 3
    assert all(one.wrong == () for one in found)
