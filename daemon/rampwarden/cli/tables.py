"""Tables on standard output: ruled and coloured on a terminal, plain columns elsewhere, CSV where it is asked for.

Every cell is stripped of control characters: marks, notes and schedules are other people's text.
"""

import csv
import sys
from collections.abc import Iterable, Sequence

from rampwarden.terminal_text import printable, shortened, spreadsheet_cell

# A text of the register has 500 letters at most, and a column is as wide as its widest cell.
_LONGEST_CELL = 500

Cell = str | tuple[str, str]
"""Text, or text with its rich style."""


def print_table(headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Print rows under their headings; nothing at all where there are none."""
    cells = [[(cell, "") if isinstance(cell, str) else cell for cell in row] for row in rows]
    cells = [[(shortened(printable(text), _LONGEST_CELL), style) for text, style in row] for row in cells]
    if not cells:
        return
    if sys.stdout.isatty():
        _print_ruled(headings, cells)
        return
    lines = [[text for text, _ in row] for row in cells]
    if any(headings):
        lines.insert(0, list(headings))
    widths = [max(len(line[column]) for line in lines) for column in range(len(headings))]
    for line in lines:
        print("  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip())


def _print_ruled(headings: Sequence[str], cells: Iterable[Sequence[tuple[str, str]]]) -> None:
    from rich.box import SIMPLE_HEAD  # noqa: PLC0415 (plain columns do without)
    from rich.console import Console  # noqa: PLC0415
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    table = Table(box=SIMPLE_HEAD, show_header=any(headings), pad_edge=False)
    for heading in headings:
        table.add_column(heading)
    for row in cells:
        table.add_row(*(Text(text, style=style) for text, style in row))
    Console(file=sys.stdout, highlight=False).print(table)


def print_csv(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Print rows as CSV, numbers in full; None is an empty field."""
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(headings)
    writer.writerows([spreadsheet_cell(value) for value in row] for row in rows)
