"""What is said of a board by its lines: each mistake by its name, and of a sound board nothing."""

import math
import random
from collections.abc import Callable

import pytest
from tests.sources.pty_board import frame_line

from rampwarden.bench.finding import BoardFinding, Sureness, needs_a_look
from rampwarden.bench.known_beforehand import Asked
from rampwarden.bench.lines import HeardLine, cut_lines, decode_lines
from rampwarden.bench.listening_report import judge_board
from rampwarden.core.instrument.framing import Column, ColumnFormat
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.plan.judgement import Verdict

TYPE_K = thermocouple("K")
JUNCTION_C = 23.0


def noisy(seed: int, count: int, emf_uv: float) -> list[float]:
    """EMFs with 3 µV of noise in steps of 1 µV."""
    chance = random.Random(seed)
    return [round(emf_uv + chance.gauss(0.0, 3.0)) for _ in range(count)]


def framed(
    emfs_uv: list[float],
    junction_c: float = JUNCTION_C,
    interval_s: float = 0.1,
    clock: float = 1.0,
    scale: float = 1.0,
    junction_scale: float = 1.0,
) -> list[HeardLine]:
    """Frames as they would arrive, a millisecond late; `clock` is how fast the board's own runs."""
    lines = []
    for seq, emf_uv in enumerate(emfs_uv):
        at_s = seq * interval_s
        junction_mc = round(1000 * junction_scale * (junction_c + 0.0625 * (seq // 40 % 2)))
        text = frame_line(seq, round(1000 * at_s * clock), round(emf_uv * 1000 * scale), junction_mc)
        lines.append(HeardLine(at_s + 0.001, text.strip()))
    return lines


def judged(lines: list[HeardLine], tip_c: float | None = None, **known: object) -> dict[str, BoardFinding]:
    """Judge lines; gives what needs a look, by its part."""
    findings = judge_board(lines, Asked(TYPE_K, tip_c=tip_c, **known))  # type: ignore[arg-type]
    return {finding.part: finding for finding in needs_a_look(findings)}


def emf_at(tip_c: float) -> float:
    """The EMF of a tip with the terminals at 23 °C."""
    return TYPE_K.emf_uv(tip_c) - TYPE_K.emf_uv(JUNCTION_C)


def test_a_sound_board_is_called_healthy() -> None:
    """Cold, and with the tip in boiling water."""
    for seed in range(20):
        assert judged(framed(noisy(seed, 300, 0.0))) == {}
        assert judged(framed(noisy(seed, 300, emf_at(100.0))), tip_c=100.0) == {}


@pytest.mark.parametrize(
    ("factor", "said"),
    [
        (0.5, "1/2"),
        (2.0, "2"),
        (1000.0 / 1000.0 * 5.0 / 3.3, "1.52"),
        (0.125, "1/8"),
        (10.0, "10"),
    ],
)
def test_a_usual_wrong_factor_is_named(factor: float, said: str) -> None:
    """With a tip whose temperature is known."""
    found = judged(framed(noisy(1, 300, factor * emf_at(100.0))), tip_c=100.0)
    assert f"by a factor of {said}" in found["scaling"].words
    assert found["scaling"].sureness is Sureness.VERY_LIKELY


def test_an_unusual_factor_is_told_as_such() -> None:
    """1.15 is no forgotten bit and no other reference."""
    found = judged(framed(noisy(1, 300, 1.15 * emf_at(100.0))), tip_c=100.0)
    assert "none of the usual" in found["scaling"].words


def test_what_a_probe_may_be_off_by_is_no_wrong_gain() -> None:
    """Two degrees of a new probe of class 2."""
    assert judged(framed(noisy(1, 300, emf_at(102.0))), tip_c=100.0) == {}


def test_reversed_leads_are_known_with_a_known_tip_and_suspected_without() -> None:
    """A tip at 100 °C shows -60 °C."""
    lines = framed(noisy(1, 300, -emf_at(100.0)))
    known = judged(lines, tip_c=100.0)["polarity"]
    assert "reversed" in known.words
    guessed = judged(lines)["polarity"]
    assert "the tip is at 100 °C" in guessed.words
    assert guessed.sureness is Sureness.VERY_LIKELY


def test_reversed_leads_beyond_the_range_are_known_too() -> None:
    """A tip at 400 °C, turned round, is nothing that type K gives."""
    assert (
        "with the leads swapped it would be 400 °C" in judged(framed(noisy(1, 100, -emf_at(400.0))))["polarity"].words
    )


def test_microvolts_sent_for_nanovolts_are_known_by_their_impossible_quiet() -> None:
    """No resistor scatters by three thousandths of a microvolt."""
    found = judged(framed([emf * 1.0 for emf in noisy(1, 300, 300.0)], scale=0.001))
    assert "too small by a factor, likely 1000" in found["scaling"].words


def test_a_board_that_compensates_itself_is_suspected() -> None:
    """Its EMF is that of the terminals against 0 °C, and the tip seems twice as warm as the board."""
    lines = framed(noisy(1, 300, TYPE_K.emf_uv(JUNCTION_C)))
    assert judged(lines)["scaling"].sureness is Sureness.POSSIBLE
    assert judged(lines, tip_c=23.0)["scaling"].sureness is Sureness.VERY_LIKELY


@pytest.mark.parametrize(
    ("junction_c", "words"),
    [
        (85.0, "before its first conversion"),
        (0.025, "where thousandths are meant"),
        (77.0, "25 °C"),
        (-25.0, "-25.0 °C"),
    ],
)
def test_a_junction_that_cannot_be_is_told(junction_c: float, words: str) -> None:
    """Power-on value, wrong unit, °F, frost."""
    lines = [
        HeardLine(line.arrived_s, frame_line(seq, 100 * seq, 3000 * (seq % 3), round(1000 * junction_c)).strip())
        for seq, line in enumerate(framed(noisy(1, 100, 0.0)))
    ]
    findings = [finding for finding in judge_board(lines, Asked(TYPE_K)) if finding.verdict is not Verdict.FINE]
    assert any(finding.part == "junction" and words in finding.words for finding in findings)


def test_exchanged_numbers_of_a_frame_are_known_cold_and_hot() -> None:
    """Cold: the junction jumps like a voltage. Hot: a right checksum over an impossible junction."""
    cold = [
        HeardLine(0.1 * seq, frame_line(seq, 100 * seq, 23_000 + 62 * (seq % 2), int(1000 * emf)).strip())
        for seq, emf in enumerate(noisy(1, 200, 0.0))
    ]
    assert "exchanged" in judged(cold)["scaling"].words
    hot = [
        HeardLine(0.1 * seq, frame_line(seq, 100 * seq, 23_000, int(1000 * emf)).strip())
        for seq, emf in enumerate(noisy(1, 200, 3000.0))
    ]
    assert "exchanged" in judged(hot)["scaling"].words


@pytest.mark.parametrize(
    ("line", "columns"),
    [
        (lambda n, emf: f"{emf:.2f},{23 + 0.0625 * (n // 50 % 2):.4f}", ("emf_uv", "junction_c")),
        (lambda n, emf: f"{23 + 0.0625 * (n // 50 % 2):.4f};{emf:.2f}", ("junction_c", "emf_uv")),
        (lambda n, emf: f"{n} {100 * n} {emf / 1000:.4f} {23.25:.2f}", ("skip", "ms", "emf_mv", "junction_c")),
        (lambda n, emf: f"{2000 + int(emf)} {23.25 + 0.25 * (n // 50 % 2):.2f}", ("adc", "junction_c")),
        (lambda n, emf: f"{24 + emf / 40:.2f},23.00", ("temp_c", "junction_c")),
    ],
)
def test_columns_are_told_by_how_they_behave(line: Callable[[int, float], str], columns: tuple[str, ...]) -> None:
    """Whatever their order, and said as a guess."""
    lines = [HeardLine(0.1 * n, line(n, emf).encode()) for n, emf in enumerate(noisy(2, 200, 0.0))]
    found = judged(lines)["format"]
    assert f"columns = [{', '.join(repr(column) for column in columns)}]".replace("'", '"') in found.do
    assert found.sureness is not Sureness.CERTAIN


def test_columns_set_the_wrong_way_round_are_told() -> None:
    """By the one that behaves like a terminal sensor."""
    lines = [HeardLine(0.1 * n, f"23.00,{emf:.2f}".encode()) for n, emf in enumerate(noisy(2, 200, 0.0))]
    as_set = ColumnFormat((Column.EMF_UV, Column.JUNCTION_C))
    assert "exchanged" in judged(lines, framed=False, columns=as_set)["format"].words
    right = ColumnFormat((Column.JUNCTION_C, Column.EMF_UV))
    assert judged(lines, framed=False, columns=right) == {}


def test_where_nothing_is_set_the_lines_are_read_by_the_columns_they_look_like() -> None:
    """A greeting line apart, each is a reading, though nobody said which column is what."""
    lines = [HeardLine(0.1 * n, f"{emf:.2f},23.00".encode()) for n, emf in enumerate(noisy(2, 200, 0.0))]
    [found] = [each for each in judge_board(lines, Asked(TYPE_K)) if each.part == "format"]
    assert (found.figures["read"], found.figures["unreadable"]) == (200, 0)


def test_lost_frames_and_failed_checksums_are_counted() -> None:
    """Each by its own cause."""
    lines = framed(noisy(1, 300, 0.0))
    del lines[100:110]
    lines[50] = HeardLine(lines[50].arrived_s, lines[50].text.replace(b",0,", b",1,", 1))
    lines[60] = HeardLine(lines[60].arrived_s, lines[60].text[:20])
    found = judged(lines)
    assert found["lost frames"].figures["lost"] == 12
    assert found["line"].figures == {"crc_failed": 1, "unreadable": 1}


def test_a_board_clock_that_counts_something_else_is_told() -> None:
    """Ticks of 1.024 ms run 2.4 % slow; half a percent of a resonator is followed and said."""
    assert "2% too slow" in judged(framed(noisy(1, 300, 0.0), clock=1 / 1.024))["timing"].words
    findings = judge_board(framed(noisy(1, 300, 0.0), clock=1.005), Asked(TYPE_K))
    (timing,) = [finding for finding in findings if finding.part == "timing"]
    assert timing.verdict is Verdict.FINE
    assert timing.figures["clock_off_ppm"] == pytest.approx(5000, abs=300)


def test_mains_pickup_is_named_by_its_alias() -> None:
    """50.13 Hz met ten times a second."""
    emfs = [
        emf + 40 * math.sqrt(2) * math.sin(2 * math.pi * 50.13 * 0.1 * n) for n, emf in enumerate(noisy(1, 300, 0.0))
    ]
    found = judged(framed(emfs))["mains pickup"]
    assert "at 0.13 Hz, where 50 or 60 Hz mains show" in found.words
    assert found.figures["line_uv"] == pytest.approx(40, rel=0.1)


def test_flags_are_said_and_their_numbers_not_judged() -> None:
    """An open input."""
    lines = [HeardLine(0.1 * n, frame_line(n, 100 * n, 75_000_000, 25_000, 1).strip()) for n in range(50)]
    assert set(judged(lines)) == {"flags"}


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ([], "nothing comes"),
        ([b"\x80\xf3\x8f\xfe\x1c"] * 20, "no text"),
        ([b"T = hello"] * 20, "neither frames nor plain numbers"),
    ],
)
def test_a_line_of_nothing_we_know_is_said_to_be_that(texts: list[bytes], words: str) -> None:
    """With what to try."""
    (finding,) = judge_board([HeardLine(0.1 * n, text) for n, text in enumerate(texts)], Asked(TYPE_K))
    assert words in finding.words
    assert finding.do
    assert finding.verdict is Verdict.WILL_NOT_WORK


def test_lines_are_dated_by_their_end_and_the_first_half_line_is_dropped() -> None:
    """However the bytes were cut."""
    lines = cut_lines([(1.0, b"lf\r\nfirst\r\nsec"), (2.0, b"ond\r\n\r\n"), (3.0, b"third")])
    assert lines == [HeardLine(1.0, b"first\r"), HeardLine(2.0, b"second\r")]


def test_a_stream_without_a_newline_keeps_no_memory() -> None:
    """A megabyte of it is no line."""
    assert cut_lines([(0.0, b"x" * 65_536)] * 16) == []


def test_frames_of_other_channels_are_told_of() -> None:
    """And what to set."""
    lines = [HeardLine(0.1 * n, frame_line(n, 100 * n, channel=3).strip()) for n in range(20)]
    assert "none of channel 0 (seen: 3)" in judged(lines)["format"].words
    assert len(decode_lines(lines, None, 3).frames) == 20
