"""What the register's tables are called, how they came to be, and how one speaks of them."""

from pathlib import Path

from rampwarden.database import Schema, statements_of
from rampwarden.errors import RegisterError
from rampwarden.records import register_versions
from rampwarden.records.register_versions import (
    v0001_pots_and_heats,
    v0002_accounts_and_happenings,
    v0003_one_dose,
    v0004_physics,
    v0005_retirement,
)

MIGRATIONS = statements_of(
    (v0001_pots_and_heats, v0002_accounts_and_happenings, v0003_one_dose, v0004_physics, v0005_retirement),
)

REGISTER = Schema(
    noun="register",
    # "rwcr": tells our register from any other SQLite file.
    application_id=0x72776372,
    migrations=MIGRATIONS,
    folder=Path(register_versions.__file__).parent,
    own_table="crucible",
    error=RegisterError,
    wrong_place="set watch.crucible_register",
    begins_with="rampwarden crucible add MARK",
)
