"""What can still be read of a header that is no JSON any more: each field by itself.

One flipped bit in the first line must not cost a heat whose every reading is still there.
"""

import contextlib
import json

import msgspec

from rampwarden.records.record_lines import FORMAT, Header

# Values nest as deep as a schedule does; whatever goes deeper is damage.
_decoder = json.JSONDecoder()


def pieced_header(first: bytes) -> Header:
    """Give the header as far as its line still tells; a field that is not legible is at its default.

    `format` is ours in any case, and `started` empty where it cannot be read. Raises nothing.
    """
    text = first.decode(errors="replace")
    wanted = {f'"{field.name}":': field for field in msgspec.structs.fields(Header) if field.name != "format"}
    pieces: dict[str, object] = {}
    at = 0
    # The nearest first: what stands inside a value that can be read is jumped over with it.
    while found := [(place, key) for key in wanted if (place := text.find(key, at)) >= 0]:
        place, key = min(found)
        field = wanted.pop(key)
        at = place + len(key)
        with contextlib.suppress(ValueError, RecursionError, msgspec.ValidationError):
            value, end = _decoder.raw_decode(text, at)
            pieces[field.name] = msgspec.convert(value, field.type)
            at = end
    return Header(**{"format": FORMAT, "started": "", **pieces})  # type: ignore[arg-type]  # each was converted
