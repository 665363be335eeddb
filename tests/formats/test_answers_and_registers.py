"""Answers of instruments and registers of a bus: what their numbers mean, and what is refused in words."""

import struct

import pytest

from rampwarden.core.instrument import Column, ColumnFormat, Frame
from rampwarden.core.model import Fault
from rampwarden.errors import SettingsError
from rampwarden.formats import AnswerReader, NamedFormat, Naming, QuestionRound, RegisterMap, Unit, Word

TWO = ColumnFormat((Column.TEMP_C, Column.TEMP_C, Column.JUNCTION_C))


def test_one_answer_for_all_columns_or_one_for_each() -> None:
    """The same frames either way, numbers in any of the standard's forms (IEEE 488.2, 8.7)."""
    wanted = [Frame(0, temp_c=23.9, junction_c=22.0), Frame(1, temp_c=1150.0, junction_c=22.0)]
    assert AnswerReader(TWO, 1).read([b"+2.39000000E+01, 1150, 22.0"]) == wanted
    assert AnswerReader(TWO, 3).read([b"23.9", b"+1.15E+03", b"2.2E1"]) == wanted


def test_an_answer_that_did_not_come_costs_what_needs_it() -> None:
    """A probe costs itself; the junction is needed by all."""
    reader = AnswerReader(TWO, 3)
    assert reader.read([None, b"1150", b"22"]) == [Frame(1, temp_c=1150.0, junction_c=22.0)]
    assert reader.read([b"23.9", b"1150", None]) == []


def test_what_stands_for_no_number_is_a_fault_of_its_channel() -> None:
    """SCPI-99 volume 1, 7.2; on the junction it is the junction's."""
    reader = AnswerReader(TWO, 1)
    assert reader.read([b"9.9E37,9.91E37,22"]) == [Frame(0, faults=(Fault.OPEN,)), Frame(1, faults=(Fault.CONVERTER,))]
    assert reader.read([b"23.9,open,22"]) == [
        Frame(0, temp_c=23.9, junction_c=22.0),
        Frame(1, faults=(Fault.OPEN,)),
    ]
    assert reader.read([b"23.9,1150,9.91E37"])[0].faults == (Fault.JUNCTION,)


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (b"23.9,22", "2 values in an answer that should have 3"),
        (b"23.9,1150,warm", "'warm' is no number"),
        (b"1e30,1e30,22", "1000000000000000019884624838656 is outside what its column may hold"),
    ],
)
def test_an_answer_that_cannot_be_read_says_why(answer: bytes, words: str) -> None:
    """And gives nothing that could be believed."""
    reader = AnswerReader(TWO, 1)
    assert (reader.read([answer]), reader.words) == ([], words)


def test_questions_and_columns_must_fit() -> None:
    """One for all, or one for each; JSON takes one."""
    with pytest.raises(SettingsError, match="2 questions for 3 columns"):
        AnswerReader(TWO, 2)
    with pytest.raises(SettingsError, match="one question"):
        AnswerReader(NamedFormat(Naming.JSON, ("tc",)), 2)


@pytest.mark.parametrize("question", ["", "a\nb", "é", "x" * 121])
def test_a_question_is_a_line_of_printable_letters(question: str) -> None:
    """A newline in it would be two questions."""
    with pytest.raises(SettingsError, match="printable ASCII letters"):
        QuestionRound((question,))


@pytest.mark.parametrize(
    ("word", "low_first", "value"),
    [
        (Word.INT16, False, -5.0),
        (Word.UINT16, False, 65_000.0),
        (Word.INT32, False, -70_000.0),
        (Word.UINT32, True, 4_000_000_000.0),
        (Word.FLOAT32, True, 1150.25),
    ],
)
def test_every_form_of_a_word_in_either_order(word: Word, low_first: bool, value: float) -> None:
    """Packed by struct, not by ours."""
    forms = {Word.INT16: ">h", Word.UINT16: ">H", Word.INT32: ">i", Word.UINT32: ">I", Word.FLOAT32: ">f"}
    packed = struct.pack(forms[word], value if word is Word.FLOAT32 else int(value))
    counts = list(struct.unpack(f">{len(packed) // 2}H", packed))
    if low_first:
        counts.reverse()
    scale = 0.01 if abs(value) < 1e4 else 1e-7
    registers = RegisterMap((7,), word=word, low_word_first=low_first, scale=scale)
    (frame,), words = registers.frames(counts)
    assert (frame.temp_c, words) == (pytest.approx(value * scale), "")


def test_counts_that_stand_for_an_open_input_and_nonsense_cost_their_channel() -> None:
    """The others are read."""
    registers = RegisterMap((0, 1, 2), scale=0.1, unit=Unit.F, open_values=(-32_768.0,))
    frames, words = registers.frames([752, 0x8000, 2102])
    assert [frame.temp_c for frame in frames] == [pytest.approx(24.0), None, pytest.approx(99.0)]
    assert frames[1].faults == (Fault.OPEN,)
    assert words == ""
    frames, words = RegisterMap((3,)).frames([9999])
    assert (frames, words) == ([], "register 3 is 9999 C, which no thermocouple measures")


def test_a_float_that_is_none_is_a_fault() -> None:
    """What a module puts there when its converter failed."""
    frames, _ = RegisterMap((0,), word=Word.FLOAT32).frames([0x7FC0, 0x0000])
    assert frames == [Frame(0, faults=(Fault.CONVERTER,))]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"registers": ()}, "name the first register"),
        ({"registers": (0, 125)}, "at most 125"),
        ({"registers": (0, 1), "word": Word.INT32}, "1 belongs to two values"),
        ({"registers": (65_535,), "word": Word.FLOAT32}, "outside 0 to 65535"),
        ({"registers": (0,), "unit": Unit.MV}, "needs junction_registers"),
        ({"registers": (0, 1, 2), "junction_registers": (5, 6)}, "2 for 3 values"),
    ],
)
def test_registers_that_make_no_sense_are_refused_with_the_reason(arguments: dict, said: str) -> None:
    """Before the heat, not during it."""
    with pytest.raises(SettingsError, match=said):
        RegisterMap(**arguments)
