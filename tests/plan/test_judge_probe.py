"""What the plan says of the thermocouple."""

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.bodies import CrucibleClass
from rampwarden.plan.judge_probe import judge_life, judge_place, judge_range, judge_response, judge_uncertainty
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.probe import Probe, ProbePlace, Sheath
from rampwarden.plan.timeline import Timeline, lay_out
from rampwarden.plan.workshop import Pot


def heat(top_c: float, band_c: float = 25.0, *windows_s: float, ambient_c: float = 20.0) -> Timeline:
    """Lay out a ramp to a soak, with a limit of 600 K/h over each window."""
    limits = tuple(Rate(window_s / 6.0, window_s) for window_s in windows_s)
    segments = (
        Segment("up", SegmentKind.RAMP, to_c=top_c, max_rates=limits),
        Segment("hold", SegmentKind.SOAK, at_c=top_c, hold_s=1800.0, band_c=(-band_c, band_c)),
    )
    return lay_out(Schedule("t", segments), ambient_c)


def only(judged: list[Judgement]) -> Judgement:
    [judgement] = judged
    return judgement


@pytest.mark.parametrize(
    ("letter", "tolerance_class", "top_c", "verdict", "remedy"),
    [
        ("K", 2, 1150.0, Verdict.FINE, ""),
        ("K", 2, 1200.0, Verdict.FINE, ""),
        ("K", 1, 1100.0, Verdict.LOOK_AGAIN, "type K or N or R or S or B, or a calibration of this one"),
        ("K", 2, 1300.0, Verdict.LOOK_AGAIN, "type R or S or B, or a calibration of this one"),
        ("K", 2, 1360.0, Verdict.WILL_NOT_WORK, "type R or S or B"),  # its band reaches above 1372
        ("S", 2, 1650.0, Verdict.LOOK_AGAIN, "type B, or a calibration of this one"),
        ("S", 2, 1760.0, Verdict.WILL_NOT_WORK, "no usual type reaches that high; a pyrometer"),
    ],
)
def test_the_peak_is_held_against_the_types_range_and_the_classs(
    letter: str, tolerance_class: int, top_c: float, verdict: Verdict, remedy: str
) -> None:
    """Outside the type's range nothing is read; outside the class's nothing is known of what is read."""
    judgement = only(judge_range(heat(top_c), Probe(letter, tolerance_class)))
    assert (judgement.verdict, judgement.remedy) == (verdict, remedy)


def test_type_b_is_blind_while_the_heat_begins() -> None:
    """Below 50 °C each of its voltages belongs to two temperatures."""
    judgement = only(judge_range(heat(1500.0), Probe("B", 2)))
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert judgement.finding == "type B tells nothing below 50 °C; the beginning of the heat is not seen"


@pytest.mark.parametrize(
    ("top_c", "verdict"), [(1045.0, Verdict.FINE), (1145.0, Verdict.LOOK_AGAIN), (1150.0, Verdict.WILL_NOT_WORK)]
)
def test_the_peak_is_held_against_what_the_sheath_is_good_for(top_c: float, verdict: Verdict) -> None:
    """A cable of 3 mm: 1070 °C, and the band reaches 25 above the aim. A hundred more is a short life."""
    judgement = only(judge_life(heat(top_c), Probe("K", 2, sheath_mm=3.0, sheath=Sheath.STEEL_310)))
    assert judgement.verdict is verdict
    assert judgement.finding == (
        f"mineral-insulated type K of 3 mm: suggested up to 1070 °C, the heat may go to {top_c + 25.0:.0f}"
    )


def test_a_ceiling_counts_as_what_the_heat_may_reach() -> None:
    """Where the alarm rings is where the probe may get to."""
    segments = (
        Segment("up", SegmentKind.RAMP, to_c=1000.0),
        Segment("hold", SegmentKind.SOAK, at_c=1000.0, hold_s=1800.0, ceiling_c=1100.0),
    )
    judgement = only(judge_life(lay_out(Schedule("t", segments), 20.0), Probe("K", 2, sheath_mm=3.0)))
    assert (judgement.verdict, judgement.figures["peak_c"]) == (Verdict.LOOK_AGAIN, 1100.0)


def test_alloy_600_is_not_fine_in_a_flame_that_may_be_rich() -> None:
    """It rots and then reads low, so the pot is hotter than shown; an electric furnace has no flame."""
    probe = Probe("K", 2, sheath_mm=6.0, sheath=Sheath.ALLOY_600)
    judgement = only(judge_life(heat(1000.0), probe))
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert "reads low: the pot is then hotter" in judgement.finding
    assert only(judge_life(heat(1000.0), probe, gas=False)).verdict is Verdict.FINE
    assert only(judge_life(heat(1150.0), probe, gas=False)).verdict is Verdict.LOOK_AGAIN  # 1100 °C, and a band of 25
    assert only(judge_life(heat(700.0), probe)).verdict is Verdict.FINE


def test_the_probes_place_is_asked_for_and_told() -> None:
    """On the pot all is well; in the chamber, or nobody knows where, it is said how far apart the two may be."""
    timeline = heat(900.0, 25.0, 900.0)
    assert only(judge_place(timeline, Probe("K", 2, place=ProbePlace.POT))).verdict is Verdict.FINE
    chamber = only(judge_place(timeline, Probe("K", 2, place=ProbePlace.CHAMBER)))
    assert chamber.verdict is Verdict.LOOK_AGAIN
    assert "the chamber runs some 19 to 64 °C ahead of the pot at up to 600 °C/h" in chamber.finding
    assert "--place pot" in only(judge_place(timeline, Probe("K", 2))).remedy


def test_a_probe_nobody_has_measured_is_to_be_looked_at() -> None:
    """Its life, and its slowness."""
    assert only(judge_life(heat(900.0), Probe("K", 2))).verdict is Verdict.LOOK_AGAIN
    slow = only(judge_response(heat(900.0, 25.0, 120.0), Probe("K", 2)))
    assert (slow.verdict, slow.finding) == (Verdict.LOOK_AGAIN, "how quickly the probe follows is not known")


def test_the_uncertainty_is_told_where_it_matters() -> None:
    """At soaks, at the peak, and where the wall's minerals change their length: quartz at 573 °C."""
    judgement = only(judge_uncertainty(heat(950.0), Probe("K", 2), Pot(CrucibleClass.CLAY_GRAPHITE)))
    assert judgement.verdict is Verdict.FINE
    assert judgement.figures == {"uncertainty_c": {"573": 12.4, "950": 10.2}}
    assert judgement.finding == (
        "±12.4 °C at 573, ±10.2 °C at 950 (k = 2: wire, junction, board, drift); "
        "where the probe hangs adds 5 to 20 °C more"
    )


def test_an_inversion_above_the_heat_does_not_matter() -> None:
    """Fireclay taken to 400 °C passes cristobalite's, not quartz's."""
    judgement = only(judge_uncertainty(heat(400.0), Probe("K", 2), Pot(CrucibleClass.FIRECLAY)))
    assert list(judgement.figures["uncertainty_c"]) == ["220", "400"]  # type: ignore[call-overload]  # a mapping


def test_a_band_narrower_than_what_a_reading_is_worth_is_to_be_looked_at() -> None:
    """±5 °C at 595, where a reading of class 2 is worth ±13; at 120 °C it is worth it."""
    judgement = only(judge_uncertainty(heat(595.0, 5.0), Probe("K", 2), Pot()))
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert "'hold' has a band of 5 °C, less than the ±12.8 °C a reading is worth there" in judgement.finding
    assert only(judge_uncertainty(heat(120.0, 5.0), Probe("K", 2), Pot())).verdict is Verdict.FINE


def test_where_no_tolerance_is_stated_no_uncertainty_is() -> None:
    """The type's own line has said so; what can be told of the rest still is."""
    assert judge_uncertainty(heat(1300.0), Probe("K", 2), Pot()) == []
    judgement = only(judge_uncertainty(heat(1300.0), Probe("K", 2), Pot(CrucibleClass.CLAY_GRAPHITE)))
    assert list(judgement.figures["uncertainty_c"]) == ["573"]  # type: ignore[call-overload]  # a mapping


@pytest.mark.parametrize(
    ("sheath_mm", "window_s", "verdict"),
    [
        (3.0, 180.0, Verdict.FINE),
        (3.0, 120.0, Verdict.LOOK_AGAIN),
        (6.0, 400.0, Verdict.LOOK_AGAIN),
        (6.0, 420.0, Verdict.FINE),
    ],
)
def test_a_window_is_to_hold_five_time_constants(sheath_mm: float, window_s: float, verdict: Verdict) -> None:
    """Where the segment begins, at 20 °C. 3 mm: 33 s, so three minutes; 6 mm: 81 s, so nearly seven."""
    judgement = only(judge_response(heat(900.0, 25.0, 900.0, window_s), Probe("K", 2, sheath_mm=sheath_mm)))
    assert judgement.verdict is verdict
    assert judgement.figures["shortest_window_s"] == window_s


def test_a_slow_probe_is_told_with_its_lag_and_the_window_it_needs() -> None:
    """Lag is ramp times time constant: 600 K/h and 33 s are 5.5 K."""
    judgement = only(judge_response(heat(900.0, 25.0, 120.0), Probe("K", 2, sheath_mm=3.0)))
    assert judgement.finding == (
        "time constant about 33 s at 20 °C and 8 s at 875 (an order of magnitude): 5 °C behind at 600 °C/h; "
        "window 2 min in 'up'"
    )
    assert judgement.remedy == "a thinner probe, or windows of 3 min; a burst shows late until then"


def test_without_any_limit_there_is_no_window_to_be_too_slow_for() -> None:
    """Nothing is said."""
    assert judge_response(heat(900.0), Probe("K", 2, sheath_mm=8.0)) == []
