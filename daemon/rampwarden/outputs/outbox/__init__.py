"""Which events of the heat records have yet to be delivered."""

from rampwarden.outputs.outbox.cursor import hand_cursor_over
from rampwarden.outputs.outbox.outbox import FRESH_S, CurrentRecord, Outbox
from rampwarden.outputs.outbox.record_queue import OutboxItem

__all__ = [
    "FRESH_S",
    "CurrentRecord",
    "Outbox",
    "OutboxItem",
    "hand_cursor_over",
]
