"""From a table to a schedule, or to every fault in it: what is wrong, where, why, and what would be right."""

import contextlib
import copy
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import OutOfBand, Schedule, Segment, SegmentKind
from rampwarden.errors import ScheduleError

SHIPPED = sorted((Path(__file__).parents[3] / "config" / "schedules").glob("*.toml"))

# The example of config/README.md: every kind of segment and every key.
WHOLE = """
title = "Clay-graphite, first heat"
crucible_class = "clay-graphite"
basis = "common practice; the maker's sheet overrides"

[[segment]]
name = "drying"
kind = "ramp"
to = "200 C"
max_rate = "25 C / 15 min"
ceiling = "260 C"

[[segment]]
name = "oven to furnace"
kind = "transfer"
within = "20 min"
arrive_above = "100 C"

[[segment]]
name = "to red heat"
kind = "ramp"
to = "1202 F"
max_rate = ["100 C / min", "200 C / 3 min"]
min_rate = "8 C / min"
within = "2 h"
say = "Lid open, lowest gas."

[[segment]]
name = "working temperature"
kind = "soak"
at = "1150 C"
band = ["-25 C", "+63 F"]
hold = "30 min"
out_of_band = "restart"
max_rate = "10 C / min"
ceiling = "1220 C"

[[segment]]
name = "closed furnace"
kind = "cool"
to = "60 C"
max_rate = "10 C / min"
"""

RAMP = {"kind": "ramp", "name": "up", "to": "200 C"}
SOAK = {"kind": "soak", "name": "hold", "at": "200 C", "hold": "1 h"}
CARRY = {"kind": "transfer", "name": "carry", "within": "20 min"}
COOL = {"kind": "cool", "name": "down", "to": "60 C"}


def faults(*rows: object, **top: object) -> list[str]:
    """Give the fault lines of a schedule that must be refused."""
    with pytest.raises(ScheduleError) as refusal:
        parse_schedule({"title": "t", "segment": list(rows), **top}, "first.toml")
    return str(refusal.value).split("\n")


def accepted(*rows: dict[str, object]) -> Schedule:
    return parse_schedule({"segment": list(rows)}, "first.toml")


class TestAGoodSchedule:
    def test_arrives_with_every_quantity_in_celsius_and_seconds(self) -> None:
        """All kinds, all keys, both scales."""
        assert parse_schedule(tomllib.loads(WHOLE), "whole.toml") == Schedule(
            title="Clay-graphite, first heat",
            crucible_class="clay-graphite",
            basis="common practice; the maker's sheet overrides",
            segments=(
                Segment("drying", SegmentKind.RAMP, to_c=200.0, max_rates=(Rate(25.0, 900.0),), ceiling_c=260.0),
                Segment("oven to furnace", SegmentKind.TRANSFER, within_s=1200.0, arrive_above_c=100.0),
                Segment(
                    "to red heat",
                    SegmentKind.RAMP,
                    to_c=650.0,
                    max_rates=(Rate(100.0, 60.0), Rate(200.0, 180.0)),
                    min_rate=Rate(8.0, 60.0),
                    within_s=7200.0,
                    say="Lid open, lowest gas.",
                ),
                Segment(
                    "working temperature",
                    SegmentKind.SOAK,
                    at_c=1150.0,
                    band_c=(-25.0, 35.0),
                    hold_s=1800.0,
                    out_of_band=OutOfBand.RESTART,
                    max_rates=(Rate(10.0, 60.0),),
                    ceiling_c=1220.0,
                ),
                Segment("closed furnace", SegmentKind.COOL, to_c=60.0, max_rates=(Rate(10.0, 60.0),)),
            ),
        )

    def test_needs_little(self) -> None:
        """The title is then the file's name; a soak has a band of 15 °C and a clock that pauses."""
        plan = accepted(RAMP, SOAK)
        assert plan.title == "first.toml"
        assert plan.segments[1].band_c == (-15.0, 15.0)
        assert plan.segments[1].out_of_band is OutOfBand.PAUSE
        assert plan.segments[0].max_rates == ()

    @pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
    def test_is_each_one_that_is_shipped(self, path: Path) -> None:
        """And each says on what it rests, and limits each way up and down."""
        plan = parse_schedule(tomllib.loads(path.read_text(encoding="utf-8")), path.name)
        assert plan.basis
        assert plan.title != path.name
        for index, segment in enumerate(plan.segments):
            if segment.kind in (SegmentKind.RAMP, SegmentKind.COOL):
                assert plan.limits_in_force(index), f"{segment.name} has no limit"

    def test_is_shipped(self) -> None:
        """The test above would pass over an empty folder."""
        assert len(SHIPPED) >= 7

    def test_is_left_alone(self) -> None:
        """The table goes into the heat record as it was written."""
        table = tomllib.loads(WHOLE)
        before = copy.deepcopy(table)
        parse_schedule(table, "whole.toml")
        assert table == before

    def test_may_hold_a_hundred_segments(self) -> None:
        """No heat has more."""
        rows = [{"kind": "ramp", "name": f"step {n}", "to": f"{20 + 10 * n} C"} for n in range(1, 101)]
        assert len(accepted(*rows).segments) == 100
        assert faults(*rows, {"kind": "ramp", "name": "one more", "to": "1100 C"}) == [
            "first.toml: 101 segments; at most 100 make sense for a heat"
        ]


class TestOneFault:
    @pytest.mark.parametrize("segment", [None, [], "ramp", [RAMP, 3]])
    def test_no_segments_at_all(self, segment: object) -> None:
        """Nothing, or something that is no segment."""
        with pytest.raises(ScheduleError) as refusal:
            parse_schedule({"segment": segment} if segment is not None else {}, "first.toml")
        assert str(refusal.value) == "first.toml: no segments; a schedule needs at least one [[segment]] table"

    @pytest.mark.parametrize("segment", [{}, {"kind": "ramp"}])
    def test_one_pair_of_brackets_where_two_belong(self, segment: object) -> None:
        """That gives a table and not a list."""
        with pytest.raises(ScheduleError) as refusal:
            parse_schedule({"segment": segment}, "first.toml")
        assert str(refusal.value) == ("first.toml: [segment] in single brackets; each segment begins with [[segment]]")

    @pytest.mark.parametrize(
        ("key", "meant"),
        [
            ("rate", "max_rate (the fastest that is allowed)"),
            ("Ramp", "max_rate (the fastest that is allowed)"),
            ("target", "to of a ramp or cool, at of a soak"),
            ("max_rat", "max_rate"),
        ],
    )
    def test_a_key_by_another_name_is_led_to_the_one_that_is_meant(self, key: str, meant: str) -> None:
        """Never from a rate to min_rate: the ramp would be left without any limit."""
        assert faults({**RAMP, key: "100 C / min"}) == [
            f"first.toml: segment 1 'up': unknown key {key!r}; did you mean {meant}?"
        ]

    @pytest.mark.parametrize(
        ("row", "fault"),
        [
            (
                {"name": "up", "to": "200 C"},
                "first.toml: segment 1 'up': kind is missing; use one of ramp, soak, transfer, cool",
            ),
            (
                {**RAMP, "kind": "heat"},
                "first.toml: segment 1 'up': kind = 'heat' is unknown; use one of ramp, soak, transfer, cool",
            ),
            (
                {**RAMP, "kind": ["ramp"]},
                "first.toml: segment 1 'up': kind = ['ramp'] is unknown; use one of ramp, soak, transfer, cool",
            ),
            ({"kind": "ramp", "to": "200 C"}, "first.toml: segment 1: name is missing; a ramp segment needs it"),
            ({"kind": "ramp", "name": "up"}, "first.toml: segment 1 'up': to is missing; a ramp segment needs it"),
            (
                {"kind": "soak", "name": "hold", "hold": "1 h"},
                "first.toml: segment 1 'hold': at is missing; a soak segment needs it",
            ),
            (
                {"kind": "soak", "name": "hold", "at": "200 C"},
                "first.toml: segment 1 'hold': hold is missing; a soak segment needs it",
            ),
            (
                {"kind": "transfer", "name": "carry"},
                "first.toml: segment 1 'carry': within is missing; a transfer segment needs it",
            ),
            ({"kind": "cool", "name": "down"}, "first.toml: segment 1 'down': to is missing; a cool segment needs it"),
            ({**RAMP, "name": 7}, "first.toml: segment 1: name = 7 must be text in quotes"),
            (
                {**RAMP, "name": " "},
                "first.toml: segment 1 ' ': name = ' ' is empty; the events of this segment are known by it",
            ),
            ({**RAMP, "say": ["a"]}, "first.toml: segment 1 'up': say = ['a'] must be text in quotes"),
            ({**RAMP, "to": 200}, "first.toml: segment 1 'up': to = 200 is not a temperature such as '200 C'"),
            (
                {**RAMP, "to": "200 K"},
                "first.toml: segment 1 'up': to = '200 K': K is for differences; write a temperature in C or F",
            ),
            (
                {**RAMP, "to": "-300 C"},
                "first.toml: segment 1 'up': to = '-300 C' lies below absolute zero; is the sign or the unit wrong?",
            ),
            ({**SOAK, "at": "hot"}, "first.toml: segment 1 'hold': at = 'hot' is not a temperature such as '200 C'"),
            (
                {**RAMP, "ceiling": "high"},
                "first.toml: segment 1 'up': ceiling = 'high' is not a temperature such as '200 C'",
            ),
            (
                {**CARRY, "arrive_above": "100"},
                "first.toml: segment 1 'carry': arrive_above = '100' is not a temperature such as '200 C'",
            ),
            (
                {**SOAK, "hold": "long"},
                "first.toml: segment 1 'hold': hold = 'long' is not a duration such as '20 min' or '1 h 30 min'",
            ),
            ({**SOAK, "hold": "0 min"}, "first.toml: segment 1 'hold': hold = '0 min' must be longer than zero"),
            ({**CARRY, "within": "0 s"}, "first.toml: segment 1 'carry': within = '0 s' must be longer than zero"),
            (
                {**RAMP, "within": True},
                "first.toml: segment 1 'up': within = True is not a duration such as '20 min' or '1 h 30 min'",
            ),
            (
                {**RAMP, "max_rate": "25 C"},
                "first.toml: segment 1 'up': max_rate = '25 C' is not a rate such as '25 C / 15 min'",
            ),
            (
                {**RAMP, "max_rate": ["25 C / 15 min", "0 C / min"]},
                "first.toml: segment 1 'up': max_rate = '0 C / min': a rate needs a climb and a window above zero",
            ),
            (
                {**RAMP, "min_rate": 8},
                "first.toml: segment 1 'up': min_rate = 8 is not a rate such as '25 C / 15 min'",
            ),
            (
                {**RAMP, "max_rate": ["100 C / h", "1 C / min", "5 C / min"], "min_rate": "2 C / min"},
                "first.toml: segment 1 'up': min_rate = '2 C / min' is not below "
                "max_rate = ['100 C / h', '1 C / min', '5 C / min']; no furnace could keep both, lower min_rate",
            ),
            (
                {**RAMP, "max_rate": "60 C / h", "min_rate": "1 C / min"},
                "first.toml: segment 1 'up': min_rate = '1 C / min' is not below max_rate = '60 C / h'; "
                "no furnace could keep both, lower min_rate",
            ),
            (
                {**RAMP, "ceiling": "199 C"},
                "first.toml: segment 1 'up': ceiling = '199 C' lies below 200 °C, where the segment itself leads; "
                "raise it",
            ),
            (
                {**SOAK, "ceiling": "214.9 C"},
                "first.toml: segment 1 'hold': ceiling = '214.9 C' lies below 215 °C, where the segment itself leads; "
                "raise it",
            ),
            (
                {**SOAK, "band": "15 C"},
                "first.toml: segment 1 'hold': band = '15 C' needs two differences such as ['-25 C', '+35 C']",
            ),
            (
                {**SOAK, "band": ["-5 C", "0 C", "5 C"]},
                "first.toml: segment 1 'hold': band = ['-5 C', '0 C', '5 C'] "
                "needs two differences such as ['-25 C', '+35 C']",
            ),
            (
                {**SOAK, "band": ["-5 C", 5]},
                "first.toml: segment 1 'hold': band = 5 is not a temperature difference such as '25 C'",
            ),
            (
                {**SOAK, "band": ["0 C", "+35 C"]},
                "first.toml: segment 1 'hold': band = ['0 C', '+35 C'] must reach from below zero to above it",
            ),
            (
                {**SOAK, "band": ["5 C", "-5 C"]},
                "first.toml: segment 1 'hold': band = ['5 C', '-5 C'] must reach from below zero to above it",
            ),
            (
                {**SOAK, "out_of_band": "wait"},
                "first.toml: segment 1 'hold': out_of_band = 'wait' is unknown; use pause or restart",
            ),
        ],
    )
    def test_is_told_in_one_line(self, row: dict[str, object], fault: str) -> None:
        """File, segment, key, value, why, and what would be right; and nothing that only follows from it."""
        assert faults(row) == [fault]

    @pytest.mark.parametrize("ceiling", ["200 C", "392 F"])
    def test_is_not_a_ceiling_just_where_the_segment_leads(self, ceiling: str) -> None:
        """Strict, but a plan."""
        assert accepted({**RAMP, "ceiling": ceiling}).segments[0].ceiling_c == 200.0

    def test_beside_a_ceiling_is_not_blamed_on_it(self) -> None:
        """Where the soak leads is unknown, so nothing can be said about the ceiling."""
        assert faults({**SOAK, "at": "warm", "ceiling": "5 C"}) == [
            "first.toml: segment 1 'hold': at = 'warm' is not a temperature such as '200 C'"
        ]

    @pytest.mark.parametrize("key", ["title", "crucible_class", "basis"])
    def test_at_the_top_names_no_segment(self, key: str) -> None:
        """The file and the key are enough."""
        assert faults(RAMP, **{key: 3}) == [f"first.toml: {key} = 3 must be text in quotes"]

    @pytest.mark.parametrize("heat", ["second", 1, ""])
    def test_of_which_heat_it_is_for_names_those_there_are(self, heat: object) -> None:
        """First, later, or no word."""
        assert faults(RAMP, heat=heat) == [
            f"first.toml: heat = {heat!r} is unknown; use first or later, or leave it out for any"
        ]

    def test_stays_one_line_whatever_the_segment_is_called(self) -> None:
        """A name may hold anything TOML can; a terminal should not obey it."""
        assert faults({**RAMP, "name": "up\n\x1b[2Jand away", "to": 5}) == [
            "first.toml: segment 1 'up\\n\\x1b[2Jand away': to = 5 is not a temperature such as '200 C'"
        ]


@pytest.mark.parametrize("heat", ["first", "later", None])
def test_a_schedule_may_say_which_heat_it_is_for(heat: str | None) -> None:
    """A watch warns of a new crucible on a later heat's schedule."""
    table: dict[str, object] = {"segment": [RAMP]} | ({} if heat is None else {"heat": heat})
    assert parse_schedule(table, "t").heat == heat


class TestUnknownKeys:
    @pytest.mark.parametrize(
        ("row", "key", "hint"),
        [
            (RAMP, "max_rates", "did you mean max_rate?"),
            (RAMP, "maxrate", "did you mean max_rate?"),
            (RAMP, "ceilling", "did you mean ceiling?"),
            (RAMP, "hold", "known keys: name, kind, say, within, ceiling, ask, to, max_rate, min_rate"),
            (SOAK, "bands", "did you mean band?"),
            (SOAK, "out-of-band", "did you mean out_of_band?"),
            (SOAK, "min_rate", "did you mean max_rate?"),
            (CARRY, "arrive_abov", "did you mean arrive_above?"),
            (COOL, "zzz", "known keys: name, kind, say, within, ceiling, ask, to, max_rate, hold"),
        ],
    )
    def test_in_a_segment_are_faults_with_the_nearest_name(self, row: dict[str, object], key: str, hint: str) -> None:
        """A limit that is misspelt would otherwise be no limit at all."""
        [fault] = [line for line in faults({**row, key: "5 C / min"}) if "unknown key" in line]
        assert fault == f"first.toml: segment 1 '{row['name']}': unknown key '{key}'; {hint}"

    def test_at_the_top_are_faults_too(self) -> None:
        """`segments` is what most people write first."""
        assert faults(RAMP, titel="x") == ["first.toml: unknown key 'titel'; did you mean title?"]
        with pytest.raises(ScheduleError) as refusal:
            parse_schedule({"segments": [RAMP]}, "first.toml")
        assert str(refusal.value).split("\n") == [
            "first.toml: unknown key 'segments'; did you mean segment?",
            "first.toml: no segments; a schedule needs at least one [[segment]] table",
        ]

    @pytest.mark.parametrize(
        ("row", "key"),
        [
            (RAMP, "at"),
            (RAMP, "band"),
            (RAMP, "out_of_band"),
            (RAMP, "arrive_above"),
            (SOAK, "to"),
            (CARRY, "to"),
            (CARRY, "max_rate"),
            (COOL, "min_rate"),
        ],
    )
    def test_include_keys_of_another_kind(self, row: dict[str, object], key: str) -> None:
        """A cool with a min_rate would silently not be watched for it."""
        assert any(f"unknown key {key!r}" in line for line in faults({**row, key: "x"}))


class TestThePath:
    @pytest.mark.parametrize(
        ("rows", "fault"),
        [
            (
                [RAMP, {**RAMP, "name": "again"}],
                "first.toml: segment 2 'again': to = 200 °C is not above the 200 °C before it; use a cool",
            ),
            (
                [SOAK, {**RAMP, "to": "150 C"}],
                "first.toml: segment 2 'up': to = 150 °C is not above the 200 °C before it; use a cool",
            ),
            (
                [RAMP, {**COOL, "to": "200 C"}],
                "first.toml: segment 2 'down': to = 200 °C is not below the 200 °C before it; use a ramp",
            ),
            (
                [{**COOL, "name": "first"}, {**COOL, "to": "100 C"}],
                "first.toml: segment 2 'down': to = 100 °C is not below the 60 °C before it; use a ramp",
            ),
            (
                [{**RAMP, "to": "215.1 C"}, SOAK],
                "first.toml: segment 2 'hold': at = 200 °C lies below the 215.1 °C already reached",
            ),
        ],
    )
    def test_must_lead_on(self, rows: list[dict[str, object]], fault: str) -> None:
        """A segment that is done before it begins is a mistake."""
        assert faults(*rows) == [fault]

    def test_may_overshoot_into_a_soaks_band(self) -> None:
        """A ramp to the band's upper edge still arrives in it."""
        accepted({**RAMP, "to": "215 C"}, SOAK)

    def test_starts_afresh_after_a_transfer(self) -> None:
        """The pot has cooled on the way: a ramp to less than the oven's temperature is a ramp."""
        accepted(RAMP, CARRY, {**RAMP, "name": "gently", "to": "150 C"})
        accepted(RAMP, CARRY, {**COOL, "to": "300 C"})
        accepted({**RAMP, "to": "500 C"}, CARRY, SOAK)

    def test_may_begin_anywhere(self) -> None:
        """A cool may be the whole of it."""
        accepted(COOL)
        accepted(SOAK)
        accepted(CARRY)

    def test_is_not_judged_while_anything_else_is_wrong(self) -> None:
        """What cannot be read leads nowhere, and would only give faults that are none."""
        lines = faults(RAMP, {**RAMP, "name": "again", "say": 1})
        assert lines == ["first.toml: segment 2 'again': say = 1 must be text in quotes"]


class TestSeveralFaults:
    def test_are_told_at_once_in_the_order_they_stand(self) -> None:
        """Three lines mistyped, three lines heard of; the segment without a kind does not hide the others."""
        lines = faults(
            {**RAMP, "to": "200", "min_rat": "8 C / min"},
            {"name": "what"},
            {"kind": "soak", "at": "300 C", "hold": "0 min", "band": []},
            title=5,
        )
        assert lines == [
            "first.toml: segment 1 'up': unknown key 'min_rat'; did you mean min_rate?",
            "first.toml: segment 1 'up': to = '200' is not a temperature such as '200 C'",
            "first.toml: segment 2 'what': kind is missing; use one of ramp, soak, transfer, cool",
            "first.toml: segment 3: name is missing; a soak segment needs it",
            "first.toml: segment 3: band = [] needs two differences such as ['-25 C', '+35 C']",
            "first.toml: segment 3: hold = '0 min' must be longer than zero",
            "first.toml: title = 5 must be text in quotes",
        ]

    def test_in_the_path_are_told_at_once(self) -> None:
        """Each against the segment before it as written."""
        assert len(faults(RAMP, {**RAMP, "to": "100 C"}, {**COOL, "to": "150 C"})) == 2


# Anything TOML or a header's JSON can hold, out of letters that could mean something.
TEXTS = st.text("CFKhmin/+-. 0159\n\x1b'\"°é٣", max_size=12)
VALUES: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=6,
)
ROW_KEYS = [
    "kind",
    "name",
    "to",
    "at",
    "band",
    "hold",
    "out_of_band",
    "max_rate",
    "min_rate",
    "ceiling",
    "within",
    "arrive_above",
    "say",
    "odd",
]
GOOD_BITS = st.sampled_from(["ramp", "soak", "transfer", "cool", "200 C", "20 min", "25 C / 15 min", "pause"])


@given(st.lists(st.dictionaries(st.sampled_from(ROW_KEYS), GOOD_BITS | VALUES, max_size=8), max_size=4))
def test_whatever_the_table_holds_it_is_a_schedule_or_a_schedule_error(rows: list[dict[str, Any]]) -> None:
    """Never another exception: a table comes from a person's file, or from a record's header."""
    with contextlib.suppress(ScheduleError):
        parse_schedule({"segment": rows}, "x.toml")


@pytest.mark.parametrize("kind", list(SegmentKind))
def test_every_required_key_of_a_kind_is_missed(kind: SegmentKind) -> None:
    """From a good segment, one at a time."""
    row = {"ramp": RAMP, "soak": SOAK, "transfer": CARRY, "cool": COOL}[kind]
    accepted(row)
    for key in row:
        if key != "kind":
            rest = {name: value for name, value in row.items() if name != key}
            [fault] = faults(rest)
            assert fault.endswith(f"{key} is missing; a {kind} segment needs it")


# What a segment asks in its course


def asking(**more: object) -> dict[str, Any]:
    ask = {"after": "20 min", "question": "Is there mist?", **more}
    segment = {"name": "drying", "kind": "ramp", "to": "200 C", "ask": [ask]}
    return {"title": "It asks", "segment": [segment]}


def test_what_a_segment_asks_is_sorted_by_its_time() -> None:
    """One alone may stand without a list."""
    table = asking(answers=["mist seen", " mist  gone "])
    table["segment"][0]["ask"].append({"after": "5 min", "question": "Flame  blue?"})
    asks = parse_schedule(table, "t").segments[0].asks
    assert [(each.after_s, each.question, each.answers) for each in asks] == [
        (300.0, "Flame blue?", ()),
        (1200.0, "Is there mist?", ("mist seen", "mist gone")),
    ]
    table["segment"][0]["ask"] = table["segment"][0]["ask"][0]
    assert len(parse_schedule(table, "t").segments[0].asks) == 1


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"after": "soon"}, "ask 1: after = "),
        ({"question": ""}, "ask 1: question has 0 letters"),
        ({"question": "x" * 201}, "ask 1: question has 201 letters"),
        ({"answers": "yes"}, "ask 1: answers = 'yes' must be texts"),
        ({"answers": ["x" * 41]}, "must be texts of at most 40 letters"),
        ({"answers": list("abcdefg")}, "ask 1: 7 answers; at most 6"),
        ({"answer": ["yes"]}, "unknown key 'answer'; did you mean answers?"),
    ],
)
def test_a_question_that_cannot_be_asked_says_why(more: dict[str, object], why: str) -> None:
    """With its segment and its place in it."""
    with pytest.raises(ScheduleError) as error:
        parse_schedule(asking(**more), "t")
    assert why in str(error.value)
    assert "segment 1 'drying'" in str(error.value)


@pytest.mark.parametrize("rows", ["20 min", [5], [{"after": "1 min", "question": "?"}] * 51])
def test_what_is_no_list_of_questions_says_what_would_be_one(rows: object) -> None:
    """Or that there are too many."""
    table = asking()
    table["segment"][0]["ask"] = rows
    with pytest.raises(ScheduleError, match="ask "):
        parse_schedule(table, "t")


@pytest.mark.parametrize("checklist", ["Tongs", [""], [5], ["x"] * 21, ["x" * 201]])
def test_a_checklist_that_is_none_says_what_would_be_one(checklist: object) -> None:
    """Or how long it may be."""
    with pytest.raises(ScheduleError, match="t: checklist "):
        parse_schedule({**asking(), "checklist": checklist}, "t")
    assert parse_schedule({**asking(), "checklist": [" Tongs  dry "]}, "t").checklist == ("Tongs dry",)
