"""`rampwarden --version`."""

from importlib.metadata import version


def print_version() -> None:
    """Print the version that is installed."""
    print(f"rampwarden {version('rampwarden')}")
