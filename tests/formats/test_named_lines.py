"""Labelled text and JSON lines: what is read, what is refused in words, and that nothing breaks out."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rampwarden.core.instrument import Frame, LineDecoder
from rampwarden.core.model import Fault
from rampwarden.errors import SettingsError
from rampwarden.formats import NamedFormat, Naming, Unit, keys_in, labels_in, line_decoder


def labels(*values: str, **how: object) -> LineDecoder:
    """Give a decoder of labelled text that is past its first line."""
    return _decoder(NamedFormat(Naming.LABELS, values, **how))  # type: ignore[arg-type]


def keys(*values: str, **how: object) -> LineDecoder:
    """Give a decoder of JSON lines that is past its first line."""
    return _decoder(NamedFormat(Naming.JSON, values, **how))  # type: ignore[arg-type]


def _decoder(form: NamedFormat) -> LineDecoder:
    return line_decoder(form)


def read(decoder: LineDecoder, line: bytes) -> list[tuple[int, float | None, float | None, tuple[Fault, ...]]]:
    """Give channel, temperature, junction and faults of each frame of a line, rounded."""
    return [
        (
            frame.channel,
            None if frame.temp_c is None else round(frame.temp_c, 3),
            None if frame.junction_c is None else round(frame.junction_c, 3),
            frame.faults,
        )
        for frame in decoder.feed(line + b"\r\n")
    ]


@pytest.mark.parametrize(
    ("line", "temp_c"),
    [
        (b"hot 24.25 degC", 24.25),
        (b"hot: 24.25", 24.25),
        (b"hot=24.25C", 24.25),
        (b"hot = 24.25 *C", 24.25),
        (b"hot,24.25", 24.25),
        ("hot 24.25 °C".encode(), 24.25),
        (b"hot 24.25 \xb0C", 24.25),
        (b"hot 75.65 F", 24.25),
        (b"hot 75.65 degF", 24.25),
        (b"hot 297.4 K", 24.25),
        (b"hot 297.4 kelvin", 24.25),
        (b"[12] cold 22.0 hot -3.5 C", -3.5),
        (b"hot 1.1500e+03 C", 1150.0),
        (b"hot 24.25 fine and dandy", 24.25),
        (b"hot 75.65 F 22.3 C", 24.25),
    ],
)
def test_labelled_values_are_read_in_their_unit(line: bytes, temp_c: float) -> None:
    """However a sketch puts label, number and unit together."""
    assert read(labels("hot"), line) == [(0, temp_c, None, ())]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (b"hot 24,25 C", "'hot' has a decimal comma: let the board print a point"),
        (b"hot 1 hot 2", "'hot' stands twice in the line"),
        (b"hot 12345678901 C", "'hot' has more digits than any thermometer"),
        (b"hot 1.12345678901 C", "'hot' has more digits than any thermometer"),
        (b"hot 1.2.3 C", "'hot' has more digits than any thermometer"),
        (b"hot 3 Pa", "'hot' is in 'Pa', neither \\xb0C, F, K nor a voltage"),
        (b"hot 3ohm", "'hot' is in 'ohm', neither \\xb0C, F, K nor a voltage"),
        (b"hot 8.1 mV", "'hot' is a voltage, and no reference junction stands beside it: name it as 'junction'"),
        (b"hot 3001 C", "'hot' is 3001 C, which no thermocouple measures"),
        (b"hot lukewarm", "'hot' has no number behind it"),
    ],
)
def test_what_cannot_be_believed_is_counted_and_said(line: bytes, words: str) -> None:
    """One line, in words, and no reading."""
    decoder = labels("hot")
    assert read(decoder, line) == []
    assert (decoder.garbled, decoder.words.encode("ascii", "backslashreplace").decode()) == (1, words)


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        (b"T1: open  RJ: 22.3 C", Fault.OPEN),
        (b"T1: 1372 C  RJ: 22.3 C  OPEN", Fault.OPEN),
        (b"T1: nan  RJ: 22.3 C", Fault.CONVERTER),
        (b"T1: ---  RJ: 22.3 C", Fault.CONVERTER),
        (b"T1: short to gnd  RJ: 22.3 C", Fault.SHORT_GROUND),
        (b"T1: 23.9  RJ: 22.3  short to vcc", Fault.SHORT_SUPPLY),
    ],
)
def test_words_in_place_of_a_number_are_faults(line: bytes, fault: Fault) -> None:
    """The reading is there, and says what is wrong; its junction stands beside it."""
    ((channel, _, junction_c, faults),) = read(labels("T1", junction=("RJ",)), line)
    assert (channel, junction_c, faults) == (0, 22.3, (fault,))


def test_several_values_a_line_are_channels_and_one_that_fails_costs_itself() -> None:
    """Counted from 0 in the order of the settings, whatever their order in the line."""
    decoder = labels("T1", "T2", junction=("RJ",))
    assert read(decoder, b"T2=24.1,T1=23.9,RJ=22.3") == [(0, 23.9, 22.3, ()), (1, 24.1, 22.3, ())]
    assert read(decoder, b"T2=24.1,T1=open,RJ=22.3") == [(0, None, 22.3, (Fault.OPEN,)), (1, 24.1, 22.3, ())]
    assert read(decoder, b"T2=24.1,T1=9999,RJ=22.3") == [(1, 24.1, 22.3, ())]
    assert decoder.garbled == 1
    each = keys("a", "b", junction=("ja", "jb"))
    assert read(each, b'{"a":1,"b":2,"ja":20,"jb":21}') == [(0, 1.0, 20.0, ()), (1, 2.0, 21.0, ())]


def test_a_junction_in_a_line_of_its_own_is_kept_for_the_next_value_alone() -> None:
    """As a well-known sketch prints it."""
    decoder = labels("C", junction=("Internal Temp",))
    assert read(decoder, b"Internal Temp = 22.3") == []
    assert read(decoder, b"C = 24.25 F = 75.65") == [(0, 24.25, 22.3, ())]
    assert read(decoder, b"C = 24.25") == [(0, 24.25, None, ())]
    assert decoder.garbled == 0


def test_a_voltage_is_read_with_its_junction() -> None:
    """In µV, mV or V, by the line's word or the setting's."""
    told = labels("E", junction=("RJ",)).feed(b"E 8.138 mV RJ 22.3 C\n")
    set_so = keys("emf", junction=("cj",), unit=Unit.UV).feed(b'{"emf":8138,"cj":22.3}\n')
    assert told == set_so == [Frame(emf_uv=pytest.approx(8138.0), junction_c=22.3)]


def test_a_label_is_a_whole_word() -> None:
    """T is not the T of T1, and T1 is not that of T11 or XT1."""
    decoder = labels("T1")
    assert [read(decoder, line) for line in (b"T11: 5 C", b"XT1: 5 C", b"T1x: 5 C")] == [[], [], []]
    assert decoder.unwanted == "lines come, but without the label 'T1' (they have: 'T1x')"
    assert decoder.garbled == 0
    assert read(labels("T"), b"T1: 5 C T: 6 C") == [(0, 6.0, None, ())]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (b'{"t":8000,"tc":24.1,"cj":22.3}', (0, 24.1, 22.3, ())),
        (b'{"tc":"75.2 F","cj":"22.3 C"}', (0, 24.0, 22.3, ())),
        (b'{"tc":null,"cj":22.3}', (0, None, 22.3, (Fault.CONVERTER,))),
        (b'{"tc":NaN,"cj":22.3}', (0, None, 22.3, (Fault.CONVERTER,))),
        (b'{"tc":nan,"cj":22.3}', (0, None, 22.3, (Fault.CONVERTER,))),
        (b'{"tc":-Infinity,"cj":22.3}', (0, None, 22.3, (Fault.CONVERTER,))),
        (b'{"tc":"open","cj":22.3}', (0, None, 22.3, (Fault.OPEN,))),
        (b'{"tc":-127,"cj":22.3}', (0, -127.0, 22.3, (Fault.OPEN,))),
        (b'{"tc":24.1,"cj":22.3,"fault":0}', (0, 24.1, 22.3, ())),
        (b'{"tc":24.1,"cj":22.3,"fault":"OK"}', (0, 24.1, 22.3, ())),
        (b'{"tc":24.1,"cj":22.3,"fault":false}', (0, 24.1, 22.3, ())),
        (b'{"tc":24.1,"cj":22.3,"fault":4}', (0, 24.1, 22.3, (Fault.CONVERTER,))),
        (b'{"tc":24.1,"cj":22.3,"fault":"open"}', (0, 24.1, 22.3, (Fault.OPEN,))),
    ],
)
def test_json_lines_are_read_by_key(line: bytes, expected: tuple[object, ...]) -> None:
    """With null and NaN as what they are: a board that has no number."""
    assert read(keys("tc", junction=("cj",), ms="t", fault="fault", open_values=(-127.0,)), line) == [expected]


def test_keys_below_others_are_written_with_dots() -> None:
    """Objects and lists alike."""
    line = b'{"board":{"cj":22.3},"probes":[{"tc":24.1},{"tc":25.1}]}'
    decoder = keys("probes.0.tc", "probes.1.tc", junction=("board.cj",))
    assert read(decoder, line) == [(0, 24.1, 22.3, ()), (1, 25.1, 22.3, ())]
    assert keys_in(line) == ("board.cj", "probes.0.tc", "probes.1.tc")


def test_the_clock_of_the_board_is_taken() -> None:
    """Which dates the reading free of what the line was held up by."""
    assert keys("tc", ms="t").feed(b'{"t":8000,"tc":24.1}\n') == [Frame(board_ms=8000, temp_c=24.1)]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (b'{"tc":1,"tc":2}', "the key 'tc' stands twice in the line"),
        (b'{"tc":' + b"1" * 40 + b"}", "has a number of 40 digits, more than any thermometer"),
        (b'{"a":' * 6 + b"1" + b"}" * 6, "lies deeper than 4 levels"),
        (b"[" * 1500, ""),
        (b'{"a":' * 300 + b"1" + b"}" * 300, "lies deeper than 4 levels"),
        (json.dumps({f"k{place}": 1 for place in range(150)}).encode(), "has more than 100 values"),
        (b'{"tc":true}', "'tc' is true, no number"),
        (b'{"tc":"24.1 bar"}', "'tc' is in 'bar', neither \xb0C, F, K nor a voltage"),
        (b'{"tc":24.1', ""),
        (b'{"tc":24.1}' + b" " * 2100, ""),
    ],
)
def test_hostile_json_is_bounded_and_said(line: bytes, words: str) -> None:
    """Length, depth, digits, count, duplicates: one line lost, counted once."""
    decoder = keys("tc")
    assert decoder.feed(line + b"\n") == []
    assert (decoder.garbled, decoder.words) == (1, words)
    assert read(decoder, b'{"tc":24.1}') == [(0, 24.1, None, ())]


@given(st.binary(max_size=300).map(lambda data: data.replace(b"\n", b"")), st.sampled_from(Naming))
def test_no_bytes_break_out_or_stop_the_next_line(data: bytes, naming: Naming) -> None:
    """Whatever came before, the next good line is read."""
    decoder = _decoder(NamedFormat(naming, ("tc",), junction=("cj",)))
    decoder.feed(data + b"\n")
    good = b'{"tc":24.5,"cj":20}' if naming is Naming.JSON else b"tc: 24.5 cj: 20"
    assert [frame.temp_c for frame in decoder.feed(good + b"\n")] == [24.5]


@given(st.text(alphabet='{}[]":,tcjnaulNI0123456789.eE+- ', max_size=200), st.sampled_from(Naming))
def test_no_line_of_their_own_letters_breaks_out(text: str, naming: Naming) -> None:
    """Every frame is in bounds and no word is long."""
    decoder = _decoder(NamedFormat(naming, ("tc", "t"), junction=("cj",)))
    for frame in decoder.feed(text.encode() + b"\n"):
        assert frame.temp_c is None or -300.0 <= frame.temp_c <= 3000.0
        assert frame.junction_c is None or -100.0 <= frame.junction_c <= 200.0
    assert len(decoder.words) < 200
    assert len(decoder.unwanted) < 500


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"values": ()}, "name the labels of 1 to 32 temperatures"),
        ({"values": ("a",) * 2}, "'a' is named twice"),
        ({"values": ("a",), "junction": ("a",)}, "'a' is named twice"),
        ({"values": ("a", "b", "c"), "junction": ("x", "y")}, "2 names for 3 values"),
        ({"values": ("a",), "unit": Unit.MV}, "needs 'junction'"),
    ],
)
def test_names_that_make_no_sense_are_refused_with_the_reason(arguments: dict, said: str) -> None:
    """Before the heat, not during it."""
    with pytest.raises(SettingsError, match=said):
        NamedFormat(Naming.LABELS, **arguments)


def test_the_labels_of_a_line_are_told_without_the_units_between() -> None:
    """For a person who has to name one."""
    assert labels_in(b"T1: 23.9 C  RJ: 22.3 C  ok") == ("T1", "RJ")
    assert labels_in(b"C = 24.25 F = 75.6") == ("C", "F")
    assert labels_in(b"Internal Temp = 22.3") == ("Internal Temp",)
    assert labels_in(b"12.5, 13.5") == ()
