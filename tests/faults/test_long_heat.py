"""A watch that runs for days holds no more at the end than at the beginning; a few hours of it here."""

import tempfile
from pathlib import Path

import pytest
from tests.faults.long_heat import watch_for
from tests.outputs.mqtt.broker import MOSQUITTO

pytestmark = pytest.mark.long


# From the first hour to the second the watch's own windows are filled; what leaks in a heat of days shows as more.
_MOST_GROWTH_KB = 4096
_MOST_KB = 80 * 1024


@pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this computer: see .ci/need-packages")
def test_two_hours_of_alarms_cost_no_memory_no_files_and_no_threads() -> None:
    """Seventy-two hours of the same are `make long-heat`."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        samples = list(watch_for(2.0, 0.25, Path(folder) / "heat"))
    steady = [sample for sample in samples if sample.hour > 0.75]
    assert len({sample.threads for sample in steady}) == 1, steady
    # One more for the moment in which the broker's cursor is being written; what leaks is still open at the end.
    assert {sample.files for sample in steady} <= {steady[-1].files, steady[-1].files + 1}, steady
    assert steady[-1].files <= min(sample.files for sample in steady[:-1]), steady
    assert max(sample.resident_kb for sample in samples) < _MOST_KB
    assert steady[-1].resident_kb - steady[0].resident_kb < _MOST_GROWTH_KB
