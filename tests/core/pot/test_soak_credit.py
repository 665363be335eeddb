"""The soak's credit: what counts, what is not confirmed, what is taken back."""

from random import Random

import pytest

from rampwarden.core.pot import Belief, CreditChange, CreditEvent, SoakCredit

_MOVES, _STILL, _DOUBTED = Belief.BELIEVED, Belief.UNCONFIRMED, Belief.DOUBTED


def _run(
    credit: SoakCredit, from_s: int, to_s: int, belief: Belief, since_s: float = 0.0, *, in_band: bool = True
) -> list[CreditEvent]:
    events = [credit.feed(float(time_s), belief, since_s, in_band=in_band) for time_s in range(from_s, to_s + 1)]
    return [event for event in events if event is not None]


def test_time_between_two_readings_in_the_band_counts_and_a_gap_does_not() -> None:
    credit = SoakCredit(15.0)
    _run(credit, 0, 100, _MOVES)
    assert credit.credited_s == 100.0
    credit.feed(116.0, _MOVES, 0.0, in_band=True)
    assert credit.credited_s == 100.0
    _run(credit, 117, 120, _MOVES, in_band=False)
    _run(credit, 121, 131, _MOVES)
    assert credit.credited_s == 110.0


def test_a_stillness_turns_what_it_covers_into_unconfirmed_credit_which_still_advances_the_schedule() -> None:
    credit = SoakCredit(15.0)
    _run(credit, 0, 100, _MOVES)
    events = _run(credit, 101, 200, _STILL, 40.0)
    assert events == [CreditEvent(CreditChange.UNCONFIRMED, 60.0, 40.0)]
    assert (credit.credited_s, credit.unconfirmed_s, credit.soaked_s) == (40.0, 160.0, 200.0)


def test_a_move_after_a_touch_of_the_dial_confirms_the_stillness_from_its_beginning() -> None:
    credit = SoakCredit(15.0)
    _run(credit, 0, 40, _MOVES)
    _run(credit, 41, 200, _STILL, 40.0)
    credit.touched(150.0)
    assert _run(credit, 201, 210, _MOVES) == [CreditEvent(CreditChange.CONFIRMED, 160.0, 40.0)]
    assert (credit.credited_s, credit.unconfirmed_s) == (210.0, 0.0)


@pytest.mark.parametrize(
    ("touched_s", "why"),
    [(None, "nobody touched it"), (20.0, "touched before it stood still"), (45.0, "touched too long before it moved")],
)
def test_a_move_that_answers_no_touch_confirms_nothing(touched_s: float | None, why: str) -> None:
    credit = SoakCredit(15.0)
    _run(credit, 0, 40, _MOVES)
    _run(credit, 41, 45, _STILL, 40.0)
    if touched_s is not None:
        credit.touched(touched_s)
    _run(credit, 46, 900, _STILL, 40.0)
    assert _run(credit, 901, 910, _MOVES) == [], why
    assert credit.unconfirmed_s == 860.0


def test_a_touch_alone_confirms_nothing() -> None:
    credit = SoakCredit(15.0)
    _run(credit, 0, 200, _STILL, 0.0)
    credit.touched(150.0)
    assert _run(credit, 201, 300, _STILL, 0.0) == []
    assert credit.credited_s == 0.0


def test_a_touch_answers_for_the_stillness_it_was_made_in_and_for_no_earlier_one() -> None:
    credit = SoakCredit(15.0)
    _run(credit, 0, 100, _STILL, 0.0)
    _run(credit, 101, 200, _STILL, 100.0)
    credit.touched(150.0)
    _run(credit, 201, 300, _STILL, 200.0)
    assert (credit.credited_s, credit.unconfirmed_s) == (100.0, 200.0)


def test_a_doubt_credits_nothing_and_takes_back_to_its_beginning_what_was_given() -> None:
    credit = SoakCredit(15.0)
    _run(credit, 0, 100, _MOVES)
    _run(credit, 101, 300, _STILL, 95.0)
    events = _run(credit, 301, 400, _DOUBTED, 90.0)
    assert events == [CreditEvent(CreditChange.WITHDRAWN, 210.0, 90.0)]
    assert (credit.credited_s, credit.unconfirmed_s, credit.withdrawn_s) == (90.0, 0.0, 210.0)
    _run(credit, 401, 410, _MOVES)
    assert credit.soaked_s == 100.0


def test_a_restarted_soak_begins_at_nothing() -> None:
    credit = SoakCredit(15.0)
    _run(credit, 0, 100, _MOVES)
    credit.restart()
    assert credit.soaked_s == 0.0
    _run(credit, 101, 111, _MOVES)
    assert credit.soaked_s == 10.0


def test_credit_is_never_more_than_a_clock_that_believes_everything_and_its_parts_add_up() -> None:
    for number in range(300):
        random = Random(f"credit {number}")
        credit, clock = SoakCredit(15.0), SoakCredit(15.0)
        time_s, since_s, belief = 0.0, 0.0, _MOVES
        for _ in range(200):
            time_s += random.choice([1.0, 1.0, 5.0, 14.0, 20.0])
            in_band = random.random() < 0.9
            if random.random() < 0.1:
                belief, since_s = random.choice([_MOVES, _STILL, _DOUBTED]), time_s - random.uniform(0.0, 60.0)
            if random.random() < 0.05:
                credit.touched(time_s)
            credit.feed(time_s, belief, since_s, in_band=in_band)
            clock.feed(time_s, _MOVES, 0.0, in_band=in_band)
            assert credit.credited_s >= -1e-6
            assert credit.unconfirmed_s >= -1e-6
            assert credit.soaked_s + credit.withdrawn_s <= clock.soaked_s + 1e-6


def test_a_soak_of_a_week_is_kept_in_bounded_memory_and_can_still_be_taken_back() -> None:
    credit = SoakCredit(15.0)
    seconds = 7 * 24 * 3600
    for number in range(seconds // 15 + 1):
        credit.feed(15.0 * number, _MOVES, 0.0, in_band=True)
    assert credit.credited_s == seconds
    credit.feed(seconds + 15.0, _DOUBTED, 3600.0, in_band=True)
    assert credit.credited_s == pytest.approx(3600.0)
