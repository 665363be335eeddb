"""A log's bytes as text: which encoding they are in is told by what they hold, and said."""

import codecs
from dataclasses import dataclass

from rampwarden.errors import ForeignLogError

LARGEST = 256 * 1024 * 1024
"""Bytes of one log: a reading every tenth of a second for a month."""
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
# So many bytes show whether every second one is a nought.
_LOOKED_AT = 4096


@dataclass(frozen=True, slots=True)
class LogText:
    """A log's lines without their ends, and the name of its encoding for people."""

    lines: tuple[str, ...]
    encoding: str


def text_of_log(data: bytes) -> LogText:
    """Decode a log; raises `ForeignLogError` where it is no text.

    An old one-byte encoding cannot be told from its sisters; they differ in letters of names, never in digits.
    """
    if len(data) > LARGEST:
        raise ForeignLogError(f"more than {LARGEST:,} bytes; cut it to one heat")
    text, encoding = _decoded(data)
    if "\0" in text:
        raise ForeignLogError("is no text; export it as CSV or plain text")
    return LogText(tuple(text.replace("\r\n", "\n").replace("\r", "\n").split("\n")), encoding)


def _decoded(data: bytes) -> tuple[str, str]:
    for bom, codec, name in _BOMS:
        if data.startswith(bom):
            return data.decode(codec, errors="replace"), name
    head = data[:_LOOKED_AT]
    for offset, codec in ((1, "utf-16-le"), (0, "utf-16-be")):
        noughts = head[offset::2].count(0)
        if noughts > len(head) // 4 and head[1 - offset :: 2].count(0) == 0:
            return data.decode(codec, errors="replace"), "UTF-16"
    try:
        return data.decode("utf-8"), "plain ASCII" if data.isascii() else "UTF-8"
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252"), "Windows-1252 or Latin-1"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "an old one-byte encoding"
