"""Which decoder reads which kind of line."""

from rampwarden.core.instrument import ColumnDecoder, ColumnFormat, FrameDecoder, LineDecoder
from rampwarden.formats.json_lines import JsonDecoder
from rampwarden.formats.labels import LabelDecoder
from rampwarden.formats.named import NamedDecoder, NamedFormat, Naming


def named_decoder(named: NamedFormat) -> NamedDecoder:
    """Give the decoder of lines of named values."""
    return JsonDecoder(named) if named.naming is Naming.JSON else LabelDecoder(named)


def line_decoder(lines: ColumnFormat | NamedFormat | None) -> LineDecoder:
    """Give the decoder of lines that come by themselves; None means our frames."""
    if lines is None:
        return FrameDecoder()
    return ColumnDecoder(lines) if isinstance(lines, ColumnFormat) else named_decoder(lines)
