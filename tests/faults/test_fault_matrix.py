"""Every fault once, into the real service: nothing that was sent, said or soaked may be lost.

`make faults` runs each of them in a heat of its own and at several moments; here they share three heats at sixty times
the pace, which are watched at the same time.
"""

import re
import tempfile
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

import pytest
from tests.faults.fault_bench import PATIENCE_S, Bench
from tests.faults.fault_list import Case, Verdict, everything_at_once, heard_at_broker, run_case
from tests.outputs.mqtt.broker import MOSQUITTO, wait_until

from small_disk import failing_disk, may_make_disks, may_mount

pytestmark = pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this computer: see .ci/need-packages")
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
        case = Case("disk full and freed", (), speed=60.0, interval_s=2.0, until_s=400.0, disk="256k")
        assert run_case(case, Path(folder) / "full").found == []


@pytest.mark.root
@pytest.mark.skipif(not may_make_disks(), reason="needs root: mounts a disk made from a file")
def test_a_disk_that_hangs_holds_back_nothing_and_has_lost_nothing() -> None:
    """The kernel lets every write and sync wait; meanwhile the alarm is heard at the broker, and the heat goes on."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder, failing_disk(Path(folder) / "disk") as disk:
        bench = Bench(Path(folder) / "heat", 60.0, 2.0, records=disk.folder)
        try:
            bench.begin()
            bench.pass_heat(20.0)
            with disk.hanging():
                heard_at_broker(bench, "record-failing")
                bench.pass_heat(240.0)
            wait_until(lambda: bench.has_notice("record-written"), "the record is written again", PATIENCE_S)
            assert bench.finish(bench.board.heat_s + 60.0) == []
        finally:
            bench.close()


@pytest.mark.root
@pytest.mark.skipif(not may_make_disks(), reason="needs root: mounts a disk made from a file")
def test_a_disk_that_turns_read_only_for_good_ends_the_record_and_not_the_watch(tmp_path: Path) -> None:
    """The alarm is heard at the broker, the heat goes on as its twin, and the end says exactly what is lost."""
    log = tmp_path / "log"
    with (
        tempfile.TemporaryDirectory(prefix="rw") as folder,
        failing_disk(Path(folder) / "disk") as disk,
        log.open("wb") as output,
    ):
        bench = Bench(Path(folder) / "heat", 60.0, 2.0, stdout=output.fileno(), records=disk.folder)
        try:
            bench.begin()
            bench.pass_heat(20.0)
            disk.fail()
            heard_at_broker(bench, "record-failing")
            assert bench.finish_unrecorded(bench.board.heat_s + 60.0) == []
            kept = len(bench.lines())
        finally:
            bench.close()
    said = re.search(r"Read-only file system; (\d+) lines of the record are lost", log.read_text(encoding="utf-8"))
    assert said is not None
    # Nothing stands twice: what was numbered is either there or counted as lost. The clean end is one more line.
    assert kept + int(said[1]) > len(bench.board.sent)
