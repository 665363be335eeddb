"""What can still be read of a header that is no JSON any more: each field by itself, in the order they are written.

One flipped bit in the first line must not cost a heat whose every reading is still there.
"""

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
    pieces: dict[str, object] = {}
    at = 0
    for field in msgspec.structs.fields(Header):
        key = f'"{field.name}":'
        found = text.find(key, at)
        if found < 0 or field.name == "format":
            continue
        try:
            value, at_next = _decoder.raw_decode(text, found + len(key))
            pieces[field.name] = msgspec.convert(value, field.type)
        except (ValueError, RecursionError, msgspec.ValidationError):
            continue
        at = at_next
    return Header(**{"format": FORMAT, "started": "", **pieces})  # type: ignore[arg-type]  # each was converted
