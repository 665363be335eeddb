"""What people are shown while a reading is not trusted."""

import pytest

from rampwarden.core.instrument import UNCALIBRATED, InstrumentChain
from rampwarden.core.model import Quality, Reading


@pytest.fixture
def chain() -> InstrumentChain:
    """Give a chain that has believed a minute of readings at 909 °C."""
    chain = InstrumentChain("K", 1, UNCALIBRATED)
    for second in range(60):
        chain.measure(Reading(float(second), temp_c=909.0))
    return chain


def test_a_held_spark_is_shown_as_the_last_temperature_that_was_believed(chain: InstrumentChain) -> None:
    """Its own 1185 °C is none of the heat's."""
    chain.measure(Reading(60.0, temp_c=1185.0))
    assert chain.last is not None
    assert chain.last.quality is Quality.HELD
    shown = chain.shown
    assert shown is not None
    assert (shown.time_s, shown.temp_c, shown.quality) == (59.0, 909.0, Quality.HELD)


def test_what_is_believed_is_shown_as_it_was_read(chain: InstrumentChain) -> None:
    chain.measure(Reading(60.0, temp_c=909.5))
    assert chain.shown is chain.last


def test_nothing_is_shown_before_anything_was_read() -> None:
    assert InstrumentChain("K", 1, UNCALIBRATED).shown is None
