"""One row a heat, flat, for lists and trends; what is large stands apart, and only on a server."""

from rampwarden.database import run_on_server

revision = "0001"
down_revision = None

STATEMENTS = (
    """
    CREATE TABLE archived (
        id {TEXT} NOT NULL PRIMARY KEY,
        sha256 {TEXT} NOT NULL,
        length INTEGER NOT NULL,
        furnace {TEXT} NOT NULL,
        started {TEXT} NOT NULL,
        month {TEXT} NOT NULL,
        schedule {TEXT} NOT NULL,
        mark {TEXT} NOT NULL,
        metal {TEXT} NOT NULL,
        rehearsal INTEGER NOT NULL,
        was_heat INTEGER NOT NULL,
        closed INTEGER NOT NULL,
        complete INTEGER NOT NULL,
        seconds {REAL} NOT NULL,
        peak_c {REAL} NOT NULL,
        soaked_s {REAL} NOT NULL,
        hot_h {REAL} NOT NULL,
        dose_min {REAL} NOT NULL,
        alarms INTEGER NOT NULL,
        alarm_names {TEXT} NOT NULL,
        over_min {REAL} NOT NULL,
        soak_error_c {REAL},
        gas_kg {REAL}
    ) {STRICT}
    """,
    "CREATE INDEX archived_by_start ON archived (started)",
    "CREATE INDEX archived_by_pot ON archived (mark, started)",
    """
    CREATE TABLE archived_content (
        id {TEXT} NOT NULL PRIMARY KEY REFERENCES archived (id) ON DELETE CASCADE,
        story {BYTES} NOT NULL,
        record {BYTES} NOT NULL
    ) {STRICT}
    """,
)


def upgrade() -> None:
    """Run it on a server."""
    run_on_server(STATEMENTS)
