"""Framing: what is a line of the board, what is not, and what becomes of the rest."""

import tracemalloc
from binascii import crc_hqx

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rampwarden.core.instrument.framing import (
    LONGEST_LINE,
    AdcScaling,
    Column,
    ColumnDecoder,
    ColumnFormat,
    Delimiter,
    Frame,
    FrameDecoder,
    LineDecoder,
)
from rampwarden.core.model import Fault
from rampwarden.errors import SettingsError

EMF_AND_JUNCTION = ColumnFormat((Column.EMF_UV, Column.JUNCTION_C))


def with_crc(body: bytes) -> bytes:
    """Give a framed line around any body, right checksum and all."""
    return b"$" + body + b"*%04X\r\n" % crc_hqx(body, 0)


GOOD = with_crc(b"TC,0,7,1200,8138200,24810,00")


class TestFramedLines:
    def test_a_line_becomes_numbers_in_our_units(self) -> None:
        """nV become µV, m°C become °C; sequence and milliseconds stay as sent."""
        assert FrameDecoder().feed(with_crc(b"TC,3,65535,4294967295,-1234567,-5250,00")) == [
            Frame(3, 65535, 4294967295, -1234.567, None, -5.25)
        ]

    def test_the_checksum_is_crc_16_xmodem_between_dollar_and_star(self) -> None:
        """Computed here bit by bit from its definition, against the published check value 31C3 of 123456789."""

        def crc_by_definition(body: bytes) -> int:
            remainder = 0
            for byte in body:
                remainder ^= byte << 8
                for _ in range(8):
                    remainder = ((remainder << 1) ^ (0x1021 if remainder & 0x8000 else 0)) & 0xFFFF
            return remainder

        assert crc_by_definition(b"123456789") == 0x31C3
        body = b"TC,0,7,1200,8138200,24810,00"
        assert len(FrameDecoder().feed(b"$%s*%04X\r\n" % (body, crc_by_definition(body)))) == 1

    @pytest.mark.parametrize(
        ("flags", "faults"),
        [
            (b"00", ()),
            (b"01", (Fault.OPEN,)),
            (b"02", (Fault.SHORT_GROUND,)),
            (b"04", (Fault.SHORT_SUPPLY,)),
            (b"08", (Fault.CONVERTER,)),
            (b"10", (Fault.JUNCTION,)),
            (b"1f", (Fault.OPEN, Fault.SHORT_GROUND, Fault.SHORT_SUPPLY, Fault.CONVERTER, Fault.JUNCTION)),
            (b"5", (Fault.OPEN, Fault.SHORT_SUPPLY)),
        ],
    )
    def test_each_flag_is_a_fault(self, flags: bytes, faults: tuple[Fault, ...]) -> None:
        """Either case of hex digit, one digit or two."""
        (frame,) = FrameDecoder().feed(with_crc(b"TC,0,1,1,0,25000," + flags))
        assert frame.faults == faults

    @pytest.mark.parametrize("flags", [b"20", b"40", b"80", b"E8"])
    def test_a_flag_without_a_meaning_yet_is_a_converter_fault(self, flags: bytes) -> None:
        """A newer board says that something is wrong; not knowing what is no reason to believe its number."""
        (frame,) = FrameDecoder().feed(with_crc(b"TC,0,1,1,0,25000," + flags))
        assert frame.faults == (Fault.CONVERTER,)

    @pytest.mark.parametrize("ending", [b"\r\n", b"\n"])
    def test_a_line_may_end_with_or_without_a_carriage_return(self, ending: bytes) -> None:
        """Some adapters strip it, and the checksum does not cover it."""
        assert len(FrameDecoder().feed(GOOD.rstrip(b"\r\n") + ending)) == 1

    @pytest.mark.parametrize("position", range(1, len(GOOD) - 2))
    def test_no_single_flipped_bit_passes(self, position: int) -> None:
        """The CRC and the form of the line see to it, wherever the bit is."""
        for bit in range(8):
            damaged = bytearray(GOOD)
            damaged[position] ^= 1 << bit
            frames = FrameDecoder().feed(bytes(damaged))
            # The case of a hex digit is one bit, and says the same.
            assert frames == [] or bytes(damaged).upper() == GOOD.upper()

    @pytest.mark.parametrize(
        "body",
        [
            b"TC,0,7,1200,8138200,24810",
            b"TC,0,7,1200,8138200,24810,00,0",
            b"TC,0,65536,1200,8138200,24810,00",
            b"TC,0,7,4294967296,8138200,24810,00",
            b"TC,0,7,1200,300000001,24810,00",
            b"TC,0,7,1200,-300000001,24810,00",
            b"TC,0,7,1200,8138200,200001,00",
            b"TC,0,7,1200,8138200,-100001,00",
            b"TC,0,7,1200,8138200,24810,100",
            b"TC,0,7,1200,8138200,24810,0G",
            b"TC,-1,7,1200,8138200,24810,00",
            b"TC,100,7,1200,8138200,24810,00",
            b"TC,0,7,-1,8138200,24810,00",
            b"TC,0,7,1200,+8138200,24810,00",
            b"TC,0,7,1200,8138200.0,24810,00",
            b"TC,0,7,1200,1_0,24810,00",
            b"TC,0,7,1200, 10,24810,00",
            b"TC,0,7,1200,nan,24810,00",
            b"TC,0,7,1200,,24810,00",
            b"TC,0,7,1200," + b"1" * 60 + b",24810,00",
            "TC,0,7,1200,\u0661,24810,00".encode(),
            b"tc,0,7,1200,8138200,24810,00",
            b"TK,0,7,1200,8138200,24810,00",
        ],
    )
    def test_a_right_checksum_does_not_excuse_a_wrong_line(self, body: bytes) -> None:
        """Field count, form of number and ranges are checked all the same, and the line is counted."""
        decoder = FrameDecoder()
        assert decoder.feed(with_crc(body) + GOOD) == FrameDecoder().feed(GOOD)
        assert decoder.garbled == 1
        assert decoder.sample == with_crc(body).rstrip(b"\n")[:64]

    def test_a_wrong_checksum_is_counted(self) -> None:
        """So are checksums too short, too long and missing."""
        decoder = FrameDecoder()
        stem = GOOD[: GOOD.index(b"*")]
        for ending in (b"*0000", b"*0", b"*00000", b"*", b""):
            assert decoder.feed(stem + ending + b"\r\n") == []
        assert decoder.garbled == 5

    def test_a_lost_newline_costs_one_frame_and_not_two(self) -> None:
        """The line is read from its last dollar sign; what stood before it is counted."""
        decoder = FrameDecoder()
        assert len(decoder.feed(GOOD[:20] + GOOD + GOOD)) == 2
        assert decoder.garbled == 1

    def test_nuls_before_a_frame_do_not_cost_it(self) -> None:
        """A line that floats while a board is plugged in gives NULs."""
        decoder = FrameDecoder()
        assert len(decoder.feed(b"\0\0\0" + GOOD)) == 1
        assert decoder.garbled == 1

    def test_blank_lines_mean_nothing(self) -> None:
        """A sketch that prints an empty line between readings is not damaged."""
        decoder = FrameDecoder()
        assert len(decoder.feed(b"\r\n\n  \r\n" + GOOD + b"\r\n")) == 1
        assert decoder.garbled == 0


class TestColumns:
    @pytest.mark.parametrize(
        "line",
        [
            b"8138.2,24.81\r\n",
            b"8138.2;24.81\n",
            b"8138.2\t24.81\n",
            b"8138.2 24.81\n",
            b"  8138.2 ,  24.81  \r\n",
            b"+8138.2  \t 24.81\n",
        ],
    )
    def test_any_usual_delimiter_is_understood(self, line: bytes) -> None:
        """Comma, semicolon, tab or spaces, with spaces around them."""
        assert ColumnDecoder(EMF_AND_JUNCTION).feed(line) == [Frame(emf_uv=8138.2, junction_c=24.81)]

    def test_a_stated_delimiter_lets_text_columns_hold_spaces(self) -> None:
        """Skipped columns may hold anything, also nothing."""
        stated = ColumnFormat((Column.SKIP, Column.TEMP_C, Column.SKIP), delimiter=Delimiter.SEMICOLON)
        assert ColumnDecoder(stated).feed(b"pot, no 3;812.5;\r\n") == [Frame(temp_c=812.5)]

    @pytest.mark.parametrize(
        ("delimiter", "line"),
        [
            (Delimiter.COMMA, b"1 , 2\n"),
            (Delimiter.SEMICOLON, b"1;2\n"),
            (Delimiter.TAB, b"1 \t2\n"),
            (Delimiter.SPACE, b"1   2\n"),
        ],
    )
    def test_a_stated_delimiter_excludes_the_others(self, delimiter: Delimiter, line: bytes) -> None:
        """Else a line of another kind would slip through."""
        decoder = ColumnDecoder(ColumnFormat((Column.EMF_UV, Column.JUNCTION_C), delimiter))
        assert decoder.feed(line) == [Frame(emf_uv=1.0, junction_c=2.0)]
        others = {Delimiter.COMMA: b",", Delimiter.SEMICOLON: b";", Delimiter.TAB: b"\t", Delimiter.SPACE: b" "}
        for other, mark in others.items():
            if other is not delimiter:
                assert decoder.feed(b"1" + mark + b"2\n") == []

    def test_millivolts_and_fahrenheit_become_our_units(self) -> None:
        """E of type K at 100 °C is 4.096 mV (NIST Monograph 175); 392 °F are 200 °C."""
        millivolts = ColumnDecoder(ColumnFormat((Column.EMF_MV, Column.JUNCTION_C, Column.MS)))
        assert millivolts.feed(b"4.096,0,1500\n") == [Frame(board_ms=1500, emf_uv=4096.0, junction_c=0.0)]
        assert ColumnDecoder(ColumnFormat((Column.TEMP_F,))).feed(b"392\n") == [Frame(temp_c=200.0)]

    def test_a_code_is_scaled_to_the_emf_at_the_amplifiers_input(self) -> None:
        """2048 of 12 bits is half of 5 V; a gain of 100 leaves 25 mV; a shorted input shows 120 µV."""
        scaling = AdcScaling(reference_v=5.0, bits=12, gain=100.0, offset_uv=120.0)
        decoder = ColumnDecoder(ColumnFormat((Column.ADC, Column.JUNCTION_C), scaling=scaling))
        (frame,) = decoder.feed(b"2048,25\n")
        assert frame.emf_uv == pytest.approx(25_000.0 - 120.0)

    def test_a_straight_line_converter_is_undone(self) -> None:
        """(temperature - junction) x slope is the EMF it measured: 800 °C shown, junction 25 °C, 41.276 µV/°C."""
        decoder = ColumnDecoder(ColumnFormat((Column.TEMP_C, Column.JUNCTION_C), single_slope_uv_per_c=41.276))
        (frame,) = decoder.feed(b"800.00,25.00\n")
        assert frame.emf_uv == pytest.approx(775.0 * 41.276)
        assert frame.temp_c is None
        assert frame.junction_c == 25.0

    @pytest.mark.parametrize(
        "line",
        [
            b"8138.2",
            b"8138.2,24.81,3",
            b"8138.2,,24.81",
            b"nan,24.81",
            b"inf,24.81",
            b"-inf,24.81",
            b"1_0,24.81",
            b"0x10,24.81",
            b"1e3,24.81",
            b".5,24.81",
            b"5.,24.81",
            b"--5,24.81",
            b"1" * 60 + b",24.81",
            b"1.0000000000000,24.81",
            b"300001,24.81",
            b"-300001,24.81",
            b"8138.2,201",
            b"8138.2,-101",
            b"8138.2,24.8x",
            "8138.\u0662,24.81".encode(),
            b"emf,junction",
            b"\0\0",
        ],
    )
    def test_what_is_not_exactly_the_columns_is_counted(self, line: bytes) -> None:
        """With no checksum, form and range are all there is."""
        decoder = ColumnDecoder(EMF_AND_JUNCTION)
        assert decoder.feed(line + b"\n100,20\n") == [Frame(emf_uv=100.0, junction_c=20.0)]
        assert decoder.garbled == 1

    @pytest.mark.parametrize(
        ("columns", "line"),
        [
            ((Column.TEMP_C, Column.MS), b"20,1.5\n"),
            ((Column.TEMP_C, Column.MS), b"20,-1\n"),
            ((Column.TEMP_C, Column.MS), b"20,4294967296\n"),
            ((Column.TEMP_C, Column.MS), b"3001,1\n"),
            ((Column.TEMP_C, Column.MS), b"-301,1\n"),
            ((Column.TEMP_F, Column.MS), b"5433,1\n"),
            ((Column.EMF_MV, Column.JUNCTION_C), b"300.1,20\n"),
        ],
    )
    def test_every_column_has_its_range(self, columns: tuple[Column, ...], line: bytes) -> None:
        """A count of milliseconds is a whole 32-bit number."""
        assert ColumnDecoder(ColumnFormat(columns)).feed(line) == []

    def test_a_code_beyond_full_scale_is_refused(self) -> None:
        """12 bits end at 4096."""
        scaling = AdcScaling(reference_v=5.0, bits=12, gain=100.0)
        decoder = ColumnDecoder(ColumnFormat((Column.ADC, Column.JUNCTION_C), scaling=scaling))
        assert len(decoder.feed(b"4096,25\n")) == 1
        assert decoder.feed(b"4097,25\n") == []

    def test_an_emf_no_thermocouple_gives_is_refused_after_scaling_too(self) -> None:
        """A gain of 1 where 100 is meant shows volts."""
        scaling = AdcScaling(reference_v=5.0, bits=12)
        decoder = ColumnDecoder(ColumnFormat((Column.ADC, Column.JUNCTION_C), scaling=scaling))
        assert decoder.feed(b"2048,25\n") == []
        assert decoder.garbled == 1

    @pytest.mark.parametrize(
        ("arguments", "said"),
        [
            ({"columns": (Column.JUNCTION_C,)}, "exactly one of"),
            ({"columns": (Column.TEMP_C, Column.EMF_UV, Column.JUNCTION_C)}, "exactly one of"),
            ({"columns": (Column.TEMP_C, Column.JUNCTION_C, Column.JUNCTION_C)}, "stands twice"),
            ({"columns": (Column.TEMP_C, Column.TEMP_F)}, "exactly one of"),
            ({"columns": (Column.EMF_UV,)}, "needs 'junction_c'"),
            ({"columns": (Column.ADC, Column.JUNCTION_C)}, "scaling"),
            ({"columns": (Column.TEMP_C,), "scaling": AdcScaling(5.0, 12)}, "scaling"),
            ({"columns": (Column.TEMP_C,), "single_slope_uv_per_c": 41.276}, "needs 'junction_c'"),
            ({"columns": (Column.EMF_UV, Column.JUNCTION_C), "single_slope_uv_per_c": 41.276}, "single_slope"),
            ({"columns": (Column.TEMP_C, Column.JUNCTION_C), "single_slope_uv_per_c": 0.041}, "1 and 100"),
        ],
    )
    def test_columns_that_make_no_sense_are_refused_with_the_reason(self, arguments: dict, said: str) -> None:
        """Before the heat, not during it."""
        with pytest.raises(SettingsError, match=said):
            ColumnFormat(**arguments)

    @pytest.mark.parametrize(
        "arguments",
        [
            {"reference_v": 0.0, "bits": 12},
            {"reference_v": float("nan"), "bits": 12},
            {"reference_v": 5.0, "bits": 0},
            {"reference_v": 5.0, "bits": 33},
            {"reference_v": 5.0, "bits": 12, "gain": 0.0},
            {"reference_v": 5.0, "bits": 12, "offset_uv": float("inf")},
        ],
    )
    def test_a_scaling_that_makes_no_sense_is_refused(self, arguments: dict) -> None:
        """No gain of zero, no converter without bits."""
        with pytest.raises(SettingsError, match="board scaling"):
            AdcScaling(**arguments)


class TestOpenings:
    def test_the_first_half_line_after_an_opening_is_dropped_and_not_counted(self) -> None:
        """It is nobody's fault."""
        decoder = FrameDecoder()
        decoder.resynchronise()
        assert len(decoder.feed(GOOD[15:] + GOOD)) == 1
        assert decoder.garbled == 0

    def test_a_first_frame_with_a_right_checksum_is_kept(self) -> None:
        """It proves itself whole, even behind noise."""
        decoder = FrameDecoder()
        decoder.resynchronise()
        assert len(decoder.feed(b"lf,3" + GOOD)) == 1
        assert decoder.garbled == 0

    def test_a_first_column_line_is_dropped_even_if_it_looks_whole(self) -> None:
        """12.345,20 cut short is 345,20."""
        decoder = ColumnDecoder(EMF_AND_JUNCTION)
        decoder.resynchronise()
        assert decoder.feed(b"345,20\n12.345,20\n") == [Frame(emf_uv=12.345, junction_c=20.0)]
        assert decoder.garbled == 0

    def test_half_a_line_does_not_outlive_an_opening(self) -> None:
        """The end of another line must not be glued to it."""
        decoder = ColumnDecoder(EMF_AND_JUNCTION)
        decoder.feed(b"12")
        decoder.resynchronise()
        assert decoder.feed(b"\n34,20\n") == [Frame(emf_uv=34.0, junction_c=20.0)]

    def test_what_was_gathered_before_an_opening_is_not_held_against_the_next_line(self) -> None:
        """It would seem too long."""
        decoder = FrameDecoder()
        decoder.feed(b"x" * 500)
        decoder.resynchronise()
        assert len(decoder.feed(GOOD)) == 1
        assert decoder.garbled == 0

    def test_only_the_first_line_is_forgiven(self) -> None:
        """The second is counted."""
        decoder = FrameDecoder()
        decoder.resynchronise()
        decoder.feed(b"half\nwhole\n")
        assert decoder.garbled == 1


class TestFloods:
    @pytest.mark.parametrize("make", [FrameDecoder, lambda: ColumnDecoder(EMF_AND_JUNCTION)])
    def test_a_megabyte_without_a_newline_costs_no_memory_and_one_count(self, make: type[LineDecoder]) -> None:
        """And the line after it is read."""
        decoder = make()
        chunk = b"\xa5" * 4096
        tracemalloc.start()
        for _ in range(256):
            assert decoder.feed(chunk) == []
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert peak < 64 * 1024
        assert decoder.garbled == 1
        assert decoder.feed(b"\n100,20\n" + GOOD) != []

    @pytest.mark.parametrize("excess", [0, 1])
    def test_the_longest_line_is_a_line_and_one_byte_more_is_not(self, excess: int) -> None:
        """However it was cut."""
        line = b" " * (LONGEST_LINE + excess - len(b"100,20")) + b"100,20\n"
        whole, cut = ColumnDecoder(EMF_AND_JUNCTION), ColumnDecoder(EMF_AND_JUNCTION)
        expected = [] if excess else [Frame(emf_uv=100.0, junction_c=20.0)]
        assert whole.feed(line) == expected
        assert cut.feed(line[:-1]) + cut.feed(line[-1:]) == expected
        assert whole.garbled == cut.garbled == excess


NEAR_NUMBERS = st.one_of(
    st.integers(-(10**12), 10**12).map(str),
    st.floats().map(str),
    st.floats().map(float.hex),
    st.from_regex(r"[+-]{0,2}[0-9_]{0,12}\.?[0-9]{0,12}([eE][+-]?[0-9]{1,3})?", fullmatch=True),
    st.sampled_from(["nan", "inf", "-inf", "NaN", "1_0", "", " ", "0x1F", "١٢", "1,5", "9" * 60]),
)
FRAMED_PARTS = st.builds(
    lambda fields, flags: with_crc(("TC," + ",".join(fields) + "," + flags).encode()),
    st.lists(NEAR_NUMBERS, min_size=4, max_size=6),
    st.sampled_from(["00", "01", "1F", "zz", "", "100"]),
)
COLUMN_PARTS = st.builds(
    lambda fields, mark: (mark.join(fields) + "\n").encode(),
    st.lists(NEAR_NUMBERS, min_size=1, max_size=3),
    st.sampled_from([",", ";", "\t", " "]),
)
STREAMS = st.lists(
    st.one_of(
        FRAMED_PARTS, COLUMN_PARTS, st.binary(max_size=40), st.just(GOOD), st.integers(500, 600).map(lambda n: b"x" * n)
    ),
    max_size=12,
).map(b"".join)


def decoders() -> list[LineDecoder]:
    """Give one of each, freshly opened."""
    made = [FrameDecoder(), ColumnDecoder(EMF_AND_JUNCTION)]
    for decoder in made:
        decoder.resynchronise()
    return made


class TestAnyBytes:
    @settings(max_examples=300, deadline=None)
    @given(STREAMS, st.data())
    def test_bytes_cut_anywhere_decode_equal(self, stream: bytes, data: st.DataObject) -> None:
        """Frames, count and sample: a kernel cuts where it likes."""
        cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=8)))
        for whole, cut in zip(decoders(), decoders(), strict=True):
            frames = whole.feed(stream)
            pieces = [stream[start:end] for start, end in zip([0, *cuts], [*cuts, len(stream)], strict=True)]
            assert [frame for piece in pieces for frame in cut.feed(piece)] == frames
            assert (cut.garbled, cut.sample) == (whole.garbled, whole.sample)

    @settings(max_examples=300, deadline=None)
    @given(st.lists(st.binary(max_size=700), max_size=8))
    def test_random_bytes_never_raise(self, chunks: list[bytes]) -> None:
        """And whatever they leave behind is small."""
        for decoder in decoders():
            for chunk in chunks:
                decoder.feed(chunk)
            assert len(decoder.sample) <= 64

    @settings(max_examples=500, deadline=None)
    @given(NEAR_NUMBERS, NEAR_NUMBERS)
    def test_near_numbers_are_read_exactly_or_not_at_all(self, emf: str, junction: str) -> None:
        """What passes is a plain decimal within its range, and has its value."""
        for frame in ColumnDecoder(ColumnFormat((Column.EMF_UV, Column.JUNCTION_C), Delimiter.COMMA)).feed(
            f"{emf},{junction}\n".encode()
        ):
            for text, value, bound in ((emf, frame.emf_uv, 300_000), (junction, frame.junction_c, 200)):
                assert set(text.strip()) <= set("+-.0123456789")
                assert value == float(text)
                assert abs(value) <= bound

    @settings(max_examples=500, deadline=None)
    @given(st.lists(NEAR_NUMBERS, min_size=5, max_size=5))
    def test_near_numbers_in_a_frame_are_read_exactly_or_not_at_all(self, fields: list[str]) -> None:
        """Only whole decimal numbers pass."""
        for frame in FrameDecoder().feed(with_crc(("TC," + ",".join(fields) + ",00").encode())):
            assert [frame.channel, frame.seq, frame.board_ms] == [int(text) for text in fields[:3]]
            assert frame.emf_uv == int(fields[3]) / 1e3
            assert frame.junction_c == int(fields[4]) / 1e3
            assert all(set(text) <= set("-0123456789") for text in fields)
