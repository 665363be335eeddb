"""Which events of the heat records have yet to be delivered."""

from rampwarden.outputs.outbox.cursor import files_owed, hand_cursor_over
from rampwarden.outputs.outbox.outbox import FRESH_S, CurrentRecord, Outbox
from rampwarden.outputs.outbox.record_queue import OutboxItem

__all__ = [
    "FRESH_S",
    "CurrentRecord",
    "Outbox",
    "OutboxItem",
    "files_owed",
    "hand_cursor_over",
]
