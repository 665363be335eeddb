"""The board's side: the vectors, the encoder in C and the documents agree with what the watch reads."""

import itertools
import random
import re
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest
from tests.sources.pty_board import frame_line

from rampwarden.assembly.board_speech import board_source
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.instrument.board_clock import BoardClock, Dating, SequenceCounter
from rampwarden.core.instrument.framing import AdcScaling, Column, ColumnDecoder, ColumnFormat, Frame, FrameDecoder
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.core.model import Fault, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.formats import line_decoder
from rampwarden.settings import BoardSection
from rampwarden.sources.asking import TextAsker

ROOT = Path(__file__).resolve().parents[1]
NOTES = ROOT / "firmware_notes"
VECTORS = [line for line in (NOTES / "test_vectors.txt").read_text().splitlines() if line and not line.startswith("#")]
GOOD = [line.split(" ")[1:] for line in VECTORS if line.startswith("good ")]
BAD = [line.removeprefix("bad ") for line in VECTORS if line.startswith("bad ")]
FAULTS = (Fault.OPEN, Fault.SHORT_GROUND, Fault.SHORT_SUPPLY, Fault.CONVERTER, Fault.JUNCTION)

# Reads numbers from standard input and writes frames to standard output, the way a board's loop would.
MAIN = """
#include <inttypes.h>
#include <stdio.h>
#include "tc_frame.h"

int main(void)
{
    char line[TC_FRAME_SIZE];
    struct tc_frame frame;
    unsigned channel, seq, flags;

    while (scanf("%u %u %" SCNu32 " %" SCNd32 " %" SCNd32 " %x", &channel, &seq, &frame.ms, &frame.emf_nv,
                 &frame.junction_mc, &flags) == 6) {
        frame.channel = (uint8_t)channel;
        frame.seq = (uint16_t)seq;
        frame.flags = (uint8_t)flags;
        if (fwrite(line, 1, tc_frame_write(line, &frame), stdout) == 0)
            return 1;
    }
    return 0;
}
"""


@pytest.fixture(scope="module")
def encoder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The reference encoder, compiled without a warning."""
    compiler = shutil.which("cc")
    if compiler is None:
        pytest.skip("no C compiler (cc) on this machine")
    folder = tmp_path_factory.mktemp("encoder")
    (folder / "main.c").write_text(MAIN)
    program = folder / "encoder"
    strict = ["-std=c99", "-pedantic", "-Wall", "-Wextra", "-Wconversion", "-Wsign-conversion", "-Werror"]
    reference = NOTES / "reference"
    sources = [str(folder / "main.c"), str(reference / "tc_frame.c")]
    subprocess.run([compiler, *strict, f"-I{reference}", "-o", str(program), *sources], check=True)
    return program


def encoded(encoder: Path, rows: list[list[str]]) -> bytes:
    """Give what the encoder writes for rows of numbers."""
    numbers = "\n".join(" ".join(row) for row in rows).encode()
    return subprocess.run([str(encoder)], input=numbers, capture_output=True, check=True).stdout


def test_there_are_enough_vectors_and_every_flag_is_among_them() -> None:
    """At least thirty, good and bad, each fault alone."""
    assert len(GOOD) + len(BAD) >= 30
    assert {int(row[5], 16) for row in GOOD} >= {1, 2, 4, 8, 16}


@pytest.mark.parametrize("row", GOOD, ids=lambda row: row[6])
def test_a_good_vector_is_read_as_its_numbers(row: list[str]) -> None:
    """Whole numbers of the line become µV and °C."""
    channel, seq, ms, emf_nv, junction_mc, flags, line = row
    decoder = FrameDecoder()
    (frame,) = decoder.feed(line.encode() + b"\r\n")
    faults = tuple(fault for bit, fault in enumerate(FAULTS) if int(flags, 16) >> bit & 1)
    if int(flags, 16) > 0x1F and Fault.CONVERTER not in faults:
        faults += (Fault.CONVERTER,)
    emf_uv, junction_c = int(emf_nv) / 1000, int(junction_mc) / 1000
    assert frame == Frame(int(channel), int(seq), int(ms), emf_uv, None, junction_c, faults)
    assert decoder.garbled == 0


@pytest.mark.parametrize("line", BAD)
def test_a_bad_vector_is_refused_and_counted(line: str) -> None:
    """Once."""
    decoder = FrameDecoder()
    assert decoder.feed(line.encode() + b"\r\n") == []
    assert decoder.garbled == 1


@pytest.mark.parametrize("start", ["0 65534 65534000", "0 100 4294966000"])
def test_the_wraps_among_the_vectors_are_neither_losses_nor_restarts(start: str) -> None:
    """Four frames a second apart go across the end of each counter."""
    index = next(index for index, row in enumerate(GOOD) if " ".join(row[:3]) == start)
    frames = FrameDecoder().feed(b"".join(row[6].encode() + b"\n" for row in GOOD[index : index + 4]))
    clock, counter = BoardClock(Dating.BOARD), SequenceCounter()
    times = []
    for frame in frames:
        times.append(clock.date(frame.board_ms, 0.0))
        assert not clock.restarted
        assert counter.lost(frame.seq or 0) == 0
    assert [after - before for before, after in itertools.pairwise(times)] == pytest.approx([1.0, 1.0, 1.0])


def test_the_encoder_writes_the_vectors(encoder: Path) -> None:
    """To the byte, line ends included."""
    assert encoded(encoder, [row[:6] for row in GOOD]) == b"".join(row[6].encode() + b"\r\n" for row in GOOD)


def test_the_watch_reads_whatever_the_encoder_writes(encoder: Path) -> None:
    """Two thousand frames of any numbers; what does not fit the format comes as its bound with a flag."""
    seeded = random.Random(20_260_101)
    rows = [
        [
            str(seeded.randrange(100)),
            str(seeded.randrange(2**16)),
            str(seeded.randrange(2**32)),
            str(seeded.choice([seeded.randrange(-(2**31), 2**31), seeded.randrange(-6_000_000, 60_000_000)])),
            str(seeded.choice([seeded.randrange(-(2**31), 2**31), seeded.randrange(-40_000, 125_000)])),
            f"{seeded.randrange(32):X}",
        ]
        for _ in range(2000)
    ]
    frames = FrameDecoder().feed(encoded(encoder, rows))
    assert len(frames) == 2000
    for (channel, seq, ms, emf_nv, junction_mc, _), frame in zip(rows, frames, strict=True):
        assert [frame.channel, frame.seq, frame.board_ms] == [int(channel), int(seq), int(ms)]
        if abs(int(emf_nv)) <= 300_000_000:
            assert frame.emf_uv == int(emf_nv) / 1000
        else:
            assert Fault.CONVERTER in frame.faults
        if -100_000 <= int(junction_mc) <= 200_000:
            assert frame.junction_c == int(junction_mc) / 1000
        else:
            assert Fault.JUNCTION in frame.faults


@pytest.mark.parametrize("document", sorted(path.name for path in NOTES.glob("*.md")))
def test_every_frame_shown_in_a_document_is_a_vector(document: str) -> None:
    """A reader copies what is shown."""
    shown = re.findall(r"\$TC,\d+,\d+,[^*`\s]+\*[0-9A-F]+", (NOTES / document).read_text())
    assert set(shown) <= {row[6] for row in GOOD} | set(BAD)


def test_the_specification_shows_every_vector_by_its_name() -> None:
    """At least thirty, good and bad."""
    text = (NOTES / "frame_format.md").read_text()
    assert all(f"| `{line}` |" in text for line in [*(row[6] for row in GOOD), *BAD])


def test_udev_itself_finds_nothing_wrong_with_the_rules(tmp_path: Path) -> None:
    """With the '#' taken away from both; `udevadm verify` came with systemd 254."""
    rules = (ROOT / "config" / "udev" / "60-rampwarden-board.rules").read_text()
    file = tmp_path / "60-rampwarden-board.rules"
    file.write_text(rules.replace("#SUBSYSTEM", "SUBSYSTEM"), encoding="utf-8")
    if (
        shutil.which("udevadm") is None
        or subprocess.run(["udevadm", "verify", "--help"], check=False, capture_output=True).returncode
    ):
        pytest.skip("no udevadm verify on this machine")
    done = subprocess.run(
        ["udevadm", "verify", "--resolve-names=never", str(file)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_udev_rules_are_of_the_form_that_udev_reads() -> None:
    """Each one once its '#' is removed: match and assignment pairs, group, and the lasting name."""
    rules = (ROOT / "config" / "udev" / "60-rampwarden-board.rules").read_text().splitlines()
    offered = [line.removeprefix("#") for line in rules if line.startswith("#SUBSYSTEM")]
    assert len(offered) == 2
    for rule in offered:
        assert re.fullmatch(r'[A-Z]+(\{\w+\})?(==|\+=|=)"[^"]+"(, [A-Z]+(\{\w+\})?(==|\+=|=)"[^"]+")+', rule)
        assert 'GROUP="rampwarden", MODE="0660", SYMLINK+="rampwarden-board"' in rule
    assert all(line.startswith("#") for line in rules if line)


# "Calculate the Thermocouple's Measurement Junction Temperature", instrumentationtools.com: type K, terminals at 84 °F.
WORKED_MV_F = ((2.55, 195), (6.21, 357), (10.93, 567), (18.83, 904))
WORKED_JUNCTION_C = (84.0 - 32.0) / 1.8


@pytest.mark.parametrize(("emf_mv", "shown_f"), WORKED_MV_F)
def test_a_published_worked_example_goes_from_counts_to_the_shown_temperature(emf_mv: float, shown_f: int) -> None:
    """As frames in nV and as counts of 16 bits at 2.048 V behind a gain of 32, through decoder and monitor."""
    scaling = AdcScaling(reference_v=2.048, bits=16, gain=32.0)
    counts = round(emf_mv * 1e3 / scaling.emf_uv(1))
    columns = ColumnDecoder(ColumnFormat((Column.ADC, Column.JUNCTION_C), scaling=scaling))
    (from_counts,) = columns.feed(f"{counts},{WORKED_JUNCTION_C:.3f}\n".encode())
    line = frame_line(1, 1000, round(emf_mv * 1e6), round(WORKED_JUNCTION_C * 1e3))
    (from_frame,) = FrameDecoder().feed(line)
    for frame in (from_counts, from_frame):
        monitor = Monitor(
            parse_schedule({"title": "T", "segment": [{"name": "up", "kind": "ramp", "to": "1000 C"}]}, "t")
        )
        monitor.feed(Reading(0.0, frame.emf_uv, frame.junction_c))
        temp_c = monitor.status().temp_c
        assert temp_c is not None
        # Half of the last digit that was printed.
        assert temp_c * 1.8 + 32.0 == pytest.approx(shown_f, abs=0.5)


def test_figures_marked_calc_are_what_the_reference_function_gives() -> None:
    """Those of faults.md, to the digit that is printed."""
    text = (NOTES / "faults.md").read_text()
    couple = thermocouple("K")
    emf_uv, temp_c = couple.emf_uv, couple.temp_c

    def twice_crossed(tip_c: float) -> float:
        return tip_c - temp_c(emf_uv(tip_c) - 2 * emf_uv(65.6) + 2 * emf_uv(21.1))

    def straight_line(tip_c: float) -> float:
        return 25.0 + (emf_uv(tip_c) - emf_uv(25.0)) / 41.276 - tip_c

    def read_as_k(letter: str) -> float:
        other = thermocouple(letter)
        return temp_c(other.emf_uv(800.0) - other.emf_uv(25.0), 25.0)

    low_c = 900.0 - temp_c(emf_uv(900.0) - emf_uv(60.0) + emf_uv(25.0))
    stated = (
        f"tip 60 °C shows {temp_c(emf_uv(25.0) - emf_uv(60.0), 25.0):.0f}, "
        f"200 °C shows {temp_c(emf_uv(25.0) - emf_uv(200.0), 25.0):.0f}",
        f"{twice_crossed(400.0):.0f} °C low at 400, {twice_crossed(1000.0):.0f} at 1000",
        f"head 60, board 25: {low_c:.0f} °C low at 900",
        f"{straight_line(300):.1f} °C at 300, {straight_line(600):+.1f} at 600, {straight_line(800):+.1f} at 800, "
        f"{straight_line(1200):.0f} at 1200, {straight_line(1300):.1f} at 1300",
        f"N read as K shows {read_as_k('N'):.0f} at 800 °C, J {read_as_k('J'):.0f}, S {read_as_k('S'):.0f}",
        f"{0.001 * (emf_uv(900.0) - emf_uv(25.0)) / couple.sensitivity_uv_per_c(900.0):.1f} °C at 900 °C",
    )
    assert [each for each in stated if each not in text] == []


def rows_of_other_boards() -> list[tuple[str, tuple[str, ...], str]]:
    """Give each kind of board in the table, what it sends or answers, and the settings it is told to have."""
    text = (NOTES / "other_boards.md").read_text(encoding="utf-8")
    table = text.partition("| kind of board |")[2].partition("\n\n")[0]
    rows = []
    for line in table.splitlines()[2:]:
        kind, sends, settings = (cell.strip() for cell in line.strip("|").split(" | "))
        keys = [f"{key}\n" for key in re.findall(r"`(\w+ = [^`]+)`", settings)]
        rows.append((kind, tuple(re.findall(r"`([^`]+)`", sends)), "".join(keys)))
    return rows


@pytest.mark.parametrize(("kind", "sends", "keys"), rows_of_other_boards(), ids=lambda value: str(value)[:24])
def test_each_kind_of_board_is_read_by_the_settings_it_is_given(kind: str, sends: tuple[str, ...], keys: str) -> None:
    """What the table says that it sends, under what the table says to set."""
    section = tomllib.loads(keys)
    if "adc" in section.get("columns", ()):
        section |= {"reference_v": 2.048, "bits": 15, "gain": 40.0}  # "set these", says the table
    if section.keys() == {"open_values"}:
        section |= {"format": "json", "values": ["tc"]}
    if "ask" in section and "format" not in section:
        section |= {"format": "columns"} if "columns" in section else {"format": "labels", "values": ["T1"]}
    source = board_source(BoardSection(port="/dev/x", **section))
    if source.registers is not None:
        assert source.registers.count <= 125
        return
    if source.asking is None:
        decoder = line_decoder(source.columns)
        frames = [frame for line in sends for frame in decoder.feed(line.encode() + b"\n")]
        assert (bool(frames), decoder.garbled) == (True, 0), kind
        return
    asker = TextAsker(source.asking, source.columns, 1.0)
    frames = []
    for time_s in range(len(source.asking.questions)):
        assert asker.question(float(time_s)) != b""
        frames += asker.feed(sends[-1].encode() + b"\n")
    assert (bool(frames), asker.garbled) == (True, 0), kind


def test_the_table_of_other_boards_is_found() -> None:
    """So that the test above can fail."""
    assert len(rows_of_other_boards()) >= 15
