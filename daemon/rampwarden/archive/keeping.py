"""What an archive does, wherever it is, and its one rule: a heat is kept once, and never replaced by another.

A record that was handed in unfinished and has gone on since takes its own place: all that was kept stands at its
beginning. Anything else under a known id is refused.
"""

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Protocol

import msgspec

from rampwarden.archive import versions
from rampwarden.archive.archived_heat import ArchivedHeat, HeatRow, Story, is_longer, unpacked
from rampwarden.archive.versions import v0001_heats
from rampwarden.database import Database, Schema, Value, statements_of
from rampwarden.errors import ArchiveError

ARCHIVE = Schema(
    noun="archive",
    # "rwar": tells our index from any other SQLite file.
    application_id=0x72776172,
    migrations=statements_of((v0001_heats,)),
    folder=Path(versions.__file__).parent,
    own_table="archived",
    error=ArchiveError,
    wrong_place="set archive.place",
    begins_with="rampwarden heats archive",
)
COLUMNS = tuple(field.name for field in msgspec.structs.fields(HeatRow))


class PutOutcome(StrEnum):
    """What came of handing in a heat."""

    KEPT = "kept"
    THERE_ALREADY = "there already"
    GONE_ON = "kept, further than before"


class Archive(Protocol):
    """An open archive; every failure is an `ArchiveError` of one line."""

    @property
    def name(self) -> str:
        """Where it is, fit to be shown."""

    @property
    def damaged(self) -> Sequence[str]:
        """What cannot be used of it, one sentence each."""

    @property
    def database(self) -> Database:
        """The table that questions are asked of."""

    def put(self, heat: ArchivedHeat) -> PutOutcome:
        """Keep a heat; it is lasting when the call returns. Refuses another heat under the same id."""

    def story(self, heat: str) -> Story:
        """Give what was kept of one heat."""

    def record(self, heat: str) -> bytes:
        """Give a heat's record as it was handed in, its hash checked."""

    def close(self) -> None:
        """Let go of it."""


def row_of(database: Database, heat: str) -> HeatRow | None:
    """Give the row of a heat, None without one."""
    row = database.row(f"SELECT {', '.join(COLUMNS)} FROM archived WHERE id = :id", id=heat)
    return None if row is None else row_from(row)


def row_from(row: Sequence[object]) -> HeatRow:
    """Give a row from its columns; raises `ArchiveError`."""
    try:
        return msgspec.convert(dict(zip(COLUMNS, row, strict=True)), HeatRow)
    except msgspec.MsgspecError as error:
        raise ArchiveError(f"the archive holds what this program did not write: {error}") from error


def write_row(database: Database, row: HeatRow) -> None:
    """Put a row into its table, in the place of one of the same id."""
    database.change("DELETE FROM archived WHERE id = :id", id=row.id)
    columns: dict[str, Value] = msgspec.structs.asdict(row)
    database.insert("archived", columns)


def outcome_of(heat: ArchivedHeat, before: HeatRow | None, where: str) -> PutOutcome:
    """Say what is to be done with a heat; raises `ArchiveError` when its id is another heat's."""
    if before is None:
        return PutOutcome.KEPT
    row = heat.row
    if row.sha256 == before.sha256:
        return PutOutcome.THERE_ALREADY
    content = unpacked(heat.record)
    if is_longer(row, before, content):
        return PutOutcome.GONE_ON
    raise ArchiveError(
        f"{where}: the heat {row.id} is there already with another record (of {before.started}, "
        f"{before.schedule!r}); nothing was changed"
    )
