"""A board for tests: a real pseudo-terminal that can be unplugged and comes back under another number.

The watch opens `path`, a symlink as a by-id name is one. Not a test itself.
"""

import contextlib
import os
import pty
import select
import tty
from binascii import crc_hqx
from pathlib import Path


def frame_line(seq: int, ms: int, emf_nv: int = 0, junction_mc: int = 25000, flags: int = 0, channel: int = 0) -> bytes:
    """Give one line of the framed format, as a board sends it."""
    body = f"TC,{channel},{seq},{ms},{emf_nv},{junction_mc},{flags:02X}".encode()
    return b"$" + body + b"*" + f"{crc_hqx(body, 0):04X}".encode() + b"\r\n"


class PtyBoard:
    """A pseudo-terminal behind a lasting name."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._master = self._slave = -1
        self.plug_in()

    def plug_in(self) -> None:
        """Appear under a new number, with the lasting name pointing there."""
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)  # before the first byte, else the kernel echoes it back as if the watch had sent it
        os.set_blocking(self._master, False)
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(os.ttyname(self._slave))

    def unplug(self) -> None:
        """Vanish, as a pulled cable does. Both ends are closed, and the name is gone."""
        if self._master >= 0:
            os.close(self._master)
            os.close(self._slave)
            self._master = self._slave = -1
            self.path.unlink(missing_ok=True)

    def send(self, data: bytes, patience_s: float = 10.0) -> None:
        """Send all of `data`, as fast as the other side takes it."""
        while data:
            _, writable, _ = select.select([], [self._master], [], patience_s)
            if not writable:
                raise TimeoutError(f"nobody took {len(data)} bytes within {patience_s} s")
            with contextlib.suppress(BlockingIOError):
                data = data[os.write(self._master, data) :]

    @property
    def node(self) -> str:
        """The device behind the lasting name."""
        return os.ttyname(self._slave)
