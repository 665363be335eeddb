"""How an older archive becomes a present one: one Alembic revision a version, for index and server alike.

As in `records.register_versions`: one that has been released is never changed.
"""

from rampwarden.archive.versions import v0001_heats

__all__ = ["v0001_heats"]
