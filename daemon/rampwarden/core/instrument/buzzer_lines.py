"""The frame format's other direction: what a watch says to a board that has a buzzer.

Owns the two lines and nothing of when they are sent. `$HB,<seq>,<patience_ms>*<CRC>` is a heartbeat: the board sounds
by itself when none has come for that long; patience 0 means that the watch has ended as it was asked to.
`$AN,<seq>,<pattern>*<CRC>` says which alarm pattern the board is to sound from now on. Both stand in full, with
vectors, in firmware_notes/frame_format.md.
"""

from binascii import crc_hqx
from enum import IntEnum

from rampwarden.core.model import Priority

# What a board may be told to wait for a heartbeat, ms: shorter is a busy computer, longer is no dead-man's handle.
PATIENCE_MS = (500, 60_000)

_SEQ_BOUND = 0xFFFF


class Pattern(IntEnum):
    """What a board sounds: the number of strokes, as those of the bell."""

    SILENT = 0
    LOW = 1
    MEDIUM = 2
    HIGH = 3


PATTERN_OF = {Priority.LOW: Pattern.LOW, Priority.MEDIUM: Pattern.MEDIUM, Priority.HIGH: Pattern.HIGH}


def heartbeat(seq: int, patience_ms: int) -> bytes:
    """Give the line that tells the watch is alive; 0 ms that it has ended and nothing is to be waited for.

    >>> heartbeat(7, 5000)
    b'$HB,7,5000*3150\\r\\n'
    """
    lowest, highest = PATIENCE_MS
    if patience_ms and not lowest <= patience_ms <= highest:
        raise ValueError(f"patience {patience_ms} ms: 0, or {lowest} to {highest}")
    return _line(b"HB,%d,%d" % (seq & _SEQ_BOUND, patience_ms))


def annunciation(seq: int, pattern: Pattern) -> bytes:
    """Give the line that says what to sound from now on.

    >>> annunciation(8, Pattern.HIGH)
    b'$AN,8,3*A0B3\\r\\n'
    """
    return _line(b"AN,%d,%d" % (seq & _SEQ_BOUND, pattern))


def _line(body: bytes) -> bytes:
    return b"$%b*%04X\r\n" % (body, crc_hqx(body, 0))
