"""The board of a siege: one heat on two pseudo-terminals, the same bytes but for what is done to one of them."""

import random
from collections.abc import Callable
from pathlib import Path

from tests.faults.model_board import ModelBoard
from tests.sources.pty_board import PtyBoard, frame_line

OPEN, SHORT = 0x01, 0x02
Mangle = Callable[[bytes], bytes]


class TwoLines:
    """Sends to the watch under siege, and to its twin what the board would have sent undisturbed."""

    def __init__(self, folder: Path, interval_s: float, course: Callable[[float, random.Random], float]) -> None:
        self.board = ModelBoard(folder / "board", 1.0, interval_s, course=course)
        self.twin = PtyBoard(folder / "board-of-twin")
        self.mangle: Mangle | None = None
        """What is done to a frame on its way to the watch; None is a clean line."""
        self.board.spoil = self._through

    def close(self) -> None:
        """Stop, and pull both plugs."""
        self.board.close()
        self.twin.unplug()

    def _through(self, frame: bytes) -> bytes:
        self.twin.send(frame, patience_s=5.0)
        return frame if self.mangle is None else self.mangle(frame)


def spoilt_sensor(chance: random.Random, share: float) -> Mangle:
    """Give what a sensor with a loose wire makes of this share of frames: flagged, out of range, or a leap."""

    def mangle(frame: bytes) -> bytes:
        if chance.random() >= share:
            return frame
        _, channel, seq, ms, emf_nv, junction_mc, flags = frame[1:].split(b"*")[0].split(b",")
        kind = chance.choice(("flagged", "range", "leap"))
        emf, flag = int(emf_nv), int(flags, 16)
        if kind == "flagged":
            flag |= chance.choice((OPEN, SHORT))
        elif kind == "range":
            emf = chance.choice((-1, 1)) * 90_000_000
        else:
            emf += chance.choice((-1, 1)) * chance.randrange(2_000_000, 12_000_000)
        return frame_line(int(seq), int(ms), emf, int(junction_mc), flag, int(channel))

    return mangle


def hostile_bytes(chance: random.Random) -> Mangle:
    """Give a line on which anything may stand between the frames, and now and then in them."""
    pieces: tuple[Callable[[], bytes], ...] = (
        lambda: chance.randbytes(chance.randrange(1, 400)),
        lambda: b"\x1b]0;owned\x07\x1b[2J\n",
        lambda: b"$TC," + b"9" * chance.randrange(10, 5000) + b"*0000\n",
        lambda: b"\x00" * chance.randrange(1, 3000) + b"\n",
        lambda: frame_line(0, 0, 10**9, 25_000).replace(b"*", b"*\xff"),
        lambda: "\N{RIGHT-TO-LEFT OVERRIDE}".encode() * 50 + b"\r\n",
        lambda: b'{"kind":"command","command":"end-heat"}\n' + b"[" * 900 + b"\n",
    )

    def mangle(frame: bytes) -> bytes:
        if chance.random() < 0.2:
            spoilt = bytearray(frame)
            spoilt[chance.randrange(len(spoilt))] ^= 1 << chance.randrange(8)
            frame = bytes(spoilt)
        return chance.choice(pieces)() + b"\n" + frame if chance.random() < 0.5 else frame

    return mangle
