"""What the voice says, in words."""

import pytest
from msgspec.structs import replace

from pictured_heat import PicturedHeat
from rampwarden.core.model import AlarmState, HeatStatus, Priority, Quality, Ramp, StandingAlarm
from rampwarden.outputs.speech.spoken_words import alarm_words, number_words, segment_words, state_words


def status(
    temp_c: float | None, c_per_min: float | None, limit: float | None, quality: Quality = Quality.GOOD
) -> HeatStatus:
    it = PicturedHeat().climb(21.0, 10.0).monitor.status()
    return replace(
        it,
        temp_c=temp_c,
        quality=quality,
        ramp=None if c_per_min is None else Ramp(0.0, c_per_min / 60.0, 0.0, 60.0),
        allowed_c_per_s=(None, None if limit is None else limit / 60.0),
    )


def alarm(value: float | None, limit: float | None, unit: str | None, order: str = "LOWER THE HEAT") -> StandingAlarm:
    return StandingAlarm(
        "ramp-high", AlarmState.UNACKNOWLEDGED, Priority.HIGH, "", 1.0, order=order, value=value, limit=limit, unit=unit
    )


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0.0, "zero"),
        (-0.4, "zero"),
        (13.0, "thirteen"),
        (21.0, "twenty-one"),
        (100.0, "one hundred"),
        (999.4, "nine hundred ninety-nine"),
        (999.6, "one thousand"),
        (2012.0, "two thousand twelve"),
        (-45.0, "minus forty-five"),
    ],
)
def test_numbers_are_spelt_out(value: float, words: str) -> None:
    """A voice of another language must not read them in its own."""
    assert number_words(value) == words


def test_the_state_is_said_as_people_say_it() -> None:
    """How hot, how fast, how fast is allowed."""
    said = state_words(status(610.0, 90.0, 100.0), fahrenheit=False)
    assert said == "six hundred ten, plus ninety a minute, limit one hundred"
    said = state_words(status(610.0, 90.0, 100.0), fahrenheit=True)
    assert said == "one thousand one hundred thirty, plus one hundred sixty-two a minute, limit one hundred eighty"
    assert state_words(status(610.0, None, None), fahrenheit=False) == "six hundred ten"
    assert "not trusted yet" in state_words(status(610.0, 1.0, None, Quality.HELD), fahrenheit=False)
    assert state_words(status(None, None, None), fahrenheit=False) == "no temperature"
    assert state_words(status(610.0, None, None, Quality.BAD), fahrenheit=False) == "no temperature"


def test_an_alarm_says_what_to_do_before_why() -> None:
    """And in °F a rate is scaled, a temperature shifted as well."""
    said = alarm_words(alarm(181.0, 100.0, "°C/h"), fahrenheit=False)
    assert said == "Lower the heat. Ramp high: one hundred eighty-one an hour, limit one hundred."
    assert "three hundred twenty-six an hour, limit one hundred eighty" in alarm_words(
        alarm(181.0, 100.0, "°C/h"), fahrenheit=True
    )
    assert "one hundred degrees, limit zero" in alarm_words(alarm(100.0, 0.0, "°C"), fahrenheit=False)
    assert "two hundred twelve degrees, limit thirty-two" in alarm_words(alarm(100.0, 0.0, "°C"), fahrenheit=True)
    assert alarm_words(alarm(600.0, 10.0, "s", ""), fahrenheit=True) == "Ramp high: for ten minutes."
    assert alarm_words(alarm(None, None, None, ""), fahrenheit=False) == "Ramp high."


def test_a_segment_is_named() -> None:
    assert segment_words(3, "to red heat") == "Segment three: to red heat."
