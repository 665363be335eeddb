"""A whole rehearsed heat over a broker: the watch's own events, all of them, from the record to a subscriber."""

import contextlib
import os
import subprocess
import sys
from pathlib import Path

import pytest
from tests.outputs.mqtt.broker import MOSQUITTO, Broker, Consumer, wait_until

from rampwarden.core.model import Event
from rampwarden.records.record_reader import RecordReader

_SCHEDULE = """
[[segment]]
name = "up"
kind = "ramp"
to = "120 C"
max_rate = "100 C / 15 min"

[[segment]]
name = "down"
kind = "cool"
to = "60 C"
"""


@pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this computer: see .ci/need-packages")
def test_every_event_of_a_heat_reaches_a_subscriber_and_the_end_is_said(tmp_path: Path) -> None:
    """Source, monitor, record, outbox, broker: one rehearsal through all of it, faster than life."""
    broker = Broker(tmp_path)
    broker.start()
    (tmp_path / "short.toml").write_text(_SCHEDULE)
    record = tmp_path / "heats" / "heat.jsonl"
    command = [sys.executable, "-c", "from rampwarden.cli import run; run()", "rehearse", "short.toml"]
    environment = {**os.environ, "RAMPWARDEN_MQTT__BROKER": str(broker.address), "RAMPWARDEN_MQTT__DEVICE": "rehearsed"}
    with contextlib.ExitStack() as ending:
        ending.callback(broker.kill)
        consumer = Consumer(broker.port, "rehearsal/#")
        furnaces = Consumer(broker.port, "homie/#")
        ending.callback(furnaces.close)
        ending.callback(consumer.close)
        it = subprocess.run(
            [*command, "--tell-broker", "--speed", "2000", "--record", str(record)],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            check=False,
            timeout=120,
        )
        assert it.returncode in (0, 1), it.stderr
        consumer.wait_for("rehearsal/5/rehearsed/$state", "disconnected")
        events = [line for line in RecordReader(record) if isinstance(line, Event)]
        wait_until(lambda: len(set(consumer.keys())) == len(events), f"{len(events)} events")
        assert furnaces.keys() == []
        assert "as rehearsed-rehearsal" in broker.log.read_text()
    assert len(events) >= 4
    assert '"name":"rehearsal"' in "".join(consumer.texts("$description"))
    started = consumer.texts("heat/event")[0]
    assert '"event":"heat-started"' in started
    assert '"late":false' in started
    assert consumer.texts("heat/event")[-1].count('"heat-complete"') == 1


@pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this computer: see .ci/need-packages")
def test_a_rehearsal_says_nothing_to_the_broker_of_the_settings_unless_it_is_told_to(tmp_path: Path) -> None:
    """Somebody who tries things out beside a running furnace must not ring in another house."""
    broker = Broker(tmp_path)
    broker.start()
    (tmp_path / "short.toml").write_text(_SCHEDULE)
    command = [sys.executable, "-c", "from rampwarden.cli import run; run()", "rehearse", "short.toml"]
    environment = {**os.environ, "RAMPWARDEN_MQTT__BROKER": str(broker.address)}
    with contextlib.ExitStack() as ending:
        ending.callback(broker.kill)
        consumer = Consumer(broker.port, "#")
        ending.callback(consumer.close)
        it = subprocess.run(
            [*command, "--speed", "5000"], cwd=tmp_path, env=environment, capture_output=True, check=False, timeout=120
        )
        assert it.returncode in (0, 1), it.stderr
        log = broker.log.read_text()
    assert consumer.keys() == []
    assert "furnace-1" not in log
