"""Between watch and archive: handing a heat in, and what of the records' folder it has not got.

Nothing here can stop a watch. What could not be handed in waits where it is, in the folder of the records.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

from rampwarden.archive import PutOutcome, gathered
from rampwarden.assembly.archive_opening import archive_place, open_archive
from rampwarden.assembly.patience import NoAnswerError, within
from rampwarden.database import is_server, load_libraries, server_name
from rampwarden.errors import ArchiveError, RampwardenError, RecordError
from rampwarden.records import header_of, record_id, writer_of
from rampwarden.settings import Settings

# A network's folder or a server; somebody waits for the watch to go.
_END_PATIENCE_S = 5.0


def hand_in(settings: Settings, record: Path) -> tuple[str, bool]:
    """Hand in a heat that has just been closed; gives what came of it in words, and whether all is well.

    Reads the whole record again, a few seconds for a day of readings.
    """
    place = archive_place(settings)

    def put() -> PutOutcome:
        with closing(open_archive(settings, os.environ, create=True)) as archive:
            return archive.put(heat)

    try:
        heat = gathered(record)
        if is_server(place):
            load_libraries()
        try:
            outcome = within(_END_PATIENCE_S, put)
        except NoAnswerError:
            name = server_name(place) if isinstance(place, str) else str(place)
            raise ArchiveError(f"{name}: the archive does not answer") from None
    except RecordError as error:
        return f"not archived: {error}", True
    except RampwardenError as error:
        return f"not archived: {error}; the next watch here does it, or: rampwarden heats archive", False
    return f"archived ({outcome}) · see: rampwarden heats show {heat.row.id}", True


def hand_in_what_waits(
    settings: Settings, is_over: Callable[[], bool] = lambda: False, *, with_rehearsals: bool = False
) -> Iterator[tuple[Path, str, bool]]:
    """Hand in every finished record of the folder that the archive has not got.

    Gives each with what came of it in words, and whether all is well. Raises `ArchiveError` when the archive cannot be
    used at all.
    """
    with closing(open_archive(settings, os.environ, create=True)) as archive:
        known = {str(row[0]) for row in archive.database.rows("SELECT id FROM archived WHERE closed = 1")}
        folder = settings.watch.records
        for path in sorted([*folder.glob("*.jsonl"), *folder.glob("*.jsonl.gz")]):
            if is_over():
                return
            try:
                header = header_of(path)
                if record_id(path, header) in known or writer_of(path) is not None:
                    continue
                if header.rehearsal and not with_rehearsals:
                    continue
                outcome = archive.put(gathered(path))
            except RecordError as error:
                yield path, str(error), False
            else:
                if outcome is not PutOutcome.THERE_ALREADY:
                    yield path, str(outcome), True
