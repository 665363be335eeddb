"""What the plan says of the schedule itself: whether it can be kept, whether it dries, how it passes red heat."""

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.bodies import CrucibleClass
from rampwarden.plan.drying import drying_s
from rampwarden.plan.judge_heat import judge_class, judge_drying, judge_passage, judge_schedule
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.probe import ProbePlace
from rampwarden.plan.timeline import Timeline, lay_out
from rampwarden.plan.workshop import Pot

CLAY = Pot(CrucibleClass.CLAY_GRAPHITE)


def ramp(to_c: float, k_per_h: float | None, within_s: float | None = None) -> Segment:
    limits = () if k_per_h is None else (Rate(k_per_h, 3600.0),)
    return Segment(f"to {to_c:g}", SegmentKind.RAMP, to_c=to_c, max_rates=limits, within_s=within_s)


def soak(at_c: float, hold_s: float) -> Segment:
    return Segment(f"at {at_c:g}", SegmentKind.SOAK, at_c=at_c, hold_s=hold_s)


def carry() -> Segment:
    return Segment("carry", SegmentKind.TRANSFER, within_s=600.0)


def heat(*segments: Segment, crucible_class: str = "") -> Timeline:
    return lay_out(Schedule("t", segments, crucible_class), 20.0)


def only(judged: list[Judgement]) -> Judgement:
    [judgement] = judged
    return judgement


def test_a_schedule_with_limits_throughout_is_fine_and_told_in_time() -> None:
    """Its length, its aim, and nothing to change."""
    judgement = only(judge_schedule(heat(ramp(180.0, 100.0), ramp(980.0, 500.0))))
    assert judgement == Judgement(
        "schedule",
        Verdict.FINE,
        "about 4 h at four fifths of its limits, up to 980 °C",
        "",
        {"total_s": pytest.approx(14_400.0), "aim_c": 980.0, "peak_c": 980.0},
    )


def test_a_segment_that_must_be_done_sooner_than_its_limits_allow_will_not_work() -> None:
    """Whoever keeps the one rule breaks the other."""
    judgement = only(judge_schedule(heat(ramp(220.0, 100.0, within_s=3600.0))))
    assert judgement.verdict is Verdict.WILL_NOT_WORK
    assert judgement.finding == "'to 220' must be done within 1 h, but its own limits let it take no less than 2 h"
    assert judgement.remedy == "a longer 'within' in 'to 220', or a faster max_rate"


def test_a_segment_without_any_limit_is_to_be_looked_at() -> None:
    """Its length is not to be known, and so the whole is not."""
    judgement = only(judge_schedule(heat(ramp(220.0, None))))
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert judgement.finding == "how long 'to 220' takes cannot be told: it has no limit to go by"


@pytest.mark.parametrize(
    ("schedule_class", "crucible_class", "fits"),
    [
        ("clay-graphite", CrucibleClass.CLAY_GRAPHITE, True),
        ("", CrucibleClass.FIRECLAY, True),
        ("dense-alumina", CrucibleClass.MULLITE, True),
        ("clay-graphite", CrucibleClass.CARBON_BONDED_SIC, False),
        ("mullite", CrucibleClass.DENSE_ALUMINA, False),
        ("clay-graphite", None, True),
    ],
)
def test_a_schedule_for_another_class_is_to_be_looked_at(
    schedule_class: str, crucible_class: CrucibleClass | None, fits: bool
) -> None:
    """Unless it names none, suits both, or nobody knows the crucible's."""
    judged = judge_class(heat(ramp(200.0, 100.0), crucible_class=schedule_class), Pot(crucible_class))
    assert [judgement.verdict for judgement in judged] == ([] if fits else [Verdict.LOOK_AGAIN])


NEW = Pot(must_dry="the crucible is new")


def test_a_drying_soak_tells_what_it_is_worth_and_what_steam_does_and_proves_no_dryness() -> None:
    """An hour at 180 °C, where steam stands 9 bar over the air; the climb from 110 to 165 °C counts its 9 min."""
    judgement = only(judge_drying(heat(ramp(180.0, 100.0), soak(180.0, 3600.0)), NEW))
    assert judgement.verdict is Verdict.FINE
    assert judgement.finding == (
        "1 h at 180 °C, with the way there as much as 61 min at 200; steam in a closed pore then stands 9 bar over the "
        "air. Time proves no dryness: until the pot is weighed, dry is in doubt"
    )


@pytest.mark.parametrize(
    ("at_c", "minutes", "verdict"),
    [
        (100.0, 20.0, Verdict.LOOK_AGAIN),  # the coolest of one advice with the shortest of another
        (120.0, 240.0, Verdict.LOOK_AGAIN),
        (150.0, 60.0, Verdict.LOOK_AGAIN),
        (150.0, 120.0, Verdict.FINE),
        (180.0, 60.0, Verdict.FINE),
        (200.0, 40.0, Verdict.FINE),
        (260.0, 20.0, Verdict.FINE),
        (200.0, 1440.0, Verdict.FINE),
    ],
)
def test_the_time_that_dries_grows_as_the_temperature_falls(at_c: float, minutes: float, verdict: Verdict) -> None:
    """Least advice in common practice, no source. Never a refusal, and never more than in doubt."""
    judgement = only(judge_drying(heat(ramp(at_c, 100.0), soak(at_c, 60.0 * minutes)), NEW))
    assert judgement.verdict is verdict
    assert "dry" in judgement.finding
    assert only(judge_drying(heat(ramp(at_c, 100.0), soak(at_c, 60.0 * minutes)), Pot(must_dry=""))).remedy == ""


def test_no_time_below_110_counts_and_little_below_150() -> None:
    """And above it always more."""
    counted = [drying_s(heat(ramp(at_c, 1e6), soak(at_c, 6000.0))) or 0.0 for at_c in (110, 130, 150, 180, 200, 260)]
    assert counted == sorted(counted)
    assert counted[0] == pytest.approx(0.0, abs=1.0)
    assert counted[2] < 0.4 * 6000.0 < counted[3]


def test_a_slow_climb_through_the_steam_dries_too_and_a_hot_soak_comes_too_late() -> None:
    """110 to 200 °C at 30 °C/h is three hours; half a day at 500 °C is nothing that dries a pot in time."""
    assert (drying_s(heat(ramp(600.0, 30.0))) or 0.0) > 3600.0
    assert drying_s(heat(ramp(500.0, 1e6), soak(500.0, 43_200.0))) == pytest.approx(0.0, abs=1.0)
    assert drying_s(heat(ramp(600.0, None))) is None


def test_with_the_probe_in_the_chamber_the_pot_comes_after_it() -> None:
    """Then the soak's time is the chamber's."""
    timeline = heat(ramp(180.0, 100.0), soak(180.0, 3600.0))
    assert (
        "1 h at 180 °C of the chamber, and the pot comes after it"
        in only(judge_drying(timeline, NEW, ProbePlace.CHAMBER)).finding
    )
    assert "chamber" not in only(judge_drying(timeline, NEW, ProbePlace.POT)).finding


def test_a_halt_before_the_glaze_has_sealed_is_to_be_looked_at() -> None:
    """Half an hour at 750 °C is 128 min at 600 °C for bare graphite, 96 of them through what is not sealed yet."""
    quick = heat(ramp(650.0, 900.0), ramp(1150.0, 1200.0))
    halted = heat(ramp(650.0, 900.0), ramp(750.0, 1200.0), soak(750.0, 1800.0), ramp(1150.0, 1200.0))
    assert only(judge_passage(quick, CLAY)).verdict is Verdict.FINE
    judgement = only(judge_passage(halted, CLAY))
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert "between 650 and 900 °C and no halt there" in judgement.remedy
    more_min = judgement.figures["unsealed_dose_min"] - only(judge_passage(quick, CLAY)).figures["unsealed_dose_min"]  # type: ignore[operator]  # numbers
    # Less what the climb would have cost from 735 °C, where the soak begins.
    assert more_min == pytest.approx(92.0, abs=1.0)
    # A soak above 900 °C burns what a sound glaze has sealed: counted for the whole heat, not here.
    soaked = only(judge_passage(heat(ramp(650.0, 900.0), ramp(1150.0, 1200.0), soak(1150.0, 7200.0)), CLAY))
    assert soaked.verdict is Verdict.FINE


@pytest.mark.parametrize(
    "segments",
    [
        (ramp(650.0, 300.0),),
        (ramp(180.0, 100.0), soak(180.0, 600.0)),  # too short
        (ramp(80.0, 100.0), soak(80.0, 7200.0)),  # not hot enough to boil
        (ramp(500.0, 100.0), soak(500.0, 7200.0)),  # too hot to be in time
        (ramp(700.0, 300.0), soak(700.0, 600.0), carry(), ramp(180.0, 100.0), soak(180.0, 7200.0)),  # too late
    ],
)
def test_a_new_pot_without_a_drying_soak_is_to_be_looked_at(segments: tuple[Segment, ...]) -> None:
    """The reason is steam, and the pot's own: 15.5 and 85.9 bar absolute (IAPWS), less that of the air."""
    judgement = only(judge_drying(heat(*segments), Pot(must_dry="the crucible is new")))
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert judgement.finding == (
        "no drying soak, and the crucible is new: steam in a closed pore would push with 15 bar over the air at "
        "200 °C, 85 at 300"
    )
    assert "150 to 200 °C" in judgement.remedy


def test_a_dry_pot_needs_no_drying_and_an_unknown_one_might() -> None:
    """Only the register knows; without it the plan says so."""
    timeline = heat(ramp(1100.0, 900.0))
    assert only(judge_drying(timeline, Pot(must_dry=""))).verdict is Verdict.FINE
    unknown = only(judge_drying(timeline, Pot()))
    assert unknown.verdict is Verdict.LOOK_AGAIN
    assert "whether the pot is dry is not known here" in unknown.finding


def test_haste_while_water_leaves_is_to_be_looked_at() -> None:
    """200 K an hour from 75 to 200 °C; not for a pot that is dry, and not after the drying soak."""
    hasty = heat(ramp(180.0, 200.0), soak(180.0, 3600.0))
    judgement = only(judge_drying(hasty, Pot(must_dry="it was stored damp")))
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert judgement.finding.startswith("up to 200 °C/h while water leaves (75 to 200 °C)")
    assert only(judge_drying(hasty, Pot(must_dry=""))).verdict is Verdict.FINE
    dried = heat(ramp(180.0, 150.0), soak(180.0, 3600.0), carry(), ramp(650.0, 900.0))
    assert only(judge_drying(dried, Pot(must_dry="it was stored damp"))).verdict is Verdict.FINE


@pytest.mark.parametrize(("k_per_h", "verdict"), [(300.0, Verdict.FINE), (150.0, Verdict.LOOK_AGAIN)])
def test_lingering_where_graphite_burns_is_to_be_looked_at(k_per_h: float, verdict: Verdict) -> None:
    """At four fifths of 300 K/h it costs 26 min at 600 °C, of 150 K/h 52."""
    judgement = only(judge_passage(heat(ramp(700.0, k_per_h)), CLAY))
    assert judgement.verdict is verdict
    assert judgement.figures["prone_s"] == pytest.approx(335.0 / (0.8 * k_per_h) * 3600.0)
    assert judgement.figures["prone_dose_min"] == pytest.approx(6196.3 / (0.8 * k_per_h), rel=0.01)
    assert judgement.finding.startswith("burns at most as in ")


def test_the_dose_is_no_matter_where_there_is_no_graphite_or_its_bond_resists() -> None:
    """Nor for a heat that stays below, or a crucible nobody knows."""
    slow = heat(ramp(700.0, 100.0))
    for crucible_class in (CrucibleClass.FIRECLAY, CrucibleClass.CERAMIC_BONDED_SIC, None):
        assert judge_passage(slow, Pot(crucible_class)) == []
    assert judge_passage(heat(ramp(300.0, 100.0)), CLAY) == []


def test_a_passage_of_unknown_length_is_to_be_looked_at() -> None:
    """The remedy is a least rate."""
    judgement = only(judge_passage(heat(ramp(700.0, None)), CLAY))
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert judgement.remedy == "a min_rate from 315 to 900 °C"
