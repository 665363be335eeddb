"""A power cut may end the record at any byte of its last 4 KiB; the heat goes on from there."""

from pathlib import Path

import pytest
from tests.faults.cut_records import LAST_BYTES, find_fault, write_heat

pytestmark = pytest.mark.long


@pytest.mark.parametrize("filled_with", [b"", b"\0"])
def test_cut_anywhere_the_heat_goes_on_and_its_record_tells_one_story(tmp_path: Path, filled_with: bytes) -> None:
    """Every 23rd byte, which meets each part of a line; `make faults` takes every byte."""
    whole = write_heat(tmp_path / "heat.jsonl")
    assert len(whole) > LAST_BYTES + 500
    found = {cut: find_fault(tmp_path / "cut.jsonl", whole, cut, filled_with) for cut in range(1, LAST_BYTES, 23)}
    assert {cut: fault for cut, fault in found.items() if fault} == {}
