"""How a heat record gets onto its disk: the file, and what waits for it."""

from rampwarden.records.writing.journal import Journal
from rampwarden.records.writing.record_file import Meddling, RecordFile, sync_folder
from rampwarden.records.writing.run_note import MOST_TOLD, Lag, RunNote
from rampwarden.records.writing.told_before import ToldBefore, ToldEvent
from rampwarden.records.writing.waiting_lines import WaitingLines

__all__ = [
    "MOST_TOLD",
    "Journal",
    "Lag",
    "Meddling",
    "RecordFile",
    "RunNote",
    "ToldBefore",
    "ToldEvent",
    "WaitingLines",
    "sync_folder",
]
