"""What a line of a heat record may be, and its one JSON form.

Inputs stand in a record raw, so that a replay measures again; events stand beside them. Every line has a sequence
number, which is what other outputs point at. Opens no file.
"""

from collections.abc import Iterable, Iterator

import msgspec
from msgspec import Struct

from rampwarden.core.model import ClockMark, Command, EarlierHeat, Event, Notice, ProbeReading, Reading

FORMAT = "rampwarden-heat/1"

# A longer line is none of ours; without a bound one missing newline would cost all memory. The header carries the whole
# schedule, and a hundred segments with something to say at each fill it to some 100 kB.
LONGEST_LINE = 65_536
LONGEST_HEADER = 1_048_576
# No heat lasts so long (four months, seconds), and no watch reads its clock so wrong but by damage.
MOST_S = 1e7


class Header(Struct, frozen=True, tag_field="kind", tag="header", omit_defaults=True):
    """The first line. `started` is wall time (ISO 8601, UTC); `schedule` and `parameters` are what a replay needs.

    `rehearsal` tells that no furnace was watched. `zero_s` is the host's own clock at time 0 within its start `boot`:
    by it a heat is taken up again after a crash. `settings` are those that were not at their default, by section: a
    start that cannot read its settings goes on by them. A record that goes on where the damaged one `continues` (id
    `continued_id`) broke off begins with that one's legible lines, up to the sequence number `carried`.
    """

    format: str
    started: str
    id: str = ""
    title: str = ""
    note: str = ""
    schedule: dict[str, object] | None = None
    crucible: str = ""
    metal: str = ""
    thermocouple: str = ""
    board: dict[str, object] = {}
    parameters: dict[str, object] = {}
    boot: str = ""
    zero_s: float = 0.0
    software: str = ""
    rehearsal: bool = False
    settings: dict[str, object] = {}
    continues: str = ""
    continued_id: str = ""
    carried: int = 0


class End(Struct, frozen=True, tag_field="kind", tag="end", omit_defaults=True):
    """The last line of a heat that was closed."""

    time_s: float
    reason: str = ""


Line = Header | Reading | ProbeReading | Command | Notice | ClockMark | EarlierHeat | Event | End

_encoder = msgspec.json.Encoder()
decoder: msgspec.json.Decoder[Line] = msgspec.json.Decoder(Line)


def numbered(header: Header, lines: Iterable[Line]) -> Iterator[bytes]:
    """Give a record's lines as they stand in its file, the header as number 0."""
    yield encode_line(header, 0)
    for seq, line in enumerate(lines, start=1):
        yield encode_line(line, seq)


def encode_line(line: Line, seq: int | None = None, run: str = "", named: int = 0) -> bytes:
    """Give a line's one JSON form, newline included; the sequence number stands first where there is one.

    The id of the run that numbered it stands last, where there is one: an event's key is made of it. Where another
    number than `seq` belongs to the key, it is `named` after it.
    """
    body = _encoder.encode(line)
    if run:
        key = b'"run":"%b","named":%d' % (run.encode(), named) if named else b'"run":"%b"' % run.encode()
        body = b"%b,%b}" % (body[:-1], key)
    return body + b"\n" if seq is None else b'{"seq":%d,%b\n' % (seq, body[1:])
