"""The crucible register: which pots there are, and what each heat did to them, in a file or on a shop's server.

Owns every question asked of it; `database` has the file or the server. Each change is one transaction, lasting before
the call returns. Whatever is wrong with the register becomes a `RegisterError` of one line; the watch goes on without
one, and a heat can be entered later from its record.
"""

import contextlib
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Self

import msgspec

from rampwarden.core.physics import DryHeat
from rampwarden.core.pot import PotAccount, PotHappening
from rampwarden.database import Database, SqliteFile, Value, Where, connect, is_server
from rampwarden.errors import RegisterError, UnknownMarkError
from rampwarden.records.crucibles import Crucible, History, checked
from rampwarden.records.figures import POT_KG, HeatFigures, PhysicsFigures, SegmentFigures
from rampwarden.records.register_life import Happened, PotLife, pot_life
from rampwarden.records.register_rows import (
    CRUCIBLE_COLUMNS,
    HEAT_COLUMNS,
    HISTORY,
    SEGMENT_COLUMNS,
    RegisteredHeat,
    account_text,
    crucible_from,
    crucible_row,
    entered_from,
    heat_from,
    heat_row,
    history_from,
    segment_from,
    whole_numbers,
)
from rampwarden.records.register_schema import REGISTER

# How long a locked register is waited for: longer than any of our own transactions takes, and a watch that ends may not
# be held up for more.
PATIENCE_S = 3.0


class Register:
    """An open register; `open` is the way in, and a `with` closes it."""

    def __init__(self, database: Database) -> None:
        """Take over open tables; `database` is for the register's own modules."""
        self.database = database

    @classmethod
    def open(cls, where: Where, *, create: bool = False, patience_s: float = PATIENCE_S) -> Self:
        """Open the register, brought to the present version; raises `RegisterError` if it cannot be.

        `where` is a file, or a server by its URL. `create` makes it, and a file's folder, when missing.
        """
        if isinstance(where, str) and is_server(where):
            return cls(connect(where, REGISTER, create=create, patience_s=patience_s))
        return cls(SqliteFile.open(Path(where), REGISTER, create=create, patience_s=patience_s))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of it."""
        self.database.close()

    @property
    def name(self) -> str:
        """Where it is, fit to be shown."""
        return self.database.name

    # Crucibles

    def add(self, crucible: Crucible, happened: Iterable[Happened] = ()) -> Crucible:
        """Register a crucible with what has happened to it.

        Raises `RegisterError` if its mark is taken or something of it cannot be.
        """
        crucible = checked(crucible)
        with self._changing():
            if self._id_of(crucible.mark) is not None:
                raise _taken(crucible.mark)
            self._note_happenings(self.database.insert_numbered("crucible", crucible_row(crucible)), happened)
        return crucible

    def replace(self, mark: str, crucible: Crucible, happened: Iterable[Happened] = ()) -> Crucible:
        """Put a crucible in the place of the one marked `mark`; its heats stay, and what `happened` is added."""
        crucible = checked(crucible)
        with self._changing():
            number = self._known_id(mark)
            if self._id_of(crucible.mark) not in (None, number):
                raise _taken(crucible.mark)
            row = crucible_row(crucible)
            settings = ", ".join(f"{name} = :{name}" for name in row)
            self.database.change(f"UPDATE crucible SET {settings} WHERE id = :id", **row, id=number)
            self._note_happenings(number, happened)
        return crucible

    def crucible(self, mark: str) -> Crucible:
        """Give the crucible of that mark; raises `UnknownMarkError` naming those there are."""
        columns = ", ".join(CRUCIBLE_COLUMNS)
        row = self.database.row(f"SELECT {columns} FROM crucible WHERE mark = :mark", mark=mark)
        if row is None:
            raise self._unknown(mark)
        with self._understanding():
            return crucible_from(row)

    def crucibles(self) -> list[tuple[Crucible, History]]:
        """Give every crucible with its history, by mark; those retired last."""
        columns = ", ".join(CRUCIBLE_COLUMNS)
        query = f"SELECT {columns}, {HISTORY} FROM crucible ORDER BY retired <> '', mark"
        count = len(CRUCIBLE_COLUMNS)
        rows = self.database.rows(query)
        with self._understanding():
            return [(crucible_from(row[:count]), history_from(row[count:])) for row in rows]

    def history(self, mark: str) -> History:
        """Give what a crucible's heats come to; raises `UnknownMarkError`."""
        row = self.database.row(f"SELECT {HISTORY} FROM crucible WHERE mark = :mark", mark=mark)
        if row is None:
            raise self._unknown(mark)
        with self._understanding():
            return history_from(row)

    def life(self, mark: str, today: date) -> PotLife:
        """Give what a crucible is ready for as of `today` (in UTC), and what of; raises `UnknownMarkError`."""
        rows = self.database.rows(
            "SELECT started, seconds, hot_h, account FROM heat WHERE crucible_id = :number AND rehearsal = 0 "
            "ORDER BY started, id",
            number=self._known_id(mark),
        )
        with self._understanding():
            heats = [entered_from(row) for row in rows]
            return pot_life(self.crucible(mark), heats, self.happenings(mark), today)

    def happenings(self, mark: str) -> list[Happened]:
        """Give what befell a crucible between its heats, oldest first; raises `UnknownMarkError`."""
        rows = self.database.rows(
            "SELECT what, at, note FROM happening WHERE crucible_id = :number ORDER BY at, id",
            number=self._known_id(mark),
        )
        with self._understanding():
            return [msgspec.convert({"what": what, "at": at, "note": note}, Happened) for what, at, note in rows]

    # Heats

    def enter(self, mark: str, figures: HeatFigures, account: PotAccount | None = None) -> bool:
        """Enter a heat for a crucible; gives False, and changes nothing, if that record has been entered already.

        `account` is what it has shown of the pot; without one it has shown nothing.

        A heat that was entered from an unfinished record is entered anew once the record has been closed. The first
        real heat dates the crucible's first use.
        """
        with self._changing():
            number = self._known_id(mark)
            known = self.database.row(
                "SELECT id, crucible_id, closed FROM heat WHERE record_id = :record_id", record_id=figures.record_id
            )
            if known is not None:
                heat_id, owner, closed = whole_numbers(known)
                if closed or not figures.closed or owner != number:
                    return False
                self._write_figures(heat_id, figures, account)
            else:
                row = {**heat_row(figures), "crucible_id": number, "mass_after_kg": figures.mass_after_kg or None}
                row["look"] = figures.look or ""
                row["account"] = account_text(account)
                self._write_segments(self.database.insert_numbered("heat", row), figures)
            if not figures.rehearsal:
                self._note_use(number, figures)
        return True

    def enter_again(self, mark: str, figures: HeatFigures, account: PotAccount | None = None) -> None:
        """Enter a heat that has been entered before: new figures, perhaps another crucible; mass and look stay."""
        with self._changing():
            number = self._known_id(mark)
            heat_id, owner = self._known_heat(figures.record_id)
            self.database.change("UPDATE heat SET crucible_id = :number WHERE id = :id", number=number, id=heat_id)
            self._write_figures(heat_id, figures, account)
            if owner != number:
                self._forget_use(owner, figures)
            if not figures.rehearsal:
                self._note_use(number, figures)

    def note_afterwards(self, record_id: str, mass_after_kg: float | None, look: str | None) -> None:
        """Note what the pot weighed and looked like after a heat; None leaves what stands there."""
        if mass_after_kg is not None and not POT_KG[0] <= mass_after_kg <= POT_KG[1]:
            least_kg, most_kg = POT_KG
            raise RegisterError(
                f"mass {mass_after_kg:g} kg: must lie between {least_kg:g} and {most_kg:g}; is the unit right?"
            )
        with self._changing():
            heat_id, _ = self._known_heat(record_id)
            if mass_after_kg is not None:
                statement = "UPDATE heat SET mass_after_kg = :kg WHERE id = :id"
                self.database.change(statement, kg=mass_after_kg, id=heat_id)
            if look is not None:
                self.database.change("UPDATE heat SET look = :look WHERE id = :id", look=look, id=heat_id)

    def entry(self, record_id: str) -> tuple[str, bool] | None:
        """Give the mark a record was entered for, and whether it was closed then; None if it has not been entered."""
        query = "SELECT mark, closed FROM heat JOIN crucible ON crucible.id = crucible_id WHERE record_id = :record_id"
        row = self.database.row(query, record_id=record_id)
        return None if row is None else (str(row[0]), bool(row[1]))

    def entered(self) -> frozenset[str]:
        """Give the ids of all records that have been entered."""
        return frozenset(str(row[0]) for row in self.database.rows("SELECT record_id FROM heat"))

    def dry_heat(self, mark: str) -> DryHeat | None:
        """Give what the last heat of a crucible that was dry showed of its oven; raises `UnknownMarkError`."""
        row = self.database.row(
            "SELECT physics FROM heat WHERE crucible_id = :number AND rehearsal = 0 AND physics LIKE '%\"dry_heat\"%' "
            "ORDER BY started DESC LIMIT 1",
            number=self._known_id(mark),
        )
        return None if row is None else msgspec.json.decode(str(row[0]), type=PhysicsFigures).dry_heat

    def heats(self, mark: str) -> list[RegisteredHeat]:
        """Give a crucible's heats, oldest first; raises `UnknownMarkError`."""
        columns = ", ".join(f"heat.{name}" for name in (*HEAT_COLUMNS, "id", "mass_after_kg", "look", "account"))
        parts = ", ".join(f"segment.{name}" for name in SEGMENT_COLUMNS)
        number = self._known_id(mark)
        rows = self.database.rows(
            f"SELECT {columns} FROM heat WHERE crucible_id = :number ORDER BY started, id", number=number
        )
        of_segments = self.database.rows(
            f"SELECT heat_id, {parts} FROM segment JOIN heat ON heat.id = heat_id WHERE crucible_id = :number "
            "ORDER BY heat_id, number",
            number=number,
        )
        with self._understanding():
            segments: dict[object, list[SegmentFigures]] = {}
            for heat_id, *row in of_segments:
                segments.setdefault(heat_id, []).append(segment_from(row))
            return [heat_from(row, mark, segments) for row in rows]

    # The tables

    @contextlib.contextmanager
    def _changing(self) -> Iterator[None]:
        """One transaction: all of it lasting, or nothing."""
        with self._understanding(), self.database.changing():
            yield

    @contextlib.contextmanager
    def _understanding(self) -> Iterator[None]:
        """Say in one line what stands in the tables and is none of ours."""
        try:
            yield
        except msgspec.MsgspecError as error:
            raise RegisterError(f"{self.name}: holds what this program did not write: {error}") from error

    def _id_of(self, mark: str) -> int | None:
        row = self.database.row("SELECT id FROM crucible WHERE mark = :mark", mark=mark)
        return None if row is None else whole_numbers(row)[0]

    def _known_id(self, mark: str) -> int:
        number = self._id_of(mark)
        if number is None:
            raise self._unknown(mark)
        return number

    def _known_heat(self, record_id: str) -> tuple[int, int]:
        row = self.database.row("SELECT id, crucible_id FROM heat WHERE record_id = :record_id", record_id=record_id)
        if row is None:
            raise RegisterError(f"{self.name}: the heat {record_id} has not been entered")
        heat_id, owner = whole_numbers(row)
        return heat_id, owner

    def _unknown(self, mark: str) -> UnknownMarkError:
        marks = [str(row[0]) for row in self.database.rows("SELECT mark FROM crucible ORDER BY mark LIMIT 12")]
        known = f"there are: {', '.join(marks)}" if marks else "there is none yet"
        return UnknownMarkError(f"no crucible is marked {mark!r}; {known}; add one with: rampwarden crucible add MARK")

    def _note_happenings(self, number: int, happened: Iterable[Happened]) -> None:
        for each in happened:
            row: dict[str, Value] = {"what": str(PotHappening(each.what)), "at": each.at, "note": each.note}
            self.database.insert_numbered("happening", {"crucible_id": number, **row})

    def _write_figures(self, heat_id: int, figures: HeatFigures, account: PotAccount | None) -> None:
        row = {**heat_row(figures), "account": account_text(account)}
        settings = ", ".join(f"{name} = :{name}" for name in row)
        self.database.change(f"UPDATE heat SET {settings} WHERE id = :id", **row, id=heat_id)
        self.database.change("DELETE FROM segment WHERE heat_id = :id", id=heat_id)
        self._write_segments(heat_id, figures)
        # What was told since then by `note_afterwards` stands.
        if kg := figures.mass_after_kg:
            statement = "UPDATE heat SET mass_after_kg = :kg WHERE id = :id AND mass_after_kg IS NULL"
            self.database.change(statement, kg=kg, id=heat_id)
        if look := figures.look:
            self.database.change("UPDATE heat SET look = :look WHERE id = :id AND look = ''", look=look, id=heat_id)

    def _write_segments(self, heat_id: int, figures: HeatFigures) -> None:
        for segment in figures.segments:
            self.database.insert("segment", {"heat_id": heat_id, **msgspec.structs.asdict(segment)})

    def _note_use(self, number: int, figures: HeatFigures) -> None:
        """Date the first use."""
        self.database.change(
            "UPDATE crucible SET first_used = :day WHERE id = :number AND (first_used = '' OR first_used > :day)",
            day=figures.started[:10],
            number=number,
        )

    def _forget_use(self, number: int, figures: HeatFigures) -> None:
        """Date the first use anew where a heat that has gone to another crucible had dated it."""
        self.database.change(
            "UPDATE crucible SET first_used = coalesce((SELECT substr(min(started), 1, 10) FROM heat "
            "WHERE crucible_id = crucible.id AND rehearsal = 0), '') WHERE id = :number AND first_used = :day",
            number=number,
            day=figures.started[:10],
        )


def _taken(mark: str) -> RegisterError:
    return RegisterError(f"mark {mark!r} is taken (capitals make no difference); one mark, one crucible")
