"""How an older register becomes a present one: one Alembic revision a version, for file and server alike.

The statements name by one word what the two engines call differently (`database.schema`). A revision that has been
released is never changed: a new one is added, here and in `__all__`.
"""

from rampwarden.records.register_versions import (
    v0001_pots_and_heats,
    v0002_accounts_and_happenings,
    v0003_one_dose,
    v0004_physics,
    v0005_retirement,
)

__all__ = [
    "v0001_pots_and_heats",
    "v0002_accounts_and_happenings",
    "v0003_one_dose",
    "v0004_physics",
    "v0005_retirement",
]
