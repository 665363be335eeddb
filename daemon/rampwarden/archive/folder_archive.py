"""The archive in a folder, which several furnaces may share: one folder a heat, made whole or not at all.

    archive.json                    says what the folder is
    2026-01/<id>/row.json           the heat's row, and hashes of the two beside it
    2026-01/<id>/story.json.gz      figures, events, course
    2026-01/<id>/record.jsonl.gz    the record

A heat's folder is written under another name, synced, and renamed; one that somebody copied by half is told. Questions
are asked of an index, an SQLite file on this computer: no file system that is shared keeps the locks of one. It is made
anew from the folder whenever it is missing or does not fit.
"""

import contextlib
import hashlib
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Self

import msgspec
from msgspec import Struct

from rampwarden.archive.archived_heat import ArchivedHeat, HeatRow, Story, checked_record, story_from
from rampwarden.archive.keeping import ARCHIVE, PutOutcome, outcome_of, row_of, write_row
from rampwarden.database import SqliteFile
from rampwarden.errors import UNREADABLE_JSON, ArchiveError, StoreError
from rampwarden.records import sync_folder

_SIGN = "archive.json"
_FORMAT = {"format": "rampwarden-archive/1"}
_NAMES = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,80}")
_MONTHS = re.compile(r"\d{4}-\d{2}")
_PARTIAL = ".new-"
_INDEX_PATIENCE_S = 10.0


class _Kept(Struct, frozen=True):
    row: HeatRow
    story_sha256: str
    record_sha256: str


class FolderArchive:
    """An open archive in a folder."""

    def __init__(self, folder: Path, index: SqliteFile) -> None:
        """Take over a folder and its index."""
        self._folder = folder
        self.database = index
        self._damaged: list[str] = []

    @classmethod
    def open(cls, folder: Path, cache: Path, *, create: bool) -> Self:
        """Open it, with its index in the folder `cache` of this computer; raises `ArchiveError` in one line.

        `create` makes it when missing.
        """
        sign = folder / _SIGN
        try:
            if not sign.exists():
                if folder.exists() and any(folder.iterdir()):
                    raise ArchiveError(f"{folder}: is a folder of something else; set archive.place")
                if not create:
                    raise ArchiveError(f"{folder}: there is no archive yet; it begins with: {ARCHIVE.begins_with}")
                folder.mkdir(parents=True, exist_ok=True)
                _write(sign, msgspec.json.encode(_FORMAT))
            known = msgspec.json.decode(sign.read_bytes(), type=dict[str, str]).get("format", "")
        except OSError as error:
            raise ArchiveError(f"{folder}: the archive cannot be opened: {error.strerror}") from error
        except (msgspec.MsgspecError, *UNREADABLE_JSON) as error:
            raise ArchiveError(f"{sign}: is damaged: {error}") from error
        if known != _FORMAT["format"]:
            raise ArchiveError(
                f"{folder}: is of {known or 'no known format'}, this program reads {_FORMAT['format']}; nothing was "
                "changed, use the newer program"
            )
        archive = cls(folder, _index(folder, cache))
        try:
            archive.refresh()
        except BaseException:
            archive.close()
            raise
        return archive

    @property
    def name(self) -> str:
        """Its folder."""
        return str(self._folder)

    @property
    def damaged(self) -> Sequence[str]:
        """What cannot be used of it, one sentence each."""
        return tuple(self._damaged)

    def close(self) -> None:
        """Let go of it."""
        self.database.close()

    def refresh(self) -> None:
        """Bring the index to what the folder holds: heats that other furnaces have handed in, and none that is gone."""
        there = dict(self._heats())
        known = {str(row[0]): str(row[1]) for row in self.database.rows("SELECT id, sha256 FROM archived")}
        fresh: list[HeatRow] = []
        for heat, place in there.items():
            if heat in known:
                continue
            try:
                fresh.append(self._kept(place).row)
            except ArchiveError as error:
                self._damaged.append(str(error))
        gone = known.keys() - there.keys()
        if fresh or gone:
            with self.database.changing():
                for heat in gone:
                    self.database.change("DELETE FROM archived WHERE id = :id", id=heat)
                for row in fresh:
                    write_row(self.database, row)

    def put(self, heat: ArchivedHeat) -> PutOutcome:
        """Keep a heat; refuses another heat under the same id."""
        row = heat.row
        if not _NAMES.fullmatch(row.id) or not _MONTHS.fullmatch(row.month):
            raise ArchiveError(
                f"{self.name}: a heat with the id {row.id!r} of {row.started!r} cannot be a folder's name"
            )
        place = self._folder / row.month / row.id
        there = next(self._folder.glob(f"????-??/{row.id}"), None)
        before = None if there is None else self._kept(there).row
        outcome = outcome_of(heat, before, self.name)
        if outcome is PutOutcome.THERE_ALREADY:
            self._note(row)
            return outcome
        partial = place.with_name(f"{_PARTIAL}{row.id}-{secrets.token_hex(4)}")
        try:
            partial.mkdir(parents=True)
            kept = _Kept(row, hashlib.sha256(heat.story).hexdigest(), hashlib.sha256(heat.record).hexdigest())
            _write(partial / "record.jsonl.gz", heat.record)
            _write(partial / "story.json.gz", heat.story)
            _write(partial / "row.json", msgspec.json.encode(kept))
            sync_folder(partial)
            if outcome is PutOutcome.GONE_ON:
                old = place.with_name(f"{_PARTIAL}old-{row.id}-{secrets.token_hex(4)}")
                place.rename(old)
                partial.rename(place)
                shutil.rmtree(old, ignore_errors=True)
            else:
                partial.rename(place)
            sync_folder(place.parent)
        except OSError as error:
            shutil.rmtree(partial, ignore_errors=True)
            if outcome is PutOutcome.KEPT and place.exists():
                # Somebody else has handed in the same heat in this very moment.
                return self.put(heat)
            raise ArchiveError(f"{self.name}: heat {row.id} cannot be kept: {error.strerror}") from error
        self._note(row)
        return outcome

    def story(self, heat: str) -> Story:
        """Give what was kept of one heat."""
        place = self._place(heat)
        return story_from(self._read(place, "story.json.gz", self._kept(place).story_sha256), heat, self.name)

    def record(self, heat: str) -> bytes:
        """Give a heat's record, its hash checked."""
        place = self._place(heat)
        kept = self._kept(place)
        return checked_record(kept.row, self._read(place, "record.jsonl.gz", kept.record_sha256), self.name)

    def _heats(self) -> Iterator[tuple[str, Path]]:
        try:
            for month in sorted(self._folder.iterdir()):
                if _MONTHS.fullmatch(month.name):
                    with os.scandir(month) as entries:
                        for entry in entries:
                            if not entry.name.startswith(_PARTIAL):
                                yield entry.name, Path(entry.path)
        except OSError as error:
            raise ArchiveError(f"{self.name}: the archive cannot be read: {error.strerror}") from error

    def _place(self, heat: str) -> Path:
        row = row_of(self.database, heat)
        if row is None:
            raise ArchiveError(f"{self.name}: there is no heat {heat}")
        return self._folder / row.month / row.id

    def _kept(self, place: Path) -> _Kept:
        try:
            return msgspec.json.decode((place / "row.json").read_bytes(), type=_Kept)
        except (OSError, msgspec.MsgspecError, *UNREADABLE_JSON) as error:
            what = error.strerror if isinstance(error, OSError) else error
            raise ArchiveError(f"{place}: is copied by half or damaged: row.json: {what}") from error

    def _read(self, place: Path, name: str, sha256: str) -> bytes:
        try:
            data = (place / name).read_bytes()
        except OSError as error:
            raise ArchiveError(f"{place}: is copied by half or damaged: {name}: {error.strerror}") from error
        if hashlib.sha256(data).hexdigest() != sha256:
            raise ArchiveError(f"{place}: is copied by half or damaged: {name}: its hash differs")
        return data

    def _note(self, row: HeatRow) -> None:
        with self.database.changing():
            write_row(self.database, row)


def _index(folder: Path, cache: Path) -> SqliteFile:
    path = (
        cache
        / f"archive-{hashlib.sha256(str(folder.absolute()).encode(errors='surrogateescape')).hexdigest()[:16]}.sqlite"
    )
    try:
        return SqliteFile.open(path, ARCHIVE, create=True, patience_s=_INDEX_PATIENCE_S)
    except StoreError:
        # Nothing stands in it that the folder has not.
        for file in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))):
            with contextlib.suppress(OSError):
                file.unlink()
        return SqliteFile.open(path, ARCHIVE, create=True, patience_s=_INDEX_PATIENCE_S)


def _write(path: Path, data: bytes) -> None:
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
