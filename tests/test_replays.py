"""Every recorded case gives exactly the events it must, however its inputs are cut into calls."""

import pytest

import replay_cases

CASES = replay_cases.case_names()


def test_there_are_at_least_ten_cases() -> None:
    """A suite that lost its cases must not pass as a clean one."""
    assert len(CASES) >= 10


@pytest.mark.parametrize("name", CASES)
def test_case_gives_exactly_its_expected_events(name: str) -> None:
    """Whole and re-recorded: the same bytes."""
    header, lines = replay_cases.case_lines(name)
    expected = replay_cases.expected_events(name)
    assert header.note, "a case says in its header what it guards and how it was made"
    assert replay_cases.replay(name, header, lines) == expected
    assert replay_cases.replay_re_recorded(name, header, lines) == expected


@pytest.mark.long
@pytest.mark.parametrize("name", CASES)
def test_case_gives_the_same_events_however_its_inputs_are_cut(name: str) -> None:
    """In quarter-second steps and cut at random."""
    header, lines = replay_cases.case_lines(name)
    expected = replay_cases.expected_events(name)
    assert replay_cases.replay_in_steps(name, header, lines) == expected
    assert replay_cases.replay_cut_at_random(name, header, lines, seed=len(name)) == expected


def test_all_expectations_together_stay_small_enough_to_be_read() -> None:
    """Expectations nobody can read are renewed blindly."""
    size = sum((replay_cases.CASES / name / replay_cases.EXPECTED).stat().st_size for name in CASES)
    assert size < 1_000_000


def test_the_account_of_a_case_is_printed_in_the_products_own_sentences() -> None:
    """Every claim, then the one thing it is ready for, then why."""
    lines = replay_cases.account_lines("overshoot")
    assert lines[4].startswith("Overheated (from 1 h 56 min")
    assert "=> Inspect it first: look at it and tap it cold before the next heat." in lines
    assert any(line.startswith("why: Overheated") for line in lines)
