"""Makes recorded cases of simulated heats: for each explanation one, and one for each confusion that once was.

    python tests/make_case.py            name the cases that can be made
    python tests/make_case.py CASE …     make them anew, or all with `--all`; then look at what they say and accept it

Each is a piece of one simulated heat of the tuning stream, cut to what matters. The data are invented.
"""

import argparse
import gzip
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace

from benchmarks.furnaces.scenarios import Stream, simulated_heat
from benchmarks.furnaces.story import Row, SimulatedHeat
from rampwarden.core.model import Command, CommandName, Reading
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.records.record_lines import FORMAT, End, Header, Line, encode_line
from replay_cases import CASES


@dataclass(frozen=True)
class Piece:
    """From where to where a heat is cut, s beside what happens in it; at most one reading each `every_s`."""

    row: Row
    simulator: str
    seed: int
    from_s: float
    to_s: float
    guards: str
    every_s: float = 1.0
    noise: str | None = None
    drop_marks: bool = False


MADE: dict[str, Piece] = {
    "flame-lost-in-a-climb": Piece(
        Row.FLAME_OUT_CLIMB,
        "two-mass",
        1,
        -500,
        500,
        "a flame lost in a climb is told within two minutes, as that alone",
    ),
    "two-bottles": Piece(
        Row.BOTTLE_CHANGE,
        "two-mass",
        2,
        -500,
        400,
        "two bottles: 75 s without a flame while one is changed are told as a flame out",
    ),
    "bottle-freezes": Piece(
        Row.FREEZING, "two-mass", 0, -600, 900, "a bottle that freezes in a climb: gas, or turned down", every_s=2.0
    ),
    "gas-sags-in-a-soak": Piece(
        Row.GAS_SAG, "layered", 1, -500, 1300, "gas that sags in a soak is told before its band is left", every_s=2.0
    ),
    "lid-two-minutes": Piece(
        Row.LID_120_SOAK,
        "two-mass",
        1,
        -400,
        500,
        "a lid of two minutes: said at once, and the probe's way back rings nothing",
    ),
    "cold-charge": Piece(Row.CHARGE, "layered", 0, -400, 500, "cold metal: first a lid or the probe, then the charge"),
    "probe-moved": Piece(Row.MOVED_SOAK, "two-mass", 2, -400, 500, "a probe that was moved: lid or probe"),
    "probe-in-the-flame": Piece(Row.IN_FLAME, "layered", 1, -400, 600, "a flame that touches the probe"),
    "melting-aluminium": Piece(
        Row.PLATEAU, "two-mass", 0, -600, 600, "a climb that stands at a metal's point: it melts"
    ),
    "reading-hangs": Piece(
        Row.STUCK, "two-mass", 1, -400, 400, "a reading that hangs is stuck, and nothing is said of the heat"
    ),
    "arrival-on-a-warm-pot": Piece(
        Row.ARRIVAL,
        "two-mass",
        2,
        -420,
        700,
        "arrival: the probe hangs in the air while the pot is carried, and comes back to it",
    ),
    "fast-climb-ends": Piece(
        Row.SOUND, "two-mass", 6, -400, 300, "the end of a climb of 95 °C a minute is no lid and no cold metal"
    ),
    "burner-cycles": Piece(
        Row.BURNER_CYCLING, "two-mass", 0, 0, 1200, "a burner that cycles is no flame that goes out"
    ),
    "oven-trips": Piece(
        Row.OVEN_OFF,
        "two-mass",
        7,
        -900,
        900,
        "an oven that trips at 153 °C in its ramp: the heat is off, and told as the pair it may be",
        every_s=2.0,
    ),
    "heat-left-on": Piece(Row.LEFT_ON, "two-mass", 1, -400, 1400, "the soak is over and the heat left on", every_s=2.0),
    "interference-bursts": Piece(
        Row.INTERFERENCE, "two-mass", 1, -400, 900, "bursts of interference are told as such and ring no ramp alarm"
    ),
}
"""By the case's name."""


def made_lines(piece: Piece, heat: SimulatedHeat) -> Iterator[Line]:
    """Give the piece's inputs, from time zero on."""
    begins_s = max(0.0, moment_s(heat) + piece.from_s)
    ends_s = moment_s(heat) + piece.to_s
    marks = [] if piece.drop_marks else [(at_s, name) for at_s, name in heat.marks if begins_s < at_s < ends_s]
    last_s = -1e9
    for time_s, temp_c in zip(heat.time_s.tolist(), heat.temp_c.tolist(), strict=True):
        if not begins_s <= time_s <= ends_s or time_s - last_s < piece.every_s - 0.2:
            continue
        while marks and marks[0][0] <= time_s:
            mark_s, name = marks.pop(0)
            yield Command(round(mark_s - begins_s, 2), CommandName.MARK, text=name)
        last_s = time_s
        yield Reading(round(time_s - begins_s, 2), temp_c=round(temp_c, 2))
    yield End(round(last_s - begins_s, 2), "stopped")


def moment_s(heat: SimulatedHeat) -> float:
    """Give when it happens: where nothing does, when the climb comes to its soak."""
    if heat.truth.began_s is not None:
        return heat.truth.began_s
    soak = heat.schedule.segments[-2]
    return next(float(at) for at, temp_c in zip(heat.time_s, heat.true_c, strict=True) if temp_c >= soak.lowest_c)


def schedule_text(schedule: Schedule, title: str) -> str:
    """Give a schedule as its file."""
    lines = [f'title = "{title}"', 'basis = "invented for the replay cases; the data come from a simulated furnace"']
    for segment in schedule.segments:
        lines += ["", "[[segment]]", f'name = "{segment.name}"', f'kind = "{segment.kind.value}"', *_fields(segment)]
    return "\n".join(lines) + "\n"


def _fields(segment: Segment) -> Iterator[str]:
    if segment.kind is SegmentKind.SOAK:
        low_c, high_c = segment.band_c
        yield f'at = "{segment.at_c:.0f} C"'
        yield f'band = ["{low_c:+.0f} C", "{high_c:+.0f} C"]'
        yield f'hold = "{segment.hold_s / 60.0:.0f} min"'
    elif segment.to_c is not None:
        yield f'to = "{segment.to_c:.0f} C"'
    for rate in segment.max_rates:
        yield f'max_rate = "{rate.climb_c:g} C / {rate.window_s / 60.0:g} min"'
    if segment.within_s is not None:
        yield f'within = "{segment.within_s / 60.0:.0f} min"'
    if segment.arrive_above_c is not None:
        yield f'arrive_above = "{segment.arrive_above_c:.0f} C"'


def make(name: str) -> None:
    """Write the case's record and schedule; its expectation is accepted by hand."""
    piece = MADE[name]
    heat = simulated_heat(piece.simulator, piece.row, piece.seed, Stream.TUNING, piece.noise)
    segments = tuple(
        replace(each, hold_s=max(each.hold_s, 60.0)) if each.hold_s else each for each in heat.schedule.segments
    )
    folder = CASES / name
    folder.mkdir(exist_ok=True)
    title = piece.guards[0].upper() + piece.guards[1:]
    (folder / "schedule.toml").write_text(
        schedule_text(replace(heat.schedule, segments=segments), title), encoding="utf-8"
    )
    note = f"Guards: {piece.guards}. Made by: python tests/make_case.py {name}"
    header = Header(
        format=FORMAT, started="2026-01-01T09:00:00Z", id=name, title=title, note=note, software="rampwarden"
    )
    with gzip.GzipFile(folder / "heat.jsonl.gz", "wb", mtime=0) as file:
        for number, line in enumerate((header, *made_lines(piece, heat))):
            file.write(encode_line(line, number))


def main() -> int:
    """Make what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("cases", nargs="*", metavar="CASE")
    parser.add_argument("--all", action="store_true")
    wanted = parser.parse_args()
    for name in MADE if wanted.all else wanted.cases:
        if name not in MADE:
            print(f"no case {name!r} is made here", file=sys.stderr)
            return 2
        make(name)
    if not wanted.all and not wanted.cases:
        print("\n".join(f"{name:<28} {piece.guards}" for name, piece in MADE.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
