"""Every heat by other limits: one row each, the same wherever it was made, whatever befalls a worker or a record."""

import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest
from tests.mass_replay.short_heats import LAXER, OWN, short_heat
from tests.mass_replay.working import deadly
from tests.outputs.mqtt.broker import free_port, wait_until

from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.errors import ReplayClusterError
from rampwarden.mass_replay import (
    HeatAnswer,
    Moved,
    Otherwise,
    Raised,
    Task,
    answer,
    compared,
    run_in_processes,
    run_on_cluster,
)

pytestmark = pytest.mark.long


ROOT = Path(__file__).parents[2]
OTHERWISE = Otherwise(LAXER)


def nothing() -> None:
    """Note nothing."""


@pytest.fixture
def tasks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[Task]:
    """Give six heats, one of them no record."""
    # Workers find the tests' own work as they find the program.
    monkeypatch.syspath_prepend(ROOT)
    paths = [short_heat(tmp_path, number) for number in range(5)]
    (tmp_path / "h5.jsonl").write_text("no record\n", encoding="utf-8")
    return [Task(path.name, path=str(path)) for path in (*paths, tmp_path / "h5.jsonl")]


# Comparing


def test_alarms_are_paired_by_name_in_the_order_they_came() -> None:
    """A quarter of an hour apart they are two; within half a second they are the same."""
    before = [Raised("a", 100.0), Raised("a", 5000.0), Raised("b", 10.0), Raised("c", 50.0)]
    after = [Raised("a", 40.0), Raised("b", 10.4), Raised("c", 951.0), Raised("d", 1.0)]
    new, gone, moved = compared(before, after)
    assert new == (Raised("c", 951.0), Raised("d", 1.0))
    assert gone == (Raised("a", 5000.0), Raised("c", 50.0))
    assert moved == (Moved("a", 100.0, 40.0),)
    assert compared(before, before) == ((), (), ())


def test_a_heat_by_a_laxer_schedule_loses_its_alarms(tmp_path: Path) -> None:
    """And by its own nothing changes; both are said with how many there were."""
    task = Task("one", path=str(short_heat(tmp_path, 1)))
    laxer, same = answer(task, OTHERWISE), answer(task, Otherwise(OWN))
    assert laxer.before == same.before == same.after > 0
    assert laxer.after < laxer.before
    assert laxer.gone
    assert (same.new, same.gone, same.earlier, same.later) == ((), (), (), ())


def test_a_heat_by_other_settings_keeps_what_is_its_own(tmp_path: Path) -> None:
    """A longer delay makes an alarm later; one out of service is gone; the thermocouple stays the heat's."""
    task = Task("one", path=str(short_heat(tmp_path, 1)))
    slow = replace(CATALOGUE["ramp-high"], on_delay_s=60.0)
    slower = MonitorParameters(thermocouple_type="S", alarms={**CATALOGUE, "ramp-high": slow})
    later = answer(task, Otherwise(parameters=slower))
    assert "ramp-high" in {each.alarm for each in later.later}
    resting = answer(task, Otherwise(parameters=MonitorParameters(out_of_service=("ramp-high",))))
    assert {each.alarm for each in resting.gone} == {"ramp-high"}
    assert resting.trouble == later.trouble == ""


def test_a_record_that_cannot_be_read_costs_its_own_row(tasks: list[Task]) -> None:
    """From a file or carried along, it says the same."""
    here = [answer(task, OTHERWISE) for task in tasks]
    assert [bool(each.trouble) for each in here] == [False] * 5 + [True]
    carried = [answer(task.carried(), OTHERWISE) for task in tasks]
    assert carried[:5] == here[:5]
    assert carried[5].trouble
    assert "/tmp" not in carried[5].trouble


# Where the work is done


def test_several_processes_say_what_one_says(tasks: list[Task]) -> None:
    """In the order of the heats, each noted once. One that kills its workers costs its own row, and whoever was under
    way beside it is judged all the same.
    """
    count = 0

    def done() -> None:
        nonlocal count
        count += 1

    tasks[1] = Task("deadly", path=tasks[1].path)
    alone = run_in_processes(tasks, OTHERWISE, 1, done)
    alone[1] = HeatAnswer("deadly", trouble="its workers were killed; is there enough memory?")
    assert run_in_processes(tasks, OTHERWISE, 2, done, deadly) == alone
    assert count == 2 * len(tasks)


class Cluster:
    """A scheduler and two workers as processes of their own."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        self.address = f"tcp://127.0.0.1:{self.port}"
        self.environment = {
            **os.environ,
            "PYTHONPATH": f"{ROOT}:{ROOT / 'daemon'}:{ROOT / 'tests'}",
            "DEADLY_ONCE": str(folder / "killed"),
        }
        self._folder = folder
        self.processes = [
            self._start("dask_scheduler", "--host", "127.0.0.1", "--port", str(self.port), "--no-dashboard")
        ]
        for _ in range(2):
            nanny = ("--no-nanny", "--nthreads", "1", "--no-dashboard", "--memory-limit", "0")
            self.processes.append(self._start("dask_worker", self.address, *nanny))
        wait_until(lambda: self.log.count("Registered to:") >= 2, "two workers", 60.0)

    @property
    def log(self) -> str:
        return (self._folder / "cluster.log").read_text(encoding="utf-8")

    def _start(self, module: str, *arguments: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.{module}", *arguments]
        with (self._folder / "cluster.log").open("ab") as log:
            return subprocess.Popen(command, stdout=log, stderr=log, env=self.environment, cwd=self._folder)

    def close(self) -> None:
        for process in reversed(self.processes):
            process.kill()
            process.wait()


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    """Give a running cluster of this computer."""
    pytest.importorskip("distributed")
    with_all = Cluster(tmp_path)
    yield with_all
    with_all.close()


# In a process of its own: the cluster's library leaves threads behind that end with it.
ASKING = """
import sys
import msgspec
from tests.mass_replay.short_heats import LAXER
from tests.mass_replay.working import deadly_once
from rampwarden.mass_replay import Otherwise, Task, on_cluster, run_on_cluster
on_cluster._GONE_S = float(sys.argv[3])
tasks = msgspec.json.decode(sys.argv[2], type=list[Task])
answers = run_on_cluster(tasks, Otherwise(LAXER), sys.argv[1], lambda: print("done", flush=True), deadly_once)
print(msgspec.json.encode(answers).decode())
"""


def asking(cluster: Cluster, tasks: list[Task], gone_s: float = 60.0) -> subprocess.Popen[str]:
    """Ask the cluster; a scheduler counts as lost after `gone_s`, which on a busy computer must not come by itself."""
    command = [sys.executable, "-c", ASKING, cluster.address, msgspec.json.encode(tasks).decode(), str(gone_s)]
    return subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=cluster.environment
    )


def test_a_cluster_that_loses_a_worker_says_what_one_process_says(cluster: Cluster, tasks: list[Task]) -> None:
    """Killed by the heat it had, which the other worker takes up. Then the scheduler is lost too, in mid-run."""
    tasks = [*tasks[:2], Task("once", path=tasks[2].path), *tasks[3:5]]
    alone = run_in_processes(tasks, OTHERWISE, 1, nothing)
    *done, answers = asking(cluster, tasks).communicate(timeout=100)[0].splitlines()
    assert done == ["done"] * len(tasks)
    assert [process.poll() for process in cluster.processes].count(-9) == 1
    assert answers.encode() == msgspec.json.encode(alone)
    many = [Task(f"{number}", path=tasks[0].path) for number in range(24)]
    asked = asking(cluster, many, gone_s=1.0)
    assert asked.stdout is not None
    assert asked.stdout.readline() == "done\n"
    cluster.processes[0].kill()
    *done, last = asked.communicate(timeout=100)[0].splitlines()
    rows = msgspec.json.decode(last, type=list[HeatAnswer])
    assert len(done) == len(rows) - 1 == 23
    lost = [row for row in rows if "the cluster was lost before it came to this heat" in row.trouble]
    assert 0 < len(lost) < 24


def test_where_there_is_no_cluster_it_is_said_in_one_line() -> None:
    """Without a traceback and without waiting for ever."""
    pytest.importorskip("distributed")
    with pytest.raises(ReplayClusterError, match=r"nowhere: is no address of a cluster, such as tcp://server:8786"):
        run_on_cluster([Task("one")], OTHERWISE, "nowhere", nothing)
    with pytest.raises(ReplayClusterError, match="no cluster answers there"):
        run_on_cluster([Task("one")], OTHERWISE, f"tcp://127.0.0.1:{free_port()}", nothing)
