"""Crucibles, their heats, and the segments of those."""

from rampwarden.database import run_on_server

revision = "0001"
down_revision = None

STATEMENTS = (
    """
    CREATE TABLE crucible (
        id {KEY},
        mark {MARK} NOT NULL UNIQUE,
        crucible_class {TEXT} NOT NULL,
        description {TEXT} NOT NULL,
        wall_mm {REAL},
        capacity_kg {REAL},
        mass_new_kg {REAL},
        metal {TEXT} NOT NULL,
        bought {TEXT} NOT NULL,
        first_used {TEXT} NOT NULL,
        retired {TEXT} NOT NULL,
        retired_why {TEXT} NOT NULL,
        stored {TEXT} NOT NULL,
        stored_on {TEXT} NOT NULL,
        sheet_id {TEXT} NOT NULL,
        sheet_top_c {REAL},
        sheet {TEXT} NOT NULL,
        note {TEXT} NOT NULL
    ) {STRICT}
    """,
    """
    CREATE TABLE heat (
        id {KEY},
        record_id {TEXT} NOT NULL UNIQUE,
        crucible_id INTEGER NOT NULL REFERENCES crucible (id),
        file {TEXT} NOT NULL,
        started {TEXT} NOT NULL,
        title {TEXT} NOT NULL,
        metal {TEXT} NOT NULL,
        thermocouple {TEXT} NOT NULL,
        rehearsal INTEGER NOT NULL,
        closed INTEGER NOT NULL,
        complete INTEGER NOT NULL,
        readings INTEGER NOT NULL,
        seconds {REAL} NOT NULL,
        peak_c {REAL} NOT NULL,
        soaked_s {REAL} NOT NULL,
        hot_h {REAL} NOT NULL,
        dose_min {REAL} NOT NULL,
        prone_dose_min {REAL} NOT NULL,
        unseen_s {REAL} NOT NULL,
        alarms {TEXT} NOT NULL,
        mass_after_kg {REAL},
        look {TEXT} NOT NULL
    ) {STRICT}
    """,
    "CREATE INDEX heat_of_crucible ON heat (crucible_id, started)",
    """
    CREATE TABLE segment (
        heat_id INTEGER NOT NULL REFERENCES heat (id) ON DELETE CASCADE,
        number INTEGER NOT NULL,
        name {TEXT} NOT NULL,
        kind {TEXT} NOT NULL,
        seconds {REAL} NOT NULL,
        climb_c {REAL},
        limit_c {REAL},
        window_s {REAL},
        soaked_s {REAL} NOT NULL,
        hold_s {REAL} NOT NULL,
        PRIMARY KEY (heat_id, number)
    ) {STRICT_BY_KEY}
    """,
)


def upgrade() -> None:
    """Run it on a server."""
    run_on_server(STATEMENTS)
