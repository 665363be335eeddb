"""Makes the recorded cases of the pot's own physics, from courses worked out here. The data are invented.

python tests/make_physics_cases.py           name the cases
python tests/make_physics_cases.py CASE …    make them anew; then look at what they say and accept it
"""

import gzip
import math
import random
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from msgspec.structs import replace

from courses import FLAME, noisy
from rampwarden.core.model import Command, CommandName, Fault, ProbeReading, Reading
from rampwarden.records.record_lines import FORMAT, End, Header, Line, encode_line
from replay_cases import CASES
from wet_pot import climbing_oven, wet_pot_c
from wet_pot import readings as read_by_a_board
from wet_wall import wet_wall

_BASIS = 'basis = "invented for the replay cases; the data are worked out"'


@dataclass(frozen=True)
class PhysicsCase:
    """What a case guards, the schedule's segments as its file has them, its inputs, and what its watch knew."""

    guards: str
    segments: str
    lines: Callable[[], Iterator[Line]]
    parameters: dict[str, object] = field(default_factory=dict)


def _lid_lifted() -> Iterator[Line]:
    """Cool at 3 °C/min from 880 °C; after 20 minutes the lid is lifted and 112 °C are lost within 90 s."""

    def temp_c(time_s: float) -> float:
        return 880.0 - 0.05 * time_s - 112.0 * min(max(time_s - 1200.0, 0.0), 90.0) / 90.0

    # A heat joins hot: the soak's last minutes first.
    for time_s, noisy_c in noisy(lambda time_s: temp_c(max(0.0, time_s - 120.0)), 2700.0, FLAME, lit_until_s=120.0):
        yield Reading(time_s, temp_c=round(noisy_c, 2))


def _bottle_runs_short() -> Iterator[Line]:
    """Climb at 15 °C/min and hold: 20 kW out of a bottle of 9 kg at 10 °C, weighed once, and changed in time."""
    marks = [(3600.0, "bottle weighs 15.1 kg"), (5400.0, "bottle changed")]
    for time_s, noisy_c in noisy(lambda time_s: min(20.0 + 0.25 * time_s, 900.0), 7200.0, FLAME):
        if time_s % 4.0:
            continue
        while marks and marks[0][0] <= time_s:
            yield Command(time_s, CommandName.MARK, text=marks.pop(0)[1])
        yield Reading(time_s, temp_c=round(noisy_c, 2))


def _water_leaves() -> Iterator[Line]:
    """A pot of 5 kg with 150 g of water in an oven that climbs at 90 °C/h; weighed before and after."""
    yield Command(0.5, CommandName.MARK, text="pot weighs 5.150 kg")
    for reading in read_by_a_board(wet_pot_c(150.0, climbing_oven(90.0), 9600)):
        yield replace(reading, time_s=reading.time_s + 1.0)
    yield Command(9600.0, CommandName.MARK, text="pot weighs 5.004 kg")


def _pairs(course: Iterable[tuple[float, float, float]], noise_c: float, seed: str) -> Iterator[Line]:
    """Read pot and chamber in turn: the followed probe, and half a second later the second one."""
    dice = random.Random(seed)
    for at_s, pot_c, chamber_c in course:
        yield Reading(at_s, temp_c=round(pot_c + dice.gauss(0.0, noise_c), 2))
        yield ProbeReading(at_s + 0.5, "chamber", temp_c=round(chamber_c + dice.gauss(0.0, noise_c), 2))


def _probe_slips() -> Iterator[Line]:
    """Climb at 15 °C/min with a hand's waves on it; the pot's probe slips by 60 °C at 40 min and is put back at 47."""

    def course() -> Iterator[tuple[float, float, float]]:
        pot_c, reads_less_c = 20.0, 0.0
        for second in range(3600):
            chamber_c = 100.0 + 0.25 * second + 10.0 * math.sin(second / 80.0)
            if second % 2 == 0:
                yield float(second), pot_c - reads_less_c, chamber_c
            pot_c += (chamber_c - pot_c) / 120.0
            # A probe takes on what it touches with the eight seconds of its own.
            reads_less_c += ((60.0 if 2400 < second < 2820 else 0.0) - reads_less_c) / 8.0

    yield from _pairs(course(), 0.4, "a probe slips")


def _probe_drifts() -> Iterator[Line]:
    """Climb at 30 °C/min and hold 1000 °C by a probe that reads ever less, 25 °C an hour: the chamber grows hotter."""

    def course() -> Iterator[tuple[float, float, float]]:
        pot_c, reads_less_c, ahead_c = 20.0, 0.0, 60.0
        for second in range(7200):
            reads_less_c = max(0.0, second - 2700) * 25.0 / 3600.0
            wanted_c = min(20.0 + 0.5 * second, 1000.0) + reads_less_c
            # No chamber leaps when the flame is turned down.
            ahead_c += ((60.0 if wanted_c < 1000.0 else 20.0) - ahead_c) / 60.0
            chamber_c = wanted_c + ahead_c + 4.0 * math.sin(second / 100.0)
            if second % 3 == 0:
                yield float(second), pot_c - reads_less_c, chamber_c
            pot_c += (chamber_c - 20.0 - pot_c) / 120.0

    yield from _pairs(course(), 0.5, "a probe drifts")


def _water_by_two_probes() -> Iterator[Line]:
    """A wall of 5 kg with 150 g of water in an oven at 90 °C/h, a probe on it and one beside it; weighed."""
    yield Command(0.5, CommandName.MARK, text="pot weighs 5.150 kg")
    course, _ = wet_wall(150.0, climbing_oven(90.0), 9600, every_s=4)
    for line in _pairs(course, 0.15, "water by two probes"):
        yield replace(line, time_s=line.time_s + 1.0)
    yield Command(9600.0, CommandName.MARK, text="pot weighs 5.001 kg")


def _chamber_stands_in() -> Iterator[Line]:
    """A pot that comes after its chamber in 150 s, up at 14 °C/min and held; its probe opens in the climb for 7 min.

    In the soak its plug falls out for good, and the chamber carries the heat to its end.
    """
    pot_c, pots = 300.0, []
    chambers = [min(300.0 + 0.233 * second, 900.0 + 25.0 * math.exp(-second / 4000.0)) for second in range(4800)]
    for chamber_c in chambers:
        pot_c += (chamber_c - pot_c) / 150.0
        pots.append(pot_c)
    # A chamber's own flicker is not its pot's.
    pot = noisy(lambda time_s: pots[int(time_s)], 4800.0, FLAME, seed=2)
    chamber = noisy(lambda time_s: chambers[int(time_s)], 4800.0, FLAME, seed=3)
    for (time_s, own_c), (_, other_c) in zip(pot, chamber, strict=True):
        if 1500.0 <= time_s < 1920.0:
            yield Reading(time_s, faults=(Fault.OPEN,))
        elif time_s < 3300.0:
            yield Reading(time_s, temp_c=round(own_c, 2))
        yield ProbeReading(time_s, "chamber", temp_c=round(other_c, 2))


CHAMBER = {"name": "chamber", "place": "chamber"}
FIRECLAY_12_MM = {
    "thickness_m": 0.012,
    "diffusivity_m2_per_s": 5.11e-7,
    "conductivity_w_per_m_k": 1.05,
    "stands_k": 72.73,
}

DRYING = """
[[segment]]
name = "oven drying"
kind = "ramp"
to = "200 C"
max_rate = "25 C / 15 min"

[[segment]]
name = "dry soak"
kind = "soak"
at = "200 C"
band = ["-15 C", "+15 C"]
hold = "20 min"
"""

MADE: dict[str, PhysicsCase] = {
    "lid-lifted-while-cooling": PhysicsCase(
        "a lid lifted while a fireclay pot cools is a caution for its wall, a minute before cooling-fast",
        """
[[segment]]
name = "working temperature"
kind = "soak"
at = "880 C"
band = ["-25 C", "+25 C"]
hold = "1 min"

[[segment]]
name = "closed furnace"
kind = "cool"
to = "300 C"
max_rate = "120 C / 10 min"
""",
        _lid_lifted,
        {"place": "pot", "wall": FIRECLAY_12_MM},
    ),
    "water-leaves-a-wet-pot": PhysicsCase(
        "water that leaves a wet pot of 5 kg is told, and its end, and why the climb after it is fast; weights beside",
        DRYING,
        _water_leaves,
        {"place": "pot", "standing": {"dry": False}},
    ),
    "chamber-stands-in": PhysicsCase(
        "a pot's probe that opens is stood in for by the chamber's, with its doubt, and followed again without a ramp",
        """
[[segment]]
name = "to working temperature"
kind = "ramp"
to = "900 C"
max_rate = "20 C / 1 min"

[[segment]]
name = "hold"
kind = "soak"
at = "900 C"
band = ["-30 C", "+30 C"]
hold = "20 min"
""",
        _chamber_stands_in,
        {"place": "pot", "probes": [CHAMBER]},
    ),
    "two-probes-one-slips": PhysicsCase(
        "a pot's probe that slips while the chamber's goes its way is named within two minutes, and put back is over",
        """
[[segment]]
name = "to working temperature"
kind = "ramp"
to = "1100 C"
max_rate = "60 C / 2 min"
""",
        _probe_slips,
        {"place": "pot", "probes": [CHAMBER]},
    ),
    "two-probes-one-drifts": PhysicsCase(
        "a pot's probe that reads ever less while it is held is suspected, by a gap that grows as in no furnace",
        """
[[segment]]
name = "to working temperature"
kind = "ramp"
to = "1000 C"
max_rate = "80 C / 2 min"

[[segment]]
name = "hold"
kind = "soak"
at = "1000 C"
band = ["-25 C", "+25 C"]
hold = "90 min"
""",
        _probe_drifts,
        {"place": "pot", "probes": [CHAMBER]},
    ),
    "two-probes-weigh-the-water": PhysicsCase(
        "grams of water by the heat balance of pot and oven, and dry when none leaves any more; weights beside",
        DRYING,
        _water_by_two_probes,
        {
            "place": "pot",
            "standing": {"dry": False},
            "probes": [CHAMBER],
            "pot_j_per_k": 4500.0,
            "dry_heat": {"exchange_w_per_k": 2.85, "radiated": 0.39, "zero_g": 0.1},
        },
    ),
    "bottle-runs-short": PhysicsCase(
        "a bottle that goes cold by its own boiling is told half an hour ahead; its weight and its change are taken in",
        """
[[segment]]
name = "to working temperature"
kind = "ramp"
to = "900 C"
max_rate = "20 C / 1 min"

[[segment]]
name = "hold"
kind = "soak"
at = "900 C"
band = ["-25 C", "+25 C"]
hold = "90 min"
""",
        _bottle_runs_short,
        {
            "gas": {
                "bottle": {"full_kg": 9.0, "content_kg": 8.8, "steel_kg": 8.0, "diameter_m": 0.31, "butane_share": 0.0},
                "ambient_c": 10.0,
                "liquid_c": 10.0,
                "needed_bar": 1.0,
                "burner_kw": {"*": 20.0},
                "tare_kg": 8.0,
                "weighed": True,
            }
        },
    ),
}
"""By the case's name."""


def make(name: str) -> None:
    """Write the case's record and schedule; its expectation is accepted by hand."""
    case = MADE[name]
    folder = CASES / name
    folder.mkdir(exist_ok=True)
    title = case.guards[0].upper() + case.guards[1:]
    (folder / "schedule.toml").write_text(f'title = "{title}"\n{_BASIS}\n{case.segments}', encoding="utf-8")
    header = Header(
        format=FORMAT,
        started="2026-01-01T09:00:00Z",
        id=name,
        title=title,
        note=f"Guards: {case.guards}. Made by: python tests/make_physics_cases.py {name}",
        software="rampwarden",
        parameters=case.parameters,
    )
    lines = list(case.lines())
    with gzip.GzipFile(folder / "heat.jsonl.gz", "wb", mtime=0) as file:
        for number, line in enumerate((header, *lines, End(lines[-1].time_s, "stopped"))):
            file.write(encode_line(line, number))


def main() -> int:
    """Make what is asked for."""
    for name in sys.argv[1:]:
        if name not in MADE:
            print(f"no case {name!r} is made here", file=sys.stderr)
            return 2
        make(name)
    if len(sys.argv) == 1:
        print("\n".join(f"{name:<28} {case.guards}" for name, case in MADE.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
