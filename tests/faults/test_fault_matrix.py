"""Every fault once, into the real service: nothing that was sent, said or soaked may be lost.

`make faults` runs each of them in a heat of its own and at several moments; here they share three heats at sixty times
the pace, which are watched at the same time.
"""

import tempfile
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import pytest
from tests.faults.fault_list import Case, Verdict, everything_at_once, run_case
from tests.outputs.broker import MOSQUITTO

from small_disk import may_mount

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this computer: see .ci/need-mosquitto")
CASES = {case.name: case for case in everything_at_once()}


@pytest.fixture(scope="module")
def verdicts() -> Iterator[dict[str, Future[Verdict]]]:
    """Watch all the heats at the same time; each is mostly waiting."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        with ThreadPoolExecutor(len(CASES)) as workers:
            running = {
                name: workers.submit(run_case, case, Path(folder) / str(number))
                for number, (name, case) in enumerate(CASES.items())
            }
        yield running


@pytest.mark.parametrize("name", CASES)
def test_whatever_goes_wrong_the_watch_goes_on_and_loses_nothing(
    name: str, verdicts: dict[str, Future[Verdict]]
) -> None:
    """The watch runs, each reading is recorded, each event is heard in order, the heat stands where its twin stands."""
    assert verdicts[name].result().found == []


@pytest.mark.root
@pytest.mark.skipif(not may_mount(), reason="needs root: mounts a small disk")
def test_a_full_disk_that_is_freed_has_lost_nothing() -> None:
    """Lines wait in memory; the alarm is heard at the broker while the record cannot take it."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        case = Case("disk full and freed", (), speed=60.0, interval_s=2.0, until_s=240.0, disk="256k")
        assert run_case(case, Path(folder) / "full").found == []
