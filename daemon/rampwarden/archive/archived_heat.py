"""What the archive keeps of a heat: its record, compressed and with its digest; its figures; its events; its course.

How these are kept, and how it is seen that they are whole. Gathered they are elsewhere (`gathering_heat`): whoever asks
of many heats needs no monitor.
"""

import gzip
import hashlib
import zlib

import msgspec
from msgspec import Struct

from rampwarden.core.model import Event
from rampwarden.errors import UNREADABLE_JSON, ArchiveError
from rampwarden.records import HeatFigures

# A record of three days has 30 MB; a file that unpacks to more is none of ours.
_LONGEST_CONTENT = 1 << 30


class HeatRow(Struct, frozen=True):
    """A heat in one row: what is listed, chosen and added up. Temperatures °C, masses kg, times s unless named.

    `length` and `sha256` are of the record as it was before compression. `soak_error_c` is how far the mean of the
    hottest soak lay from what was asked, None without one; `gas_kg` None where gas was not followed. Truths are 1 or 0,
    as in their columns.
    """

    id: str
    sha256: str
    length: int
    furnace: str
    started: str
    month: str
    schedule: str
    mark: str
    metal: str
    rehearsal: int
    was_heat: int
    closed: int
    complete: int
    seconds: float
    peak_c: float
    soaked_s: float
    hot_h: float
    dose_min: float
    alarms: int
    alarm_names: str
    over_min: float
    soak_error_c: float | None = None
    gas_kg: float | None = None


class Story(Struct, frozen=True):
    """What is drawn and read of one heat: `course` is pairs of time (s) and mean temperature (°C), evenly thinned."""

    figures: HeatFigures
    events: tuple[Event, ...]
    course: tuple[tuple[float, float], ...]


class ArchivedHeat(Struct, frozen=True):
    """A heat ready to be kept: its row, its story as JSON, and its record, both compressed (gzip)."""

    row: HeatRow
    story: bytes
    record: bytes


def packed(content: bytes) -> bytes:
    """Give bytes compressed, the same each time."""
    return gzip.compress(content, 6, mtime=0)


def unpacked(data: bytes) -> bytes:
    """Give what was compressed; raises `OSError`, `EOFError` or `zlib.error` for what is not whole."""
    unpacker = zlib.decompressobj(wbits=31)
    content = unpacker.decompress(data, _LONGEST_CONTENT)
    if not unpacker.eof:
        raise EOFError("is cut short")
    return content


def checked_record(row: HeatRow, data: bytes, where: str) -> bytes:
    """Give a kept record's content if it is what was handed in; raises `ArchiveError`."""
    try:
        content = unpacked(data)
    except (OSError, EOFError, zlib.error) as error:
        raise ArchiveError(f"{where}: the record of heat {row.id} is damaged: {error}") from error
    if hashlib.sha256(content).hexdigest() != row.sha256:
        raise ArchiveError(f"{where}: the record of heat {row.id} is not the one that was handed in (its hash differs)")
    return content


def story_from(data: bytes, heat: str, where: str) -> Story:
    """Give a kept story; raises `ArchiveError`."""
    try:
        return msgspec.json.decode(unpacked(data), type=Story)
    except (OSError, EOFError, zlib.error, msgspec.MsgspecError, *UNREADABLE_JSON) as error:
        raise ArchiveError(f"{where}: what was kept of heat {heat} is damaged: {error}") from error


def is_longer(row: HeatRow, before: HeatRow, content: bytes) -> bool:
    """Tell whether a record is the one that was kept, gone on: all of that stands at its beginning."""
    return row.length > before.length and hashlib.sha256(content[: before.length]).hexdigest() == before.sha256
