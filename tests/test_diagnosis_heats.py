"""Whole heats of the model furnace through decoder and monitor: each mishap is told, and nominal heats stay silent.

The short form of `benchmarks/diagnosis_matrix.py`, which has the figures.
"""

import pytest

from benchmarks.diagnosis_matrix import MESSAGES, ROWS, SCHEDULES, Case, healthy_heats, outcome
from rampwarden.core.alarm_entry import names
from rampwarden.core.diagnosis.diagnosis import DIAGNOSES
from rampwarden.core.explanation import TOLD_ALARMS
from rampwarden.sources.board_model import NoiseClass

pytestmark = pytest.mark.long


_DAYS_LONG = {"ceramic-bonded-sic-faster-class", "ceramic-bonded-sic-slower-class", "fireclay", "zirconia"}
"""Left to `make bench-diagnosis`."""
NAMES = sorted({path.stem for path in SCHEDULES.glob("*.toml")} - _DAYS_LONG)
SEED = 4
_SELDOM_TOLD = {
    # Half an hour of dying gas: fading can be told from a hand at the valve within some ten minutes; ramp-low says so.
    "heat-failing",
    # As little metal as an opened lid costs too: the lid is told, the metal is not.
    "charge",
    # A lid that a probe of 45 s and more shows as slowly as a furnace that cools: told as that.
    "sensor-lagging",
}
"""What these heats do not show clearly enough to be told each time; of a heat without it it is never told."""


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.diagnosis)
def test_a_mishap_is_told_and_no_other_diagnosis_with_it(row) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    """A heat with the fault; what else may rightly be said with it stands here."""
    rightly = {
        "sensor-reversed": {"sensor-noisy"},  # near -200 °C a type K gives little EMF for much temperature
        # The lid is what shows it; a slow probe falls and regains slowly, as a furnace without a flame does.
        "sensor-lagging": {"lid", "charge", "flame-out", "heat-failing"},
        "charge": {"lid"},
        "flame-out": {"heat-failing"},
        # What a frozen reading had earned of a soak is taken back; the model's operator ends it by his own clock, and
        # turns the flame off while the schedule still wants its heat.
        "sensor-stuck": {"heat-failing", "flame-out"},
    }
    result = outcome(row, 1, SEED, [])
    if row.diagnosis in _SELDOM_TOLD:
        assert result.false == 0
    else:
        assert (result.told, result.false, result.missed) == (1, 0, [])
    also = {name for name in result.also if name in (*names((*DIAGNOSES, *TOLD_ALARMS)), *MESSAGES)}
    assert also <= rightly.get(row.diagnosis, set())


@pytest.mark.parametrize("name", NAMES)
def test_a_heat_without_mishap_says_nothing(name: str) -> None:
    """Every schedule in config/ of less than a day, at the noise a rehearsal has by itself."""
    interval_s = 2.0 if "first-heat" in name or "later" in name else 10.0
    watched = Case(name, NoiseClass.MODERATE, 1, interval_s).watch()
    assert watched.said() & {*names((*DIAGNOSES, *TOLD_ALARMS)), *MESSAGES} == set()


def test_heats_without_mishap_say_nothing_whatever_their_noise() -> None:
    """All noise classes, a reading every half to two seconds."""
    said = {name for watched in healthy_heats(2, SEED) for name in watched.said()}
    assert said & {*names((*DIAGNOSES, *TOLD_ALARMS)), *MESSAGES} == set()
