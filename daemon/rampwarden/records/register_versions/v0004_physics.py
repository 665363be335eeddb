"""JSON of what was reckoned of the pot's own physics; null where nothing was."""

from rampwarden.database import run_on_server

revision = "0004"
down_revision = "0003"

STATEMENTS = ("ALTER TABLE heat ADD COLUMN physics {TEXT} NOT NULL DEFAULT 'null'",)


def upgrade() -> None:
    """Run it on a server."""
    run_on_server(STATEMENTS)
