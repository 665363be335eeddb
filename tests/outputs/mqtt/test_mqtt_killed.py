"""A furnace killed with SIGKILL at thirty moments, a broker frozen in between: nothing in a record may stay untold."""

import contextlib
import json
import os
import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.outputs.mqtt.broker import Broker, Consumer, wait_until
from tests.outputs.mqtt.killed_furnace import counted

from rampwarden.core.model import Event
from rampwarden.records.record_reader import RecordReader

pytestmark = pytest.mark.long


_ROOT = Path(__file__).resolve().parents[3]
_KILLS = 30
_SEED = 20260101


@contextlib.contextmanager
def process(what: str, place: Path, port: int, name: str) -> Iterator[subprocess.Popen[bytes]]:
    """Run one publisher until it is killed."""
    command = [sys.executable, "-m", "tests.outputs.mqtt.killed_furnace", what, str(place), str(port), name]
    environment = {**os.environ, "PYTHONPATH": f"{_ROOT}:{_ROOT / 'daemon'}"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=environment, cwd=_ROOT) as it:
        try:
            yield it
        finally:
            it.kill()


def burning(it: subprocess.Popen[bytes]) -> bool:
    """Wait until a publisher has begun; its log may come first."""
    return it.stdout is not None and any(line == b"burning\n" for line in it.stdout)


def keys_in_records(folder: Path) -> set[str]:
    """Give the key of every event that reached a record: what the furnace must not lose."""
    keys = set()
    for path in folder.glob("heat-*.jsonl"):
        reader = RecordReader(path)
        for text, line in zip(path.read_bytes().splitlines()[1:], reader, strict=False):
            if isinstance(line, Event):
                numbered = json.loads(text)
                keys.add(f"{reader.header.id}:{numbered['run']}:{numbered['seq']}")
    return keys


# Sixty lives of a publisher, each a start of Python: on a busy machine they take their time.
@pytest.mark.timeout(300)
def test_thirty_kills_lose_no_event_and_repeat_only_with_equal_keys(
    make_broker: Callable[..., Broker], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The record is the outbox: what was synced is delivered, by whichever life comes next."""
    chance = random.Random(_SEED)
    broker = make_broker("max_queued_messages 0\nmax_inflight_messages 0")
    folder, counter = tmp_path / "heats", tmp_path / "counter"
    folder.mkdir()
    plainly_taken = 0
    with contextlib.closing(Consumer(broker.port, "homie/#", "plain")) as consumer:
        for kill in range(_KILLS):
            with (
                process("furnace", folder, broker.port, f"heat-{kill}") as furnace,
                process("plain", counter, broker.port, str(kill)) as plain,
            ):
                assert burning(furnace)
                assert burning(plain)
                time.sleep(chance.uniform(0.05, 0.4))
                if kill % 2:
                    broker.freeze()
                    time.sleep(chance.uniform(0.1, 0.5))
                furnace.kill()
                plain.kill()
                furnace.wait()
                plain.wait()
                broker.thaw()
            plainly_taken += counted(counter)
        taken = keys_in_records(folder)
        # The broker reports a death by the dead one's will.
        consumer.wait_for("homie/5/furnace-1/$state", "lost")
        with process("furnace", folder, broker.port, "last") as last:
            assert burning(last)
            wait_until(lambda: taken <= set(consumer.keys()), "every event", 60.0)
        heard = Counter(consumer.keys())
        plain_heard = set(consumer.texts("plain"))
    texts = {}
    for each in consumer.heard:
        if "key" in each.user:
            # How a repetition may differ: it is history, and on the disk for certain.
            body = each.text.replace('"late":true', '"late":false').replace('"on_disk":false', '"on_disk":true')
            assert texts.setdefault(each.user["key"], body) == body
    repeated = sum(heard.values()) - len(heard)
    assert len(taken) > 20 * _KILLS
    assert set(heard) == taken
    # One window and one unwritten cursor a kill, and the window of the life before it.
    assert repeated <= 60 * _KILLS
    with capsys.disabled():
        print(
            f"\n{_KILLS} kills, every second with a frozen broker: "
            f"outbox {len(taken)} taken, 0 lost, {repeated} repeated; "
            f"plain QoS 1 {plainly_taken} taken, {plainly_taken - len(plain_heard)} lost"
        )
