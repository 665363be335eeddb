"""A disk of 64 kB for tests, which can be filled and freed: a memory file system of its own. Needs root.

Not a test itself.
"""

import contextlib
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path


class SmallDisk:
    """The folder it is mounted at, and the file that takes all its room."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._filler = folder / "filler"

    def fill(self) -> None:
        """Take every free page; what is left is the rest of pages that files have begun."""
        with self._filler.open("ab", buffering=0) as filler:
            while True:
                try:
                    filler.write(b"x" * 4096)
                except OSError:
                    return

    def free(self) -> None:
        """Give the room back."""
        self._filler.unlink()


def may_mount() -> bool:
    """Tell whether this process may mount at all."""
    return (
        os.geteuid() == 0
        and subprocess.run(["unshare", "-m", "true"], check=False, capture_output=True).returncode == 0
    )


@contextlib.contextmanager
def small_disk(folder: Path, size: str = "64k") -> Iterator[SmallDisk]:
    """Mount a disk of `size` at `folder`, and take it away again whatever happens."""
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)], check=True)
    try:
        yield SmallDisk(folder)
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


class FailingDisk:
    """A disk of its own kind of file system, which the kernel can be made to give up on."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def fail(self) -> None:
        """Turn read-only for good under whoever has files open, as after an error of the medium."""
        subprocess.run(["mount", "-o", "remount,abort", str(self.folder)], check=True)

    @contextlib.contextmanager
    def hanging(self) -> Iterator[None]:
        """Let whoever writes or syncs wait in the kernel, where nobody can interrupt them, until this is left."""
        subprocess.run(["fsfreeze", "--freeze", str(self.folder)], check=True)
        try:
            yield
        finally:
            subprocess.run(["fsfreeze", "--unfreeze", str(self.folder)], check=True)


def may_make_disks() -> bool:
    """Tell whether this process may mount a disk made from a file."""
    return may_mount() and Path("/dev/loop-control").exists() and shutil.which("mkfs.ext4") is not None


@contextlib.contextmanager
def failing_disk(folder: Path) -> Iterator[FailingDisk]:
    """Make a disk in a file beside `folder`, mount it there, and take it away again whatever happens."""
    folder.mkdir()
    image = folder.with_suffix(".img")
    with image.open("wb") as file:
        file.truncate(8 << 20)
    subprocess.run(["mkfs.ext4", "-q", "-O", "^has_journal", str(image)], check=True)
    subprocess.run(["mount", "-o", "loop", str(image), str(folder)], check=True)
    try:
        yield FailingDisk(folder)
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)
