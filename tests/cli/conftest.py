"""What every test of the command line gets."""

from pathlib import Path

import pytest

from command_line import CommandLine


@pytest.fixture
def rampwarden(capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> CommandLine:
    """Give the command line, in a folder of its own."""
    return CommandLine(capfd, monkeypatch, tmp_path)
