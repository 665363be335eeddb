"""What the ends of many heats at once cost an archive: heats a second, for a folder and for a PostgreSQL server.

Each is a whole heat with its record; several watches hand in at a time, each opening the archive anew as a watch does.
"""

import os
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path

from msgspec.structs import replace
from tests.mass_replay.short_heats import short_heat
from tests.postgres_server import POSTGRES, shared_server

from rampwarden.archive import Archive, ArchivedHeat, FolderArchive, ServerArchive, gathered

_HEATS = 200
_WATCHES = 4
_A_THOUSAND = 1000


def archive_lines() -> Iterator[str]:
    """Give a line a kind of archive."""
    with ExitStack() as ending:
        folder = Path(ending.enter_context(tempfile.TemporaryDirectory()))
        began_s = time.process_time()
        heat = gathered(short_heat(folder, 1, seconds=3600))
        yield f"a heat of an hour is gathered in {time.process_time() - began_s:.2f} s of processor time"

        def into_folder() -> Archive:
            return FolderArchive.open(folder / "archive", folder / "cache", create=True)

        openings: dict[str, Callable[[], Archive]] = {"folder": into_folder}
        if POSTGRES is not None:
            url = ending.enter_context(shared_server(folder)).make_database()
            openings["server"] = lambda: ServerArchive.open(url, create=True, patience_s=60.0)
        for kind, opening in openings.items():
            took_s, used_s = _handed_in_s(opening, heat)
            yield (
                f"archive in a {kind}: {_HEATS / took_s:.0f} heats a second by {_WATCHES} watches at once, "
                f"{1000 * used_s / _HEATS:.1f} ms of their processor each; "
                f"a thousand furnaces at once: {_A_THOUSAND * took_s / _HEATS:.0f} s (load {os.getloadavg()[0]:.1f})"
            )


def _handed_in_s(opening: Callable[[], Archive], heat: ArchivedHeat) -> tuple[float, float]:
    opening().close()

    def hand_in(first: int) -> None:
        for number in range(first, _HEATS, _WATCHES):
            with closing(opening()) as archive:
                archive.put(replace_id(heat, f"h{number}"))

    watches = [threading.Thread(target=hand_in, args=(first,)) for first in range(_WATCHES)]
    began_s, used_s = time.monotonic(), time.process_time()
    for watch in watches:
        watch.start()
    for watch in watches:
        watch.join()
    return time.monotonic() - began_s, time.process_time() - used_s


def replace_id(heat: ArchivedHeat, name: str) -> ArchivedHeat:
    """Give the same heat as another one."""
    return replace(heat, row=replace(heat.row, id=name))
