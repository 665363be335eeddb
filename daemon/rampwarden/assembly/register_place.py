"""Where the register of crucibles is; alone, since whoever lists crucibles needs no plan, gas or wall for that."""

from rampwarden.database import Where
from rampwarden.settings import Settings


def register_place(settings: Settings) -> Where:
    """Give the register's file or server: what is set, else a file beside the folder of the records."""
    return settings.watch.crucible_register or settings.watch.records.parent / "crucibles.sqlite"
