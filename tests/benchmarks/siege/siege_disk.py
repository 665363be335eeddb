"""The records' disk of a siege: a file system of its own in a file, which can be frozen, filled and made to fail."""

import contextlib
import shutil
import subprocess
from pathlib import Path

_BYTES = 64 << 20


def why_no_disk() -> str:
    """Say why this process cannot make disks of its own; empty if it can."""
    import os

    if os.geteuid() != 0:
        return "only root may mount a disk"
    for tool in ("mkfs.ext4", "mount", "umount", "fsfreeze", "e2fsck"):
        if shutil.which(tool) is None and shutil.which(tool, path="/usr/sbin:/sbin") is None:
            return f"{tool} is not on this computer"
    if not Path("/dev/loop-control").exists():
        return "there are no loop devices here"
    return ""


class NoDiskError(Exception):
    """A disk of our own cannot be had here; says why."""


class SiegeDisk:
    """Mounted at `folder`; `close` takes it away whatever state it is in."""

    def __init__(self, folder: Path) -> None:
        if why := why_no_disk():
            raise NoDiskError(why)
        self.folder = folder
        self._image = folder.with_suffix(".img")
        self._filler = folder / "filler"
        self._frozen = False
        folder.mkdir()
        with self._image.open("wb") as file:
            file.truncate(_BYTES)
        _run("mkfs.ext4", "-q", "-O", "^has_journal", str(self._image))
        try:
            self._mount()
        except subprocess.CalledProcessError as error:
            raise NoDiskError(f"mounting is not permitted here: {error.stderr.decode().strip()}") from error

    def freeze(self) -> None:
        """Let whoever writes or syncs wait in the kernel, where nobody can interrupt them."""
        _run("fsfreeze", "--freeze", str(self.folder))
        self._frozen = True

    def thaw(self) -> None:
        """Let them go on."""
        if self._frozen:
            self._frozen = False
            _run("fsfreeze", "--unfreeze", str(self.folder))

    def fill(self) -> None:
        """Take every free block."""
        with self._filler.open("ab", buffering=0) as filler:
            for size in (1 << 20, 4096, 1):
                with contextlib.suppress(OSError):
                    while True:
                        filler.write(b"x" * size)

    def free(self) -> None:
        """Give the room back."""
        self._filler.unlink(missing_ok=True)

    def turn_read_only(self) -> None:
        """Mount it read-only while nobody writes."""
        _run("mount", "-o", "remount,ro", str(self.folder))

    def turn_writable(self) -> None:
        """And writable again."""
        _run("mount", "-o", "remount,rw", str(self.folder))

    def fail(self) -> None:
        """Turn read-only for good under whoever has files open, as after an error of the medium."""
        _run("mount", "-o", "remount,abort", str(self.folder))

    def mend(self) -> None:
        """Check it and mount it anew; whoever still has files open has them on the one that failed."""
        _run("umount", "--lazy", str(self.folder))
        subprocess.run(["e2fsck", "-fy", str(self._image)], check=False, capture_output=True)
        self._mount()

    def close(self) -> None:
        """Take it away."""
        with contextlib.suppress(subprocess.CalledProcessError):
            self.thaw()
        subprocess.run(["umount", "--lazy", str(self.folder)], check=False, capture_output=True)

    def _mount(self) -> None:
        _run("mount", "-o", "loop", str(self._image), str(self.folder))


def _run(*command: str) -> None:
    subprocess.run(command, check=True, capture_output=True)
