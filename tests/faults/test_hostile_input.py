"""Hostile bytes at every door, a second or two of them; `tests/benchmarks/fuzz.py` sends millions."""

from pathlib import Path

import pytest
from tests.faults.fuzzing import fuzz_commands, fuzz_framing, fuzz_records


@pytest.mark.parametrize("seed", [1, 2])
def test_spoilt_lines_make_no_frame_nobody_sent_and_cost_no_memory(seed: int) -> None:
    """Good lines between them are still read."""
    tally = fuzz_framing(100_000, seed)
    assert tally["frames"] > 500


def test_spoilt_records_are_replayed_or_refused_in_words(tmp_path: Path) -> None:
    """Nothing else may come of them, and no event that a record could not hold."""
    tally = fuzz_records(4000, 3, tmp_path)
    assert tally["events"] > 0
    assert tally["foreign"] > 0


def test_spoilt_requests_are_refused_in_words_or_are_commands() -> None:
    """What is taken is short and steers no terminal."""
    tally = fuzz_commands(10_000, 4)
    assert tally["refused"] > 0
    assert tally["taken"] > 0
