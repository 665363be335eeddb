"""From bytes with their times of arrival to the frames they mean, and an account of what they do not mean.

Uses the watch's own decoders, one line at a time, so that each frame keeps the time its line ended. What a decoder only
counts is sorted here by its cause: a checksum that fails is noise, a right checksum over an impossible number is a
board that puts the wrong number there.
"""

import re
from binascii import crc_hqx
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from rampwarden.core.instrument import ColumnFormat, Frame
from rampwarden.formats import NamedFormat, line_decoder

# A whole frame by its form, whatever its numbers: what the decoder refuses is looked at again by this.
_ANY_FRAME = re.compile(rb"\$(TC,(-?\d+),(-?\d+),(-?\d+),(-?\d+),(-?\d+),[0-9A-Fa-f]{1,2})\*([0-9A-Fa-f]{4})\r?")
_SAMPLE_LENGTH = 80
# As long as the longest line that any format takes.
_LONGEST_LINE = 2048


@dataclass(frozen=True, slots=True)
class HeardLine:
    """One line without its newline; `arrived_s` is when its end came, s."""

    arrived_s: float
    text: bytes


@dataclass(slots=True)
class Spoken:
    """What lines mean under one format.

    `frames` and `arrived_s` go together. `crc_failed` lines have the form of a frame and the wrong checksum; `refused`
    holds EMF (nV) and junction (m°C) of lines with a right checksum and an impossible number; `unreadable` is the rest,
    `sample` its latest, `words` what was wrong with it. `channels` counts the frames of channels that were not asked
    for; `unwanted` says why lines that can be read have nothing for us.
    """

    frames: list[Frame] = field(default_factory=list)
    arrived_s: list[float] = field(default_factory=list)
    crc_failed: int = 0
    refused: list[tuple[int, int]] = field(default_factory=list)
    unreadable: int = 0
    sample: bytes = b""
    words: str = ""
    unwanted: str = ""
    channels: Counter[int] = field(default_factory=Counter)

    @property
    def bad(self) -> int:
        """Every line that gave no frame."""
        return self.crc_failed + len(self.refused) + self.unreadable


def cut_lines(chunks: Iterable[tuple[float, bytes]]) -> list[HeardLine]:
    """Cut what arrived into lines. The first is dropped, being the end of one; blank ones mean nothing."""
    lines: list[HeardLine] = []
    tail, is_first = b"", True
    for arrived_s, data in chunks:
        *ended, tail = (tail + data).split(b"\n")
        for text in ended:
            if not is_first and text.strip():
                lines.append(HeardLine(arrived_s, text[:_LONGEST_LINE]))
            is_first = False
        # The bound of the watch's own decoder: no stream without a newline may eat memory.
        tail = tail[-_LONGEST_LINE:]
    return lines


def decode_lines(lines: Iterable[HeardLine], columns: ColumnFormat | NamedFormat | None, channel: int = 0) -> Spoken:
    """Read lines as frames, or as `columns`; of a board with several channels only `channel` is kept."""
    decoder = line_decoder(columns)
    spoken = Spoken()
    for line in lines:
        garbled = decoder.garbled
        frames = decoder.feed(line.text + b"\n")
        for frame in frames:
            if frame.channel == channel:
                spoken.frames.append(frame)
                spoken.arrived_s.append(line.arrived_s)
            else:
                spoken.channels[frame.channel] += 1
        if decoder.garbled > garbled:
            _sort_bad(line.text, spoken, is_framed=columns is None)
            spoken.words = decoder.words
        spoken.unwanted = decoder.unwanted
    return spoken


def _sort_bad(text: bytes, spoken: Spoken, *, is_framed: bool) -> None:
    match = _ANY_FRAME.fullmatch(text, max(text.rfind(b"$"), 0)) if is_framed else None
    if match is None:
        spoken.unreadable += 1
        spoken.sample = text[:_SAMPLE_LENGTH]
    elif crc_hqx(match[1], 0) != int(match[7], 16):
        spoken.crc_failed += 1
    else:
        spoken.refused.append((int(match[5]), int(match[6])))
