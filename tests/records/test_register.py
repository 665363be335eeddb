"""The register: crucibles by their marks, heats each entered once, and what they come to."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from tests.records.registered import A3, figures

from rampwarden.core.physics import DryHeat
from rampwarden.database import SqliteFile
from rampwarden.errors import RegisterError, UnknownMarkError
from rampwarden.records.crucibles import Crucible, History, checked, pot_of
from rampwarden.records.heat_figures import PhysicsFigures
from rampwarden.records.register import Register
from rampwarden.records.register_rows import RegisteredHeat
from rampwarden.records.register_schema import REGISTER


@pytest.fixture(params=["file", "server"])
def register(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Register]:
    """Give a register with A3 in it: each test holds for a file and for a shop's server."""
    is_file = request.param == "file"
    where = tmp_path / "crucibles.sqlite" if is_file else request.getfixturevalue("shop_url")
    with Register.open(where, create=True) as books:
        books.add(A3)
        yield books


# Crucibles


def test_a_crucible_comes_back_as_it_was_given(register: Register) -> None:
    """Every field, the sheet's limits in their usual writing."""
    whole = Crucible(
        mark="B 7/2",
        crucible_class="fireclay",
        description="glass pot",
        wall_mm=25.0,
        capacity_kg=12.5,
        mass_new_kg=8.2,
        metal="glass",
        bought="2025-11-01",
        first_used="2025-12-24",
        retired="2026-06-01",
        retired_why="crack",
        stored="damp",
        stored_on="2026-01-02",
        sheet_id="sheet 7",
        sheet_top_c=1250.0,
        sheet=("20-200 C: 30 C/h", "cooling 650-500 C: at most 50 C / h"),
        note="a gift",
    )
    limits = ("20-200 C: at most 30 C / 1 h", "cooling 500-650 C: at most 50 C / 1 h")
    register.add(whole)
    assert register.crucible("B 7/2") == msgspec.structs.replace(whole, sheet=limits)


def test_a_mark_is_the_same_written_large_or_small(register: Register) -> None:
    """What is painted on a pot is read by people."""
    assert register.crucible("a3") == A3
    with pytest.raises(
        RegisterError, match=r"mark 'a3' is taken \(capitals make no difference\); one mark, one crucible"
    ):
        register.add(Crucible("a3", "fireclay"))
    assert len(register.crucibles()) == 1


def test_an_unknown_mark_is_told_with_those_there_are(register: Register) -> None:
    """Whatever is asked of it."""
    line = "no crucible is marked 'X'; there are: A3; add one with: rampwarden crucible add MARK"
    for ask in (
        lambda: register.crucible("X"),
        lambda: register.history("X"),
        lambda: register.heats("X"),
        lambda: register.enter("X", figures()),
        lambda: register.replace("X", A3),
    ):
        with pytest.raises(UnknownMarkError) as caught:
            ask()
        assert str(caught.value) == line


def test_an_unknown_mark_in_an_empty_register_is_told_so(tmp_path: Path) -> None:
    """There is none to name."""
    with Register.open(tmp_path / "r.sqlite", create=True) as books, pytest.raises(UnknownMarkError, match="none yet"):
        books.crucible("A3")


def test_a_crucible_can_be_amended_and_renamed_and_keeps_its_heats(register: Register) -> None:
    """But not to another's mark."""
    register.enter("A3", figures())
    register.add(Crucible("B1", "fireclay"))
    register.replace("a3", msgspec.structs.replace(A3, mark="A4", wall_mm=18.0))
    assert register.crucible("A4").wall_mm == 18.0
    assert len(register.heats("A4")) == 1
    with pytest.raises(RegisterError, match="mark 'b1' is taken"):
        register.replace("A4", msgspec.structs.replace(A3, mark="b1"))
    # Its own mark, written otherwise, is not taken.
    register.replace("A4", msgspec.structs.replace(A3, mark="a4"))


def test_retired_crucibles_are_listed_last(register: Register) -> None:
    """Else by mark."""
    register.add(Crucible("A1", "fireclay", retired="2026-01-01"))
    register.add(Crucible("B1", "fireclay"))
    assert [crucible.mark for crucible, _ in register.crucibles()] == ["A3", "B1", "A1"]


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ({"mark": ""}, "mark '': needs 1 to 40 printable letters, no blank at either end"),
        ({"mark": " A3"}, "mark ' A3': needs"),
        ({"mark": "A\x1b[2J"}, "mark 'A\\x1b[2J': needs"),
        ({"mark": "x" * 41}, "needs 1 to 40 printable letters"),
        ({"crucible_class": "clay"}, "class 'clay' is unknown; use one of clay-graphite, carbon-bonded-sic, "),
        ({"stored": "wet"}, "stored 'wet': use dry or damp"),
        ({"bought": "yesterday"}, "bought = 'yesterday': is no date such as 2026-01-31"),
        ({"first_used": "20260131"}, "first_used = '20260131': is no date such as 2026-01-31"),
        ({"retired": "2026-02-30"}, "retired = '2026-02-30': is no date"),
        ({"wall_mm": 0.02}, "wall_mm = 0.02: must lie between 1 and 200; is the unit right?"),
        ({"wall_mm": float("nan")}, "wall_mm = nan: must lie"),
        ({"mass_new_kg": 3410.0}, "mass_new_kg = 3410: must lie between 0.01 and 2000; is the unit right?"),
        ({"sheet_top_c": 20.0}, "sheet_top_c = 20: must lie between 100 and 2500"),
        ({"note": "x" * 501}, "note: at most 500 letters"),
        ({"sheet": ("slowly",)}, "limit 'slowly' is not a limit such as"),
    ],
)
def test_what_cannot_be_of_a_crucible_is_refused_in_one_line(
    changes: dict[str, object], complaint: str, register: Register
) -> None:
    """And nothing is written."""
    with pytest.raises(RegisterError) as caught:
        register.add(msgspec.structs.replace(Crucible("B1", "fireclay"), **changes))
    assert complaint in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(register.crucibles()) == 1


def test_a_plan_gets_what_the_register_knows() -> None:
    """Class, wall, and the sheet as limits."""
    pot = pot_of(checked(msgspec.structs.replace(A3, sheet=("20-200 C: 30 C/h",), sheet_top_c=1400.0)), "it is new")
    assert (pot.crucible_class, pot.wall_mm, pot.sheet_top_c, pot.must_dry) == (
        "clay-graphite",
        20.0,
        1400.0,
        "it is new",
    )
    assert [str(limit) for limit in pot.sheet] == ["20-200 C: at most 30 C / 1 h"]


# Heats


def test_a_heat_comes_back_as_it_was_entered(register: Register) -> None:
    """Every figure, segment and alarm."""
    assert register.enter("a3", figures())
    assert register.heats("A3") == [RegisteredHeat(figures(), None, "")]
    assert register.entered() == {"r1"}
    assert register.entry("r1") == ("A3", True)
    assert register.entry("r2") is None


def test_a_record_is_entered_once_whoever_asks(register: Register) -> None:
    """The second time, even for another crucible, changes nothing."""
    register.add(Crucible("B1", "fireclay"))
    register.enter("A3", figures())
    assert not register.enter("A3", figures(peak_c=20.0))
    assert not register.enter("B1", figures())
    assert [heat.figures.peak_c for heat in register.heats("A3")] == [1151.0]
    assert register.heats("B1") == []


def test_a_heat_from_an_unfinished_record_is_entered_anew_when_it_is_closed(register: Register) -> None:
    """With the mass and the look that were noted meanwhile; and only for the same crucible."""
    register.add(Crucible("B1", "fireclay"))
    register.enter("A3", figures(closed=False, peak_c=700.0, segments=()))
    register.note_afterwards("r1", 3.4, None)
    assert not register.enter("A3", figures(closed=False))
    assert not register.enter("B1", figures())
    assert register.enter("A3", figures())
    assert register.heats("A3") == [RegisteredHeat(figures(), 3.4, "")]


def test_a_heat_can_be_entered_again_for_another_crucible(register: Register) -> None:
    """It moves, keeps what was seen of the pot, and leaves nothing behind."""
    register.add(Crucible("B1", "fireclay"))
    register.enter("A3", figures())
    register.note_afterwards("r1", 3.4, "fine")
    register.enter_again("B1", figures(peak_c=1150.0))
    assert register.heats("A3") == []
    assert register.heats("B1") == [RegisteredHeat(figures(peak_c=1150.0, mark="B1"), 3.4, "fine")]


def test_mass_and_look_that_were_marked_in_the_heat_are_entered_with_it_and_yield_to_what_is_told_later(
    register: Register,
) -> None:
    """Also of a heat that was entered before they were marked."""
    register.enter("A3", figures(closed=False))
    register.enter("A3", figures(mass_after_kg=3.38, look="even ring"))
    [heat] = register.heats("A3")
    assert (heat.mass_after_kg, heat.look) == (3.38, "even ring")
    register.note_afterwards("r1", 3.4, None)
    register.enter_again("A3", figures(mass_after_kg=3.38, look="dull"))
    register.enter("A3", figures(record_id="r2", mass_after_kg=3.3, look="fine"))
    assert [(heat.mass_after_kg, heat.look) for heat in register.heats("A3")] == [(3.4, "even ring"), (3.3, "fine")]


def test_mass_and_look_are_noted_apart(register: Register) -> None:
    """What is not given stays."""
    register.enter("A3", figures())
    register.note_afterwards("r1", 3.38, None)
    register.note_afterwards("r1", None, "rings dull")
    [heat] = register.heats("A3")
    assert (heat.mass_after_kg, heat.look) == (3.38, "rings dull")


def test_a_mass_in_grams_and_a_heat_that_is_none_are_refused(register: Register) -> None:
    """In one line each."""
    register.enter("A3", figures())
    with pytest.raises(RegisterError, match="mass 3380 kg: must lie between"):
        register.note_afterwards("r1", 3380.0, None)
    with pytest.raises(RegisterError, match="the heat r9 has not been entered"):
        register.note_afterwards("r9", 3.38, None)
    with pytest.raises(RegisterError, match="the heat r9 has not been entered"):
        register.enter_again("A3", figures("r9"))


def test_a_history_adds_up_the_heats_and_leaves_rehearsals_out(register: Register) -> None:
    """Counts, the last, the highest, hours, dose, and the mass last weighed."""
    register.enter("A3", figures("r1", started="2026-01-10T09:00:00Z", peak_c=1160.0))
    register.enter("A3", figures("r2", started="2026-02-01T09:00:00Z", peak_c=1100.0))
    register.enter("A3", figures("r3", started="2026-03-01T09:00:00Z", peak_c=1300.0, rehearsal=True))
    register.note_afterwards("r1", 3.39, None)
    register.note_afterwards("r3", 9.99, None)
    expected = History(
        heats=2,
        rehearsals=1,
        last="2026-02-01T09:00:00Z",
        peak_c=1160.0,
        hot_h=pytest.approx(3.6),
        dose_min=pytest.approx(1410.0),
        last_mass_kg=3.39,
    )
    assert register.history("A3") == expected
    assert register.crucibles() == [(register.crucible("A3"), expected)]


def test_the_first_real_heat_dates_the_first_use(register: Register) -> None:
    """An earlier one that is entered later dates it anew; a rehearsal does not."""
    register.enter("A3", figures("r0", started="2025-01-01T09:00:00Z", rehearsal=True))
    assert register.crucible("A3").first_used == ""
    register.enter("A3", figures("r2", started="2026-02-01T09:00:00Z"))
    assert register.crucible("A3").first_used == "2026-02-01"
    register.enter("A3", figures("r1", started="2026-01-10T09:00:00Z"))
    register.enter("A3", figures("r3", started="2026-05-01T09:00:00Z"))
    assert register.crucible("A3").first_used == "2026-01-10"


def test_heats_stand_in_the_order_in_which_they_began(register: Register) -> None:
    """Not in that in which they were entered."""
    for number, day in (("r3", 20), ("r1", 10), ("r2", 15)):
        register.enter("A3", figures(number, started=f"2026-01-{day}T09:00:00Z"))
    assert [heat.figures.record_id for heat in register.heats("A3")] == ["r1", "r2", "r3"]


def test_a_change_that_fails_halfway_changes_nothing(register: Register) -> None:
    """A heat with two segments of one number: the heat itself is not there either."""
    twice = figures(segments=(figures().segments[0], figures().segments[0]))
    with pytest.raises(RegisterError):
        register.enter("A3", twice)
    assert register.heats("A3") == []
    assert register.crucible("A3").first_used == ""


def test_listing_and_showing_take_as_many_queries_for_200_heats_as_for_one(tmp_path: Path) -> None:
    """How long they take, the benchmark tells; that it does not grow with each heat, this does."""
    path = tmp_path / "r.sqlite"
    asked: list[str] = []

    def queries() -> int:
        connection = sqlite3.connect(path, isolation_level=None)
        connection.set_trace_callback(asked.append)
        asked.clear()
        with Register(SqliteFile(path, REGISTER, connection)) as books:
            books.crucibles()
            books.entered()
            books.crucible("A3")
            books.history("A3")
            heats = books.heats("A3")
        assert all(len(heat.figures.segments) == 3 for heat in heats)
        return len(asked)

    with Register.open(path, create=True) as books:
        for number in range(10):
            books.add(msgspec.structs.replace(A3, mark=f"A{number}"))
        books.enter("A3", figures("first"))
        with_one = queries()
        for number in range(199):
            books.enter(f"A{number % 10}", figures(f"r{number}"))
        assert queries() == with_one
        assert with_one <= 8


def test_what_the_last_dry_heat_showed_of_its_oven_is_given_and_no_other(register: Register) -> None:
    """Of real heats of this pot; heats without a balance are passed over."""
    assert register.dry_heat("A3") is None
    early, late, rehearsed = DryHeat(2.5, 0.4, 1.0), DryHeat(2.9, 0.3, -2.0), DryHeat(9.0, 0.0, 0.0)
    for number, (dry, rehearsal) in enumerate(((early, False), (late, False), (rehearsed, True), (None, False))):
        physics = PhysicsFigures(dry_heat=dry) if dry else PhysicsFigures()
        started = f"2026-01-1{number}T09:00:00Z"
        register.enter("A3", figures(f"r{number}", started=started, rehearsal=rehearsal, physics=physics))
    assert register.dry_heat("a3") == late
    with pytest.raises(UnknownMarkError):
        register.dry_heat("B9")
