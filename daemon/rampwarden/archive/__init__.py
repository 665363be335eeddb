"""The archive of heats: each heat's record with what it came to, in a folder or on a shop's server.

A heat is kept under its record's id, once: handed in again it is there already, handed in with other content it is
refused. What is asked of many heats (`questions`) is asked of one flat table, in PostgreSQL or in a local index of the
folder; what is asked of one, of its own pieces. Nothing here knows a running watch.
"""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.archive.archived_heat import ArchivedHeat, HeatRow, Story, packed
    from rampwarden.archive.folder_archive import FolderArchive
    from rampwarden.archive.gathering_heat import gathered
    from rampwarden.archive.keeping import Archive, PutOutcome, row_of
    from rampwarden.archive.overlay_page import heats_page, overlay
    from rampwarden.archive.questions import Chosen, Grouping, TrendRow, listed, trend
    from rampwarden.archive.server_archive import ServerArchive
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "Archive",
    "ArchivedHeat",
    "Chosen",
    "FolderArchive",
    "Grouping",
    "HeatRow",
    "PutOutcome",
    "ServerArchive",
    "Story",
    "TrendRow",
    "gathered",
    "heats_page",
    "listed",
    "overlay",
    "packed",
    "row_of",
    "trend",
]
