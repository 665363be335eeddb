"""Records what the watchers of the first version say of simulated heats, to be set beside what came after them.

    python tests/benchmarks/watchers_record.py [--n 20]

Run once, before they were replaced; `watchers_said.json` is what it wrote. The reporting seeds 0 to n − 1 of each row.
"""

import argparse
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.furnaces.scenarios import SIMULATORS, Stream, simulated_heat
from benchmarks.furnaces.story import Row, Said, SimulatedHeat
from rampwarden.core.model import AlarmState, Command, CommandName, Event, EventName, Reading
from rampwarden.core.monitor import Monitor

WRITTEN = Path(__file__).with_name("watchers_said.json")
_ALARMS = {
    "flame-out": Said.FLAME_OUT,
    "heat-failing": Said.FADING,
    "sensor-noisy": Said.INTERFERENCE,
    "sensor-stuck": Said.STUCK,
    "not-heating": Said.HEAT_OFF,
    "not-cooling": Said.LEFT_ON,
    "sensor-lagging": Said.OTHER,
    "sensor-type-suspect": Said.OTHER,
    "sensor-reversed": Said.OTHER,
}
_TEXTS = {
    "lid was lifted": Said.LID,
    "lid is shut": Said.LID_SHUT,
    "cold metal": Said.CHARGE,
    "plateau": Said.PLATEAU,
    "melts": Said.PLATEAU,
    "melting": Said.PLATEAU,
    "freez": Said.PLATEAU,
}


def _said(event: Event) -> Said | None:
    if event.event is EventName.ALARM and event.state is AlarmState.UNACKNOWLEDGED:
        return _ALARMS.get(event.alarm or "")
    if event.event is EventName.OBSERVED:
        return next((said for part, said in _TEXTS.items() if part in event.text), None)
    return None


def heard(heat: SimulatedHeat) -> list[tuple[int, str]]:
    """Run one heat through the watch; gives what it said, and when."""
    monitor = Monitor(heat.schedule)
    told, marks = [], list(heat.marks)
    for time_s, temp_c in zip(heat.time_s.tolist(), heat.temp_c.tolist(), strict=True):
        while marks and marks[0][0] <= time_s:
            monitor.feed(Command(marks[0][0], CommandName.MARK, text=marks.pop(0)[1]))
        for event in monitor.feed(Reading(time_s, temp_c=temp_c)):
            said = _said(event)
            if said is not None:
                told.append((round(event.time_s), said.value))
    return told


def main() -> int:
    """Record."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--n", type=int, default=20, help="heats a row and simulator")
    count = parser.parse_args().n
    record: dict[str, dict[str, list[list[tuple[int, str]]]]] = {}
    for simulator in SIMULATORS:
        rows = record.setdefault(simulator, {})
        for row in Row:
            heats = (simulated_heat(simulator, row, seed, Stream.REPORTING) for seed in range(count))
            rows[row.value] = [heard(heat) for heat in heats]
            print(simulator, row.value, sum(map(len, rows[row.value])), flush=True)
    lines = [
        f'"{simulator}": {{\n' + ",\n".join(f'"{row}": {json.dumps(said)}' for row, said in rows.items()) + "\n}"
        for simulator, rows in record.items()
    ]
    WRITTEN.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
