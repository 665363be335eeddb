"""A heat's account of its pot, and what befalls a pot between heats."""

from rampwarden.database import run_on_server

revision = "0002"
down_revision = "0001"

STATEMENTS = (
    # JSON of the heat's account of its pot; empty where it was entered without one.
    "ALTER TABLE heat ADD COLUMN account {TEXT} NOT NULL DEFAULT ''",
    """
    CREATE TABLE happening (
        id {KEY},
        crucible_id INTEGER NOT NULL REFERENCES crucible (id) ON DELETE CASCADE,
        at {TEXT} NOT NULL,
        what {TEXT} NOT NULL,
        note {TEXT} NOT NULL
    ) {STRICT}
    """,
    "CREATE INDEX happening_of_crucible ON happening (crucible_id, at)",
    # A heat of the day on which a pot was called damp had not dried it: the day counts to its end.
    """
    INSERT INTO happening (crucible_id, at, what, note)
    SELECT id, CASE stored_on WHEN '' THEN '' ELSE stored_on || 'T23:59:59Z' END, 'stored-damp', ''
    FROM crucible WHERE stored = 'damp'
    """,
)


def upgrade() -> None:
    """Run it on a server."""
    run_on_server(STATEMENTS)
