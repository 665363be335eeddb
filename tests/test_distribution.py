"""What is handed on holds everything: the wheel what the program speaks of, the source distribution what tests it."""

import shutil
import subprocess
import sys
import tarfile
from pathlib import Path, PurePosixPath
from zipfile import ZipFile

import pytest

pytestmark = pytest.mark.long


ROOT = Path(__file__).parents[1]
# What stands at the top of this project. A heat or a log that somebody left beside it is not handed on.
FOLDERS = (".ci", "config", "daemon", "firmware_notes", "replay_logs", "tests")
FILES = (
    ".gitignore",
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "MANIFEST.in",
    "Makefile",
    "README.md",
    "pyproject.toml",
)
NOT_SOURCE = shutil.ignore_patterns("*.egg-info", "__pycache__", "output")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build both from a copy, so that nothing is left in this tree."""
    copy = tmp_path_factory.mktemp("tree") / "rampwarden"
    for folder in FOLDERS:
        shutil.copytree(ROOT / folder, copy / folder, symlinks=True, ignore=NOT_SOURCE)
    for file in FILES:
        shutil.copy(ROOT / file, copy / file)
    done = subprocess.run(
        [sys.executable, "-m", "build", "--quiet", "--no-isolation", "--wheel", "--sdist", copy],
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return copy


def files_below(folder: Path) -> set[str]:
    """Give every file below a folder."""
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_the_wheel_holds_every_module_and_every_file_the_program_speaks_of(built: Path) -> None:
    """Schedules, service, broker and board files are shipped; the guides name each of them."""
    (wheel,) = (built / "dist").glob("*.whl")
    held = set(ZipFile(wheel).namelist())
    modules = {
        path.relative_to(built / "daemon").as_posix() for path in (built / "daemon" / "rampwarden").rglob("*.py")
    }
    assert modules - held == set()
    assert {f"rampwarden/shipped/{name}" for name in files_below(built / "config")} - held == set()
    assert {f"rampwarden/page/assets/{name}" for name in files_below(built / "daemon/rampwarden/page/assets")} <= held


def test_the_source_distribution_is_whole(built: Path) -> None:
    """From it the tests run as from a clone."""
    (archive,) = (built / "dist").glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        held = {PurePosixPath(*PurePosixPath(member.name).parts[1:]).as_posix() for member in opened if member.isfile()}
    shutil.rmtree(built / "build", ignore_errors=True)
    wanted = {name for name in files_below(built) if not name.startswith("dist/") and ".egg-info/" not in name}
    assert wanted - held == set()
