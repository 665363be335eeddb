"""The archive on a shop's server: everything of a heat in one transaction, in the database of the register."""

from collections.abc import Sequence
from typing import Self

from rampwarden.archive.archived_heat import ArchivedHeat, Story, checked_record, story_from
from rampwarden.archive.keeping import ARCHIVE, PutOutcome, outcome_of, row_of, write_row
from rampwarden.database import Database, connect
from rampwarden.errors import ArchiveError


class ServerArchive:
    """An open archive on a server."""

    def __init__(self, database: Database) -> None:
        """Take over open tables."""
        self.database = database
        self.damaged: Sequence[str] = ()

    @classmethod
    def open(cls, url: str, *, create: bool, patience_s: float) -> Self:
        """Open it, brought to the present version; `create` makes its tables when missing."""
        return cls(connect(url, ARCHIVE, create=create, patience_s=patience_s))

    @property
    def name(self) -> str:
        """Where it is."""
        return self.database.name

    def close(self) -> None:
        """Let go of it."""
        self.database.close()

    def put(self, heat: ArchivedHeat) -> PutOutcome:
        """Keep a heat; refuses another heat under the same id."""
        with self.database.changing():
            outcome = outcome_of(heat, row_of(self.database, heat.row.id), self.name)
            if outcome is not PutOutcome.THERE_ALREADY:
                write_row(self.database, heat.row)
                self.database.insert(
                    "archived_content", {"id": heat.row.id, "story": heat.story, "record": heat.record}
                )
        return outcome

    def story(self, heat: str) -> Story:
        """Give what was kept of one heat."""
        return story_from(self._content(heat, "story"), heat, self.name)

    def record(self, heat: str) -> bytes:
        """Give a heat's record, its hash checked."""
        row = row_of(self.database, heat)
        if row is None:
            raise ArchiveError(f"{self.name}: there is no heat {heat}")
        return checked_record(row, self._content(heat, "record"), self.name)

    def _content(self, heat: str, column: str) -> bytes:
        row = self.database.row(f"SELECT {column} FROM archived_content WHERE id = :id", id=heat)
        if row is None or not isinstance(row[0], bytes):
            raise ArchiveError(f"{self.name}: there is no heat {heat}")
        return row[0]
