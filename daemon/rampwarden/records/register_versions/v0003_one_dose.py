"""One heat has one dose, the account's; what of it fell between 315 and 650 °C was worked out by another law."""

from rampwarden.database import run_on_server

revision = "0003"
down_revision = "0002"

STATEMENTS = ("ALTER TABLE heat DROP COLUMN prone_dose_min",)


def upgrade() -> None:
    """Run it on a server."""
    run_on_server(STATEMENTS)
