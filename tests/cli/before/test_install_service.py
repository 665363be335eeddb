"""The service files: what is written where, what is left alone, and that the unit keeps the watch in its place."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from rampwarden.cli import _run
from rampwarden.settings import load_settings

CONFIG = Path(__file__).resolve().parents[3] / "config"
UNIT = CONFIG / "systemd" / "rampwarden@.service"


def installed(folder: Path, *more: str) -> int:
    """Install under a folder."""
    return _run(["install-service", "--root", str(folder), *more])


def test_without_yes_everything_is_shown_and_nothing_done(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every file and every command, so that a person can do it by hand as well."""
    assert installed(tmp_path) == 0
    shown = capsys.readouterr().out
    for name in ("systemd/system/rampwarden@.service", "sysusers.d/rampwarden.conf", "rampwarden/furnace-1.toml"):
        assert f"{tmp_path}/etc/{name}" in shown
    assert "systemctl enable rampwarden@furnace-1.service" in shown
    assert "Nothing has been done." in shown
    assert not list(tmp_path.iterdir())


def test_with_yes_the_files_are_there_as_the_project_ships_them(tmp_path: Path) -> None:
    """Only the path of the program is this computer's own."""
    assert installed(tmp_path, "--yes") == 0
    etc = tmp_path / "etc"
    unit = (etc / "systemd/system/rampwarden@.service").read_text(encoding="utf-8")
    program = re.search(r"^ExecStart=(\S+) watch --config /etc/rampwarden/%i\.toml$", unit, re.MULTILINE)
    assert program is not None
    assert Path(program[1]).name == "rampwarden"
    assert unit.replace(program[1], "/usr/local/bin/rampwarden") == UNIT.read_text(encoding="utf-8")
    assert {path.name for path in (etc / "rampwarden/schedules").iterdir()} == {
        path.name for path in (CONFIG / "schedules").iterdir()
    }
    assert (etc / "systemd/system/rampwarden@.service").stat().st_mode & 0o777 == 0o644


def test_settings_variables_and_schedules_of_the_place_are_left_alone_and_our_own_files_renewed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An update must not undo an evening's work."""
    installed(tmp_path, "oven", "--yes")
    etc = tmp_path / "etc"
    theirs = [etc / "rampwarden/oven.toml", etc / "rampwarden/oven.env", etc / "rampwarden/schedules/fireclay.toml"]
    ours = etc / "systemd/system/rampwarden@.service"
    for file in (*theirs, ours):
        file.write_text("# changed here\n", encoding="utf-8")
    capsys.readouterr()
    assert installed(tmp_path, "oven", "--yes") == 0
    assert [file.read_text(encoding="utf-8") for file in theirs] == ["# changed here\n"] * 3
    assert "[Service]" in ours.read_text(encoding="utf-8")
    shown = capsys.readouterr().out
    assert shown.count("keep yours") == 3
    assert f"replace     {ours}" in shown
    assert f"is there    {etc}/sysusers.d/rampwarden.conf" in shown


def test_under_another_root_no_command_is_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder to look at must not change the system it stands on."""
    monkeypatch.setattr(subprocess, "run", lambda *_args, **_more: pytest.fail("a command was run"))
    assert installed(tmp_path, "--yes") == 0
    assert capsys.readouterr().out.count("left out") == 5


@pytest.mark.parametrize("name", ["../x", "a b", "", "x" * 41, "-x", "a/b"])
def test_a_name_that_is_no_file_name_is_refused(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It becomes part of paths that root writes."""
    assert installed(tmp_path, "--yes", "--", name) == 2
    assert "is no name for a service" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_who_is_not_root_is_told_so_before_anything_is_written(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """And how to do it."""
    monkeypatch.setattr("os.geteuid", lambda: 1000)
    assert _run(["install-service", "--yes"]) == 2
    assert (
        capsys.readouterr().err
        == "rampwarden: only root may install a service; try: sudo rampwarden install-service --yes\n"
    )


def test_a_folder_that_cannot_be_written_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With the file it could not write."""
    (tmp_path / "etc").write_text("", encoding="utf-8")
    assert installed(tmp_path, "--yes") == 2
    assert "rampwarden@.service: cannot write: " in capsys.readouterr().err


def test_the_shipped_variables_are_settings_that_exist(tmp_path: Path) -> None:
    """With their # taken away, each is understood."""
    lines = (CONFIG / "systemd/rampwarden.env").read_text(encoding="utf-8").splitlines()
    variables = dict(line.removeprefix("#").split("=", 1) for line in lines if line.startswith("#RAMPWARDEN_"))
    assert len(variables) >= 3
    loaded = load_settings(None, {}, variables)
    assert loaded.settings.watch.crucible == "A-7"
    named = re.search(r"^Environment=(RAMPWARDEN_\w+)=%i$", UNIT.read_text(encoding="utf-8"), re.MULTILINE)
    assert named is not None
    assert load_settings(None, {}, {named[1]: "furnace-1"}).settings.control.name == "furnace-1"


def test_the_unit_waits_for_ready_feeds_a_watchdog_and_reloads_by_sighup() -> None:
    """The lines the rest of the code counts on."""
    unit = UNIT.read_text(encoding="utf-8").splitlines()
    for line in (
        "Type=notify",
        "WatchdogSec=20",
        "Restart=always",
        "ExecReload=/bin/kill -HUP $MAINPID",
        "RuntimeDirectory=rampwarden/%i",
        # Else what a killed watch has noted of its hanging disk is gone before the next one reads it.
        "RuntimeDirectoryPreserve=restart",
        "StateDirectory=rampwarden/%i",
        "SupplementaryGroups=dialout",
    ):
        assert line in unit
    # The first hides serial ports, the second which start of the computer this is.
    assert not [line for line in unit if line.startswith(("PrivateDevices=", "ProcSubset="))]


def test_the_group_of_serial_ports_is_made_so_that_the_unit_can_start() -> None:
    """A group that does not exist keeps a unit from starting."""
    users = (CONFIG / "systemd/rampwarden.sysusers.conf").read_text(encoding="utf-8")
    assert re.search(r"^g\s+dialout\s", users, re.MULTILINE)
    assert re.search(r"^m\s+rampwarden\s+dialout$", users, re.MULTILINE)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not on this system")
def test_the_unit_is_judged_safe_by_the_service_manager_itself(tmp_path: Path) -> None:
    """An exposure below 2.5 of 10, and not a line it does not know."""
    installed(tmp_path, "--yes")
    unit = tmp_path / "etc/systemd/system/rampwarden@.service"
    verified = subprocess.run(["systemd-analyze", "verify", unit], capture_output=True, text=True, check=False)
    assert "Unknown" not in verified.stderr + verified.stdout
    assert "Failed to parse" not in verified.stderr + verified.stdout
    judged = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--no-pager", unit],
        capture_output=True,
        text=True,
        check=False,
    )
    exposure = re.search(r"Overall exposure level for \S+: ([\d.]+)", judged.stdout)
    assert exposure is not None, judged.stderr
    assert float(exposure[1]) < 2.5


@pytest.mark.skipif(shutil.which("systemd-sysusers") is None, reason="systemd-sysusers is not on this system")
def test_the_user_and_its_groups_are_made_from_the_shipped_file(tmp_path: Path) -> None:
    """Under a root of its own."""
    (tmp_path / "etc").mkdir()
    file = CONFIG / "systemd/rampwarden.sysusers.conf"
    made = subprocess.run(["systemd-sysusers", f"--root={tmp_path}", file], capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stderr
    assert re.search(r"^rampwarden:.*:/var/lib/rampwarden:", (tmp_path / "etc/passwd").read_text(), re.MULTILINE)
    assert re.search(r"^dialout:.*:rampwarden$", (tmp_path / "etc/group").read_text(), re.MULTILINE)


def test_the_settings_that_are_installed_are_the_defaults_but_for_where_records_go(tmp_path: Path) -> None:
    """Every key is there to be changed; the service's own folder is the only one it may write to."""
    installed(tmp_path, "--yes")
    file = tmp_path / "etc/rampwarden/furnace-1.toml"
    shipped = (CONFIG / "rampwarden.toml").read_text(encoding="utf-8").splitlines()
    changed = [line for line in file.read_text(encoding="utf-8").splitlines() if line not in shipped]
    assert changed == ['records = "/var/lib/rampwarden/furnace-1/heats"']
    loaded = load_settings(file, {}, {}).settings
    assert loaded.watch.records == Path("/var/lib/rampwarden/furnace-1/heats")
    assert loaded.board == load_settings(None, {}, {}).settings.board
