"""A person's own rule of when to retire a pot; empty where none was given."""

from rampwarden.database import run_on_server

revision = "0005"
down_revision = "0004"

STATEMENTS = ("ALTER TABLE crucible ADD COLUMN retire_at {TEXT} NOT NULL DEFAULT ''",)


def upgrade() -> None:
    """Run it on a server."""
    run_on_server(STATEMENTS)
