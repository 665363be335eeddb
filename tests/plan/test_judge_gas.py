"""What the plan says of the gas: two tests, which fail apart."""

from dataclasses import replace

import pytest

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.plan.judge_gas import demands, judge_gas
from rampwarden.plan.judgement import Judgement, Verdict
from rampwarden.plan.timeline import Timeline, lay_out
from rampwarden.plan.workshop import BottleSettings, Workshop

FULL_9_KG = BottleSettings(full_kg=9.0, gross_kg=17.0, tare_kg=8.0)


def heat(hold_s: float = 3600.0, *, limited: bool = True) -> Timeline:
    """Dry in an oven, carry, heat for an hour, hold, cool for an hour."""
    limits = (Rate(1000.0, 3600.0),) if limited else ()
    segments = (
        Segment("oven", SegmentKind.RAMP, to_c=180.0, max_rates=(Rate(100.0, 3600.0),)),
        Segment("carry", SegmentKind.TRANSFER, within_s=600.0, arrive_above_c=100.0),
        Segment("up", SegmentKind.RAMP, to_c=915.0, max_rates=limits),
        Segment("hold", SegmentKind.SOAK, at_c=915.0, hold_s=hold_s),
        Segment("down", SegmentKind.COOL, to_c=115.0, max_rates=(Rate(1000.0, 3600.0),)),
    )
    return lay_out(Schedule("t", segments), 20.0)


def judged(workshop: Workshop, timeline: Timeline | None = None) -> dict[str, Judgement]:
    return {judgement.topic: judgement for judgement in judge_gas(timeline or heat(), workshop)}


def test_one_figure_burns_in_the_furnace_while_it_heats_or_holds() -> None:
    """Nothing burns in the oven, on the way, or while it cools."""
    wanted = demands(heat(), Workshop(burner_kw={"*": 10.0})) or []
    assert [(round(demand.seconds), demand.kw) for demand in wanted] == [
        (7200, 0.0),
        (600, 0.0),
        (3600, 10.0),
        (3600, 10.0),
        (3600, 0.0),
    ]


def test_a_segment_that_is_named_burns_what_it_is_given() -> None:
    """Even in the oven, and the rest burns nothing where nothing is said of the rest."""
    powers = [demand.kw for demand in demands(heat(), Workshop(burner_kw={"up": 12.0, "oven": 2.0})) or []]
    assert powers == [2.0, 0.0, 12.0, 0.0, 0.0]
    powers = [demand.kw for demand in demands(heat(), Workshop(burner_kw={"up": 12.0, "*": 9.0})) or []]
    assert powers == [0.0, 0.0, 12.0, 9.0, 0.0]


def test_enough_gas_that_comes_fast_enough_is_fine_twice() -> None:
    """Ten kilowatts for two hours from a full bottle of 9 kg."""
    lines = judged(Workshop(burner_kw={"*": 10.0}, bottle=FULL_9_KG))
    assert [line.verdict for line in lines.values()] == [Verdict.FINE, Verdict.FINE]
    assert lines["gas, mass"].finding == (
        "1.79 kg with 15% of reserve, of 8.55 kg that can be got out (5% of a full bottle stays in it)"
    )
    assert lines["gas, withdrawal"].figures["short_at_s"] is None


def test_a_full_bottle_may_be_enough_and_still_too_small() -> None:
    """20 kW for more than two hours: half of it is left when it has gone cold. The remedy is a second one, no flame."""
    lines = judged(Workshop(burner_kw={"*": 20.0}, bottle=FULL_9_KG), heat(hold_s=7200.0))
    assert lines["gas, mass"].verdict is Verdict.FINE
    cold = lines["gas, withdrawal"]
    assert cold.verdict is Verdict.WILL_NOT_WORK
    assert "goes cold by its own boiling and falls below 1 bar" in cold.finding
    assert "in 'hold', with 5." in cold.finding
    assert cold.remedy == "2 such bottles in parallel, or a bigger one; never warm a bottle with a flame"


def test_bottles_in_parallel_share_the_burner() -> None:
    """What was said to help does."""
    pair = BottleSettings(full_kg=9.0, gross_kg=17.0, tare_kg=8.0, count=2)
    lines = judged(Workshop(burner_kw={"*": 20.0}, bottle=pair), heat(hold_s=7200.0))
    assert lines["gas, withdrawal"].verdict is Verdict.FINE
    assert lines["gas, mass"].figures["have_kg"] == pytest.approx(17.1)


def test_a_cold_workshop_makes_a_bottle_too_small() -> None:
    """15 kW for two hours: at 20 °C it holds, at -10 °C it does not."""
    shop = Workshop(burner_kw={"*": 15.0}, bottle=FULL_9_KG)
    assert judged(shop)["gas, withdrawal"].verdict is not Verdict.WILL_NOT_WORK
    cold = Workshop(ambient_c=-10.0, burner_kw={"*": 15.0}, bottle=FULL_9_KG)
    assert judged(cold)["gas, withdrawal"].verdict is Verdict.WILL_NOT_WORK


def test_a_bottle_that_only_just_holds_is_to_be_looked_at() -> None:
    """Less than half a bar over what is needed: the model is no better than that."""
    lines = judged(Workshop(burner_kw={"*": 15.0}, bottle=FULL_9_KG), heat(hold_s=7200.0))
    close = lines["gas, withdrawal"]
    assert close.verdict is Verdict.LOOK_AGAIN
    assert "it lives on the warmth in the bottle" in close.finding
    assert "never warm a bottle with a flame" in close.remedy


@pytest.mark.parametrize(
    ("gross_kg", "verdict"), [(10.3, Verdict.FINE), (10.1, Verdict.LOOK_AGAIN), (9.9, Verdict.WILL_NOT_WORK)]
)
def test_the_mass_is_held_against_need_with_its_reserve_and_without(gross_kg: float, verdict: Verdict) -> None:
    """1.55 kg are burnt, 1.79 are wanted; of what is in it 0.45 kg stay."""
    bottle = BottleSettings(full_kg=9.0, gross_kg=gross_kg, tare_kg=8.0)
    assert judged(Workshop(burner_kw={"*": 10.0}, bottle=bottle))["gas, mass"].verdict is verdict


def test_a_bottle_that_runs_empty_is_not_said_to_go_cold() -> None:
    """Half a kilogram in the warmth, at a gentle flame."""
    bottle = BottleSettings(full_kg=9.0, gross_kg=8.5, tare_kg=8.0)
    lines = judged(Workshop(ambient_c=30.0, burner_kw={"*": 4.0}, bottle=bottle))
    assert lines["gas, mass"].remedy == "a full bottle"
    assert lines["gas, withdrawal"].finding.startswith("the bottle is empty ")


def test_more_than_a_bottle_holds_is_told_in_bottles() -> None:
    """Ten hours at 12 kW."""
    lines = judged(Workshop(burner_kw={"*": 12.0}, bottle=FULL_9_KG), heat(hold_s=36_000.0))
    assert lines["gas, mass"].remedy == "2 full bottles, or a bigger one"


def test_nothing_helps_a_burner_that_no_bottles_can_feed() -> None:
    """A hundred times too big."""
    lines = judged(Workshop(burner_kw={"*": 900.0}, bottle=FULL_9_KG))
    assert lines["gas, withdrawal"].remedy.startswith("much bigger bottles in a warmer place, or another burner")


@pytest.mark.parametrize(
    ("workshop", "timeline", "words", "remedy"),
    [
        (Workshop(), heat(), "the burner's power is not known", "--burner-kw"),
        (Workshop(burner_kw={"*": 9.0}), heat(limited=False), "a segment's length is not known", "limits"),
        (Workshop(burner_kw={"*": 9.0}), heat(), "what the bottle holds is not known", "--bottle-kg"),
    ],
)
def test_what_is_not_known_is_to_be_looked_at_and_not_guessed(
    workshop: Workshop, timeline: Timeline, words: str, remedy: str
) -> None:
    """One line that says what is missing and how to give it."""
    [judgement] = judge_gas(timeline, workshop)
    assert judgement.verdict is Verdict.LOOK_AGAIN
    assert words in judgement.finding
    assert remedy in judgement.remedy


def test_a_bottle_that_was_not_weighed_is_taken_for_full() -> None:
    """And its steel for about as heavy as its gas."""
    unweighed = judged(Workshop(burner_kw={"*": 10.0}, bottle=BottleSettings(full_kg=9.0)))
    assert unweighed["gas, mass"].figures["have_kg"] == pytest.approx(8.55)


def test_a_segment_of_unknown_length_that_burns_nothing_is_no_matter() -> None:
    """The oven may take as long as it wants to."""
    timeline = heat(limited=False)
    assert demands(timeline, Workshop(burner_kw={"hold": 9.0})) is not None


def test_where_the_clock_is_not_known_no_segment_is_named() -> None:
    """A first segment of unknown length: how long after the start, but not in what."""
    workshop = Workshop(burner_kw={"hold": 30.0}, bottle=FULL_9_KG)
    cold = judged(workshop, heat(hold_s=36_000.0, limited=False))["gas, withdrawal"]
    assert "after the start, with " in cold.finding


def test_gas_of_which_nobody_says_what_it_holds_is_not_silently_taken_for_pure() -> None:
    """It is said; and where a fifth of butane would make it fall short, it is to be looked at."""
    plenty = judged(Workshop(burner_kw={"*": 5.0}, bottle=FULL_9_KG))["gas, withdrawal"]
    assert plenty.verdict is Verdict.FINE
    assert "reckoned for pure propane, and butane in it would make it fall short sooner" in plenty.finding
    close = judged(Workshop(burner_kw={"*": 15.0}, bottle=FULL_9_KG), heat(hold_s=8400.0))["gas, withdrawal"]
    assert close.verdict is Verdict.LOOK_AGAIN
    assert "with a fifth of butane in it, it falls short" in close.finding
    pure = judged(Workshop(burner_kw={"*": 15.0}, bottle=replace(FULL_9_KG, butane_share=0.0)), heat(hold_s=8400.0))
    assert "butane" not in pure["gas, withdrawal"].finding
    mixed = judged(Workshop(burner_kw={"*": 15.0}, bottle=replace(FULL_9_KG, butane_share=0.4)), heat(hold_s=8400.0))
    assert mixed["gas, withdrawal"].verdict is Verdict.WILL_NOT_WORK
    assert "with 40% of butane in it" in mixed["gas, withdrawal"].finding


def test_a_bottle_brought_in_from_the_frost_is_reckoned_from_there() -> None:
    """At -30 °C it is short at once."""
    frozen = Workshop(burner_kw={"up": 5.0}, bottle=replace(FULL_9_KG, liquid_c=-30.0))
    assert judged(frozen)["gas, withdrawal"].figures["short_at_s"] == 0.0


def test_nothing_is_said_of_gas_to_who_has_none() -> None:
    """An electric furnace."""
    assert judge_gas(heat(), Workshop(gas=False)) == []
