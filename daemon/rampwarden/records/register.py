"""The crucible register: which pots there are, and what each heat did to them, in one SQLite file.

Owns the file: opening, locking, versions, and every question asked of it. Each change is one transaction, on the disk
before the call returns. Whatever is wrong with the file becomes a `RegisterError` of one line; the watch goes on
without a register, and a heat can be entered later from its record.
"""

import contextlib
import sqlite3
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Self
from urllib.parse import quote

import msgspec

from rampwarden.core.physics import DryHeat
from rampwarden.core.pot import PotAccount, PotHappening
from rampwarden.errors import RegisterError, UnknownMarkError
from rampwarden.records.crucibles import Crucible, History, checked
from rampwarden.records.figures import HeatFigures, PhysicsFigures, SegmentFigures
from rampwarden.records.register_life import EnteredHeat, Happened, PotLife, pot_life
from rampwarden.records.register_rows import (
    CRUCIBLE_COLUMNS,
    HEAT_COLUMNS,
    HISTORY,
    SEGMENT_COLUMNS,
    RegisteredHeat,
    account_from,
    account_text,
    crucible_from,
    crucible_row,
    heat_from,
    heat_row,
)
from rampwarden.records.register_schema import prepare, roll_back, translating

# How long a locked register is waited for: longer than any of our own transactions takes, and a watch that ends may not
# be held up for more.
PATIENCE_S = 3.0

_BY_MARK = "SELECT id FROM crucible WHERE mark = ?"


class Register:
    """An open register; `open` is the way in, and a `with` closes it."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        """Take over an open connection."""
        self.path = path
        self._connection = connection

    @classmethod
    def open(cls, path: Path, *, create: bool = False, patience_s: float = PATIENCE_S) -> Self:
        """Open the register, brought to the present version; raises `RegisterError` if it cannot be.

        `create` makes it, and its folder, when missing.
        """
        try:
            if create:
                path.parent.mkdir(parents=True, exist_ok=True)
            elif not path.exists():
                raise RegisterError(f"{path}: there is no register yet; it begins with: rampwarden crucible add MARK")
        except OSError as error:
            raise RegisterError(f"{path}: the register cannot be opened: {error.strerror}") from error
        with translating(path):
            mode = "rwc" if create else "rw"
            connection = sqlite3.connect(
                f"file:{quote(str(path))}?mode={mode}", uri=True, timeout=patience_s, isolation_level=None
            )
        try:
            with translating(path):
                prepare(path, connection)
        except BaseException:
            connection.close()
            raise
        return cls(path, connection)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    # Crucibles

    def add(self, crucible: Crucible, happened: Iterable[Happened] = ()) -> Crucible:
        """Register a crucible with what has happened to it.

        Raises `RegisterError` if its mark is taken or something of it cannot be.
        """
        crucible = checked(crucible)
        with self._changing():
            if self._id_of(crucible.mark) is not None:
                raise _taken(crucible.mark)
            self._note_happenings(self._insert("crucible", crucible_row(crucible)), happened)
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
            self._connection.execute(f"UPDATE crucible SET {settings} WHERE id = :id", {**row, "id": number})
            self._note_happenings(number, happened)
        return crucible

    def crucible(self, mark: str) -> Crucible:
        """Give the crucible of that mark; raises `UnknownMarkError` naming those there are."""
        columns = ", ".join(CRUCIBLE_COLUMNS)
        with translating(self.path):
            row = self._connection.execute(f"SELECT {columns} FROM crucible WHERE mark = ?", (mark,)).fetchone()
            if row is None:
                raise self._unknown(mark)
            return crucible_from(row)

    def crucibles(self) -> list[tuple[Crucible, History]]:
        """Give every crucible with its history, by mark; those retired last."""
        columns = ", ".join(CRUCIBLE_COLUMNS)
        query = f"SELECT {columns}, {HISTORY} FROM crucible ORDER BY retired <> '', mark"
        with translating(self.path):
            count = len(CRUCIBLE_COLUMNS)
            rows = self._connection.execute(query).fetchall()
            return [(crucible_from(row[:count]), History(*row[count:])) for row in rows]

    def history(self, mark: str) -> History:
        """Give what a crucible's heats come to; raises `UnknownMarkError`."""
        with translating(self.path):
            row = self._connection.execute(f"SELECT {HISTORY} FROM crucible WHERE mark = ?", (mark,)).fetchone()
            if row is None:
                raise self._unknown(mark)
        return History(*row)

    def life(self, mark: str, today: date) -> PotLife:
        """Give what a crucible is ready for as of `today` (in UTC), and what of; raises `UnknownMarkError`."""
        with translating(self.path):
            number = self._known_id(mark)
            rows = self._connection.execute(
                "SELECT started, seconds, hot_h, account FROM heat WHERE crucible_id = ? AND NOT rehearsal "
                "ORDER BY started, id",
                (number,),
            ).fetchall()
            heats = [
                EnteredHeat(started, seconds, hot_h, account_from(account)) for started, seconds, hot_h, account in rows
            ]
            return pot_life(self.crucible(mark), heats, self.happenings(mark), today)

    def happenings(self, mark: str) -> list[Happened]:
        """Give what befell a crucible between its heats, oldest first; raises `UnknownMarkError`."""
        with translating(self.path):
            rows = self._connection.execute(
                "SELECT what, at, note FROM happening WHERE crucible_id = ? ORDER BY at, id", (self._known_id(mark),)
            ).fetchall()
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
            known = self._connection.execute(
                "SELECT heat.id, crucible_id, closed FROM heat WHERE record_id = ?", (figures.record_id,)
            ).fetchone()
            if known is not None:
                heat_id, owner, closed = known
                if closed or not figures.closed or owner != number:
                    return False
                self._write_figures(heat_id, figures, account)
            else:
                row = {**heat_row(figures), "crucible_id": number, "mass_after_kg": None, "look": ""}
                row["account"] = account_text(account)
                self._write_segments(self._insert("heat", row), figures)
            if not figures.rehearsal:
                self._note_use(number, figures)
        return True

    def enter_again(self, mark: str, figures: HeatFigures, account: PotAccount | None = None) -> None:
        """Enter a heat that has been entered before: new figures, perhaps another crucible; mass and look stay."""
        with self._changing():
            number = self._known_id(mark)
            heat_id, owner = self._known_heat(figures.record_id)
            self._connection.execute("UPDATE heat SET crucible_id = ? WHERE id = ?", (number, heat_id))
            self._write_figures(heat_id, figures, account)
            if owner != number:
                self._forget_use(owner, figures)
            if not figures.rehearsal:
                self._note_use(number, figures)

    def note_afterwards(self, record_id: str, mass_after_kg: float | None, look: str | None) -> None:
        """Note what the pot weighed and looked like after a heat; None leaves what stands there."""
        if mass_after_kg is not None and not 0.01 <= mass_after_kg <= 2000.0:
            raise RegisterError(f"mass {mass_after_kg:g} kg: must lie between 0.01 and 2000; is the unit right?")
        with self._changing():
            heat_id, _ = self._known_heat(record_id)
            self._connection.execute(
                "UPDATE heat SET mass_after_kg = coalesce(?, mass_after_kg), look = coalesce(?, look) WHERE id = ?",
                (mass_after_kg, look, heat_id),
            )

    def entry(self, record_id: str) -> tuple[str, bool] | None:
        """Give the mark a record was entered for, and whether it was closed then; None if it has not been entered."""
        query = "SELECT mark, closed FROM heat JOIN crucible ON crucible.id = crucible_id WHERE record_id = ?"
        with translating(self.path):
            row = self._connection.execute(query, (record_id,)).fetchone()
        return None if row is None else (str(row[0]), bool(row[1]))

    def entered(self) -> frozenset[str]:
        """Give the ids of all records that have been entered."""
        with translating(self.path):
            rows = self._connection.execute("SELECT record_id FROM heat").fetchall()
        return frozenset(str(row[0]) for row in rows)

    def dry_heat(self, mark: str) -> DryHeat | None:
        """Give what the last heat of a crucible that was dry showed of its oven; raises `UnknownMarkError`."""
        with translating(self.path):
            row = self._connection.execute(
                "SELECT physics FROM heat WHERE crucible_id = ? AND NOT rehearsal AND physics LIKE '%\"dry_heat\"%' "
                "ORDER BY started DESC LIMIT 1",
                (self._known_id(mark),),
            ).fetchone()
            return None if row is None else msgspec.json.decode(row[0], type=PhysicsFigures).dry_heat

    def heats(self, mark: str) -> list[RegisteredHeat]:
        """Give a crucible's heats, oldest first; raises `UnknownMarkError`."""
        columns = ", ".join(f"heat.{name}" for name in (*HEAT_COLUMNS, "id", "mass_after_kg", "look", "account"))
        parts = ", ".join(f"segment.{name}" for name in SEGMENT_COLUMNS)
        with translating(self.path):
            number = self._known_id(mark)
            rows = self._connection.execute(
                f"SELECT {columns} FROM heat WHERE crucible_id = ? ORDER BY started, id", (number,)
            ).fetchall()
            segments: dict[int, list[SegmentFigures]] = {}
            for heat_id, *row in self._connection.execute(
                f"SELECT heat_id, {parts} FROM segment JOIN heat ON heat.id = heat_id WHERE crucible_id = ? "
                "ORDER BY heat_id, number",
                (number,),
            ):
                segments.setdefault(heat_id, []).append(SegmentFigures(*row))
            return [heat_from(row, mark, segments) for row in rows]

    # The file

    @contextlib.contextmanager
    def _changing(self) -> Iterator[None]:
        """One transaction: all of it on the disk, or nothing."""
        with translating(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                roll_back(self._connection)
                raise

    def _id_of(self, mark: str) -> int | None:
        row = self._connection.execute(_BY_MARK, (mark,)).fetchone()
        return None if row is None else int(row[0])

    def _known_id(self, mark: str) -> int:
        number = self._id_of(mark)
        if number is None:
            raise self._unknown(mark)
        return number

    def _known_heat(self, record_id: str) -> tuple[int, int]:
        row = self._connection.execute("SELECT id, crucible_id FROM heat WHERE record_id = ?", (record_id,)).fetchone()
        if row is None:
            raise RegisterError(f"{self.path}: the heat {record_id} has not been entered")
        return int(row[0]), int(row[1])

    def _unknown(self, mark: str) -> UnknownMarkError:
        marks = [str(row[0]) for row in self._connection.execute("SELECT mark FROM crucible ORDER BY mark LIMIT 12")]
        known = f"there are: {', '.join(marks)}" if marks else "there is none yet"
        return UnknownMarkError(f"no crucible is marked {mark!r}; {known}; add one with: rampwarden crucible add MARK")

    def _insert(self, table: str, row: dict[str, object]) -> int:
        names, values = ", ".join(row), ", ".join(f":{name}" for name in row)
        number = self._connection.execute(f"INSERT INTO {table} ({names}) VALUES ({values})", row).lastrowid
        return number or 0

    def _note_happenings(self, number: int, happened: Iterable[Happened]) -> None:
        for each in happened:
            row = {"what": str(PotHappening(each.what)), "at": each.at, "note": each.note}
            self._insert("happening", {"crucible_id": number, **row})

    def _write_figures(self, heat_id: int, figures: HeatFigures, account: PotAccount | None) -> None:
        row = {**heat_row(figures), "account": account_text(account)}
        settings = ", ".join(f"{name} = :{name}" for name in row)
        self._connection.execute(f"UPDATE heat SET {settings} WHERE id = :id", {**row, "id": heat_id})
        self._connection.execute("DELETE FROM segment WHERE heat_id = ?", (heat_id,))
        self._write_segments(heat_id, figures)

    def _write_segments(self, heat_id: int, figures: HeatFigures) -> None:
        for segment in figures.segments:
            self._insert("segment", {"heat_id": heat_id, **msgspec.structs.asdict(segment)})

    def _note_use(self, number: int, figures: HeatFigures) -> None:
        """Date the first use."""
        day = figures.started[:10]
        self._connection.execute(
            "UPDATE crucible SET first_used = ? WHERE id = ? AND (first_used = '' OR first_used > ?)",
            (day, number, day),
        )

    def _forget_use(self, number: int, figures: HeatFigures) -> None:
        """Date the first use anew where a heat that has gone to another crucible had dated it."""
        self._connection.execute(
            "UPDATE crucible SET first_used = coalesce((SELECT substr(min(started), 1, 10) FROM heat "
            "WHERE crucible_id = crucible.id AND NOT rehearsal), '') WHERE id = ? AND first_used = ?",
            (number, figures.started[:10]),
        )


def _taken(mark: str) -> RegisterError:
    return RegisterError(f"mark {mark!r} is taken, written large or small; one mark, one crucible")
