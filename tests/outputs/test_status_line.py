"""The status in one line: what a person reads from it at a glance."""

import pytest

from rampwarden.core.model import HeatStatus, PotReadiness, ProbeStatus, Quality, Ramp, StandInState, WithheldAlarms
from rampwarden.outputs.status_line import (
    hold_words,
    learnt_words,
    place_words,
    readiness_words,
    signed,
    status_sentence,
)


def status(**fields: object) -> HeatStatus:
    """Give a status in the middle of a ramp, with these fields changed."""
    usual: dict[str, object] = {
        "time_s": 100.0,
        "temp_c": 412.4,
        "quality": Quality.GOOD,
        "ramp": Ramp(100.0, 6.0 / 60.0, 0.0, 60.0),
        "segment": "to red heat",
        "segment_number": 3,
        "segment_count": 8,
        "phase": "ramping",
        "target_c": 650.0,
        "allowed_c_per_s": (None, 100.0 / 3600.0),
        "soaked_s": 0.0,
        "hold_s": 0.0,
        "to_next_s": 2520.0,
        "to_end_s": 18_000.0,
        "alarms": (),
        "unconfirmed_s": 0.0,
        "probes": (),
    }
    known = set(HeatStatus.__struct_fields__)
    rest = dict.fromkeys(known - set(usual))
    return HeatStatus(**{**rest, **usual, **fields})  # type: ignore[arg-type]


@pytest.mark.parametrize("c_per_s", [-0.4 / 60.0, 0.4 / 60.0, 0.0, -0.0])
def test_a_rate_that_rounds_to_nothing_has_no_sign(c_per_s: float) -> None:
    """A minus before a nought is no fall."""
    said = status_sentence(status(ramp=Ramp(100.0, c_per_s, 0.0, 60.0), allowed_c_per_s=(8.0 / 60.0, 30.0 / 60.0)))
    assert " · 0 °C/min (allowed +8 to +30) · " in said


def test_the_rate_is_cut_only_where_it_rounds_to_nothing() -> None:
    assert [signed(each) for each in (-0.6, -0.4, 0.4, 0.6, 1.5, -90.0)] == ["-1", "0", "0", "+1", "+2", "-90"]


def test_the_probes_place_says_whose_temperature_it_is() -> None:
    """Where nobody has said it, nothing is made up."""
    assert [place_words(each) for each in ("pot", "chamber", "")] == [
        "probe on the pot",
        "probe in the chamber: the pot lags behind",
        "",
    ]


@pytest.mark.parametrize("place", ["pot", "chamber", ""])
def test_only_a_soak_by_the_chamber_is_said_to_be_the_chambers(place: str) -> None:
    """The pot was in the band later, and for less; the lid that is shut is the same for both."""
    soaking = status(hold_s=1800.0, soaked_s=600.0, unconfirmed_s=60.0, phase="soaking", place=place)
    whose = " by the chamber" if place == "chamber" else ""
    assert hold_words(soaking) == f"soaked 10 min of 30 min{whose}, 1 min not confirmed"
    cooling = status(hold_s=5400.0, soaked_s=600.0, phase="cooling", place=place)
    assert hold_words(cooling) == "shut 10 min of 1 h 30 min"


def test_a_ramp_reads_as_temperature_rate_limit_place_and_time_left() -> None:
    """In that order, the rate in the unit of its limit."""
    assert status_sentence(status()) == (
        "412 °C · +360 °C/h (at most +100) · to red heat (3 of 8) · next in 42 min · done in 5 h"
    )


def test_the_times_say_from_how_many_earlier_heats_they_are_learnt() -> None:
    """Where there are times to say it of, and heats to have learnt from."""
    assert [learnt_words(status(earlier_heats=count)) for count in (0, 1, 3)] == [
        "",
        "learnt from an earlier heat",
        "learnt from 3 earlier heats",
    ]
    assert learnt_words(status(earlier_heats=3, to_next_s=None)) == ""


@pytest.mark.parametrize(
    ("allowed", "shown"),
    [
        ((None, None), "+360 °C/h"),
        ((None, 100.0 / 60.0), "+6 °C/min (at most +100)"),
        ((8.0 / 60.0, None), "+360 °C/h (at least +480)"),
        ((8.0 / 60.0, 100.0 / 60.0), "+6 °C/min (allowed +8 to +100)"),
        # Cooling: what may be fallen at most.
        ((-250.0 / 3600.0, None), "+360 °C/h (at most -250)"),
    ],
)
def test_the_rate_stands_beside_what_is_allowed(allowed: tuple[float | None, float | None], shown: str) -> None:
    """Slow segments in °C/h, fast ones in °C/min; either bound, both or none."""
    assert f" · {shown} · " in status_sentence(status(allowed_c_per_s=allowed))


def test_a_soak_shows_its_clock_instead_of_the_time_to_the_next_segment() -> None:
    """What has been soaked of what is asked."""
    sentence = status_sentence(status(hold_s=1800.0, soaked_s=600.0, to_next_s=1200.0))
    assert "soaked 10 min of 30 min" in sentence
    assert "next in" not in sentence


def test_a_temperature_that_is_missing_or_in_doubt_is_said_so() -> None:
    """Rather than shown as if it were good."""
    assert status_sentence(status(temp_c=None, ramp=None)).startswith("no temperature · to red heat")
    assert status_sentence(status(quality=Quality.HELD)).startswith("412 °C (not trusted yet) · ")


def test_a_ramp_alarm_that_is_held_back_is_said_so_beside_the_ramp() -> None:
    """And for how much longer it can be."""
    withheld = WithheldAlarms(("ramp-high",), "the pot does not climb so", 100.0, 190.0)
    assert "(ramp-high held back, 1 min 10 s more at most)" in status_sentence(status(time_s=120.0, withheld=withheld))
    assert "held back" not in status_sentence(status())


def test_before_and_after_the_schedule_the_phase_stands_for_the_segment() -> None:
    """There is no segment to name."""
    sentence = status_sentence(
        status(segment=None, phase="waiting for the first temperature", ramp=None, to_next_s=None, to_end_s=None)
    )
    assert sentence == "412 °C · waiting for the first temperature"


def test_soak_credit_that_is_not_confirmed_is_said_to_be() -> None:
    """It may turn out not to count, so it never stands there like the rest."""
    soaking = status(hold_s=1800.0, soaked_s=1200.0, unconfirmed_s=360.0)
    assert " · soaked 20 min of 30 min, 6 min not confirmed · " in status_sentence(soaking)


def test_a_pot_still_hot_is_said_to_be_watched_in_place_of_a_segment_that_is_done() -> None:
    """The segment it is still judged by leads nowhere any more."""
    sentence = status_sentence(status(phase="cooling and still watched", to_next_s=None, to_end_s=None))
    assert sentence == "412 °C · +360 °C/h (at most +100) · cooling, still watched"


def test_the_gravest_reason_stands_beside_what_the_pot_is_ready_for() -> None:
    """And before the heat is over there is nothing to say."""
    over = status(readiness=PotReadiness("dry-it-first", "Dry it first.", ("It was stored damp.", "Another.")))
    assert readiness_words(over) == "Dry it first. It was stored damp."
    assert readiness_words(status()) == ""


def test_probes_beside_the_followed_one_stand_at_the_end_with_how_far_they_may_be_off() -> None:
    """One that says nothing says so; a number of before would be taken for the present one."""
    chamber = ProbeStatus("chamber", "chamber", 1043.6, Quality.GOOD, 99.0, 8.2)
    held = ProbeStatus("room", "room", 21.0, Quality.HELD, 99.0, 2.5)
    bottle = ProbeStatus("bottle", "bottle", None, Quality.BAD, None, None)
    sentence = status_sentence(status(probes=(chamber, held, bottle)))
    assert sentence.endswith(" · chamber 1044 ± 8 °C · room 21 ± 2 °C (held) · bottle ---")


def test_what_stands_in_is_said_with_how_far_it_may_be_off_and_what_is_not_guarded() -> None:
    """A guess without that would be taken for the followed probe's own temperature."""
    state = StandInState("chamber", "chamber", 40.0, 12.0, 14.4, ("25 °C / 15 min",), False)
    climbing = status(standing_in=state)
    assert " · by the chamber probe, ± 14 °C; not guarded: 25 °C / 15 min" in status_sentence(climbing)
    soaking = status(standing_in=state, hold_s=1800.0, phase="soaking")
    assert "not guarded: 25 °C / 15 min; the soak clock stands still" in status_sentence(soaking)
    assert "stands in" not in status_sentence(status())
