"""The schedule that goes into a case: written as a file that reads back as the same."""

import tomllib
from pathlib import Path

import pytest

from rampwarden.cli.after.replay_case import schedule_toml
from rampwarden.schedule_files import SCHEDULE_FOLDERS, list_schedules, read_schedule


@pytest.mark.parametrize("path", list_schedules(SCHEDULE_FOLDERS[-1:]), ids=lambda path: path.stem)
def test_every_kind_of_line_reads_back_as_it_was(path: Path) -> None:
    """Lists of limits, checklists, and what is asked, which is a table within a list."""
    _, table = read_schedule(path)
    assert tomllib.loads(schedule_toml(table)) == table
