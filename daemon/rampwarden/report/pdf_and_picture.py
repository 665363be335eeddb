"""A report as a PDF or a picture, for those who have no browser at hand: the drawing first, the words after it.

Lays out words line by line on A4; what does not fit goes on to the next page. A picture is the first page alone.
"""

import contextlib
import textwrap
import warnings
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from rampwarden.report.content import CAUTIONS, Section, Table
from rampwarden.report.drawing import STYLE
from rampwarden.terminal_text import printable

_A4_IN = (8.27, 11.69)
_LETTERS = 104
"""Letters of 8 pt monospaced type to a line of 186 mm."""
_LINES = 84
_LINE_SHARE = 1.0 / 90.0
_DPI = 150


def save_pdf(path: Path, heading: Sequence[str], figure: Figure, sections: Iterable[Section]) -> None:
    """Write a PDF: the drawing under its heading, then pages of words. Raises `OSError` when it cannot be written."""
    lines = list(_lines(sections))
    with mpl.rc_context(STYLE), _quietly(), PdfPages(path, metadata={"CreationDate": None}) as pages:
        pages.savefig(_headed(figure, heading))
        for start in range(0, len(lines), _LINES):
            pages.savefig(_page(lines[start : start + _LINES]))


def save_drawing(path: Path, heading: Sequence[str], figure: Figure) -> None:
    """Write the drawing under its heading as a picture, in the format its name ends with."""
    metadata = {"Date": None} if path.suffix.lower() == ".svg" else None
    with mpl.rc_context(STYLE), _quietly():
        _headed(figure, heading).savefig(path, dpi=_DPI, metadata=metadata)


def _quietly() -> contextlib.AbstractContextManager[None]:
    """Keep matplotlib from telling of letters that its font lacks: it draws a box, and the page is readable still."""
    return warnings.catch_warnings(action="ignore", category=UserWarning)


def _headed(figure: Figure, heading: Sequence[str]) -> Figure:
    lines = [part for line in heading for part in textwrap.wrap(line, 100)]
    figure.suptitle("\n".join(lines), x=0.01, ha="left", fontsize=9)
    return figure


def _page(lines: Sequence[str]) -> Figure:
    page = Figure(figsize=_A4_IN)
    for number, line in enumerate(lines):
        y = 1.0 - 0.04 - number * _LINE_SHARE
        bold = "bold" if line.startswith("§") else "normal"
        page.text(0.06, y, line.removeprefix("§"), fontsize=7.6, family="monospace", weight=bold, va="top")
    return page


def _lines(sections: Iterable[Section]) -> Iterator[str]:
    for section in sections:
        yield f"§{section.heading}"
        for sentence in section.sentences:
            yield from textwrap.wrap(printable(sentence), _LETTERS, initial_indent="- ", subsequent_indent="  ")
        if section.table is not None:
            yield from _table_lines(section.table)
        yield ""
    for caution in CAUTIONS:
        yield from textwrap.wrap(caution, _LETTERS)


def _table_lines(table: Table) -> Iterator[str]:
    rows = [table.headings, *table.rows] if any(table.headings) else list(table.rows)
    widths = _widths(rows)
    for row in rows:
        cells = [textwrap.wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
        for number in range(max(map(len, cells))):
            parts = [cell[number] if number < len(cell) else "" for cell in cells]
            yield "  ".join(part.ljust(width) for part, width in zip(parts, widths, strict=True)).rstrip()


def _widths(rows: Sequence[Sequence[str]]) -> list[int]:
    """Give each column the width it wants, and take from the widest until the line fits."""
    widths = [max(1, *(len(row[column]) for row in rows)) for column in range(len(rows[0]))]
    while sum(widths) + 2 * (len(widths) - 1) > _LETTERS:
        widths[widths.index(max(widths))] -= 1
    return widths
