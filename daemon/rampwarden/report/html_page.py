"""A report as one HTML page that needs nothing else: styles and drawing inside, no script, fit for A4.

Every text is escaped here, and only here: marks, notes, titles and file names are other people's.
"""

import io
import re
import warnings
from collections.abc import Iterable, Sequence
from html import escape as escape_markup

import matplotlib as mpl
from matplotlib.figure import Figure

from rampwarden.report.content import CAUTIONS, Section, Table
from rampwarden.report.drawing import STYLE
from rampwarden.terminal_text import printable

_STYLES = """
@page { size: A4; margin: 12mm }
body { font: 10pt/1.35 "DejaVu Sans", "Liberation Sans", Arial, sans-serif; color: #000; background: #fff;
  max-width: 186mm; margin: 4mm auto; overflow-wrap: break-word }
h1 { font-size: 16pt; margin: 0 }
h2 { font-size: 11.5pt; margin: 5mm 0 1mm; break-after: avoid }
.under { color: #444; margin: 0 0 3mm }
.verdict { border: 0.6mm solid #000; border-left-width: 3mm; padding: 2mm 3mm; font-size: 12pt; font-weight: bold }
.kept { border-left-style: solid } .broken { border-left-style: double } .unfinished { border-left-style: dotted }
figure { margin: 4mm 0; break-inside: avoid }
figure svg { width: 100%; height: auto }
figcaption, .caution { font-size: 8.5pt; color: #444 }
table { border-collapse: collapse; width: 100%; font-size: 8.5pt }
th, td { text-align: left; vertical-align: top; padding: 0.6mm 1.5mm; border-bottom: 0.2mm solid #bbb }
th { border-bottom: 0.4mm solid #000 }
td.number, th.number { text-align: right; white-space: nowrap }
tr { break-inside: avoid }
ul { margin: 1mm 0; padding-left: 5mm }
@media screen and (max-width: 620px) {
  body { margin: 3mm }
  table { display: block; overflow-x: auto }
  figure { overflow-x: auto }
  figure svg { width: 640px }
}
"""
# Whatever slips into the page, a browser loads and runs nothing.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def html_page(
    title: str,
    under: str,
    verdicts: Sequence[tuple[str, str]],
    figure: Figure,
    caption: str,
    sections: Iterable[Section],
) -> str:
    """Give the page; `verdicts` are headlines with their kind, which is a class of the styles above."""
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{_written(title)}</title><style>{_STYLES}</style></head><body>",
        f"<h1>{_written(title)}</h1>",
        f'<p class="under">{_written(under)}</p>',
        *(f'<p class="verdict {_written(kind)}">{_written(headline)}</p>' for headline, kind in verdicts),
        f"<figure>{svg(figure)}<figcaption>{_written(caption)}</figcaption></figure>",
        *map(_section, sections),
        *(f'<p class="caution">{_written(caution)}</p>' for caution in CAUTIONS),
        "</body></html>\n",
    ]
    return "\n".join(parts)


def _written(text: str) -> str:
    """Give a text as it may stand in the page: no markup, and nothing that steers what shows it."""
    return escape_markup(printable(text))


def svg(figure: Figure) -> str:
    """Give a figure as an SVG element, the same to the byte each time."""
    stream = io.StringIO()
    with mpl.rc_context(STYLE), warnings.catch_warnings():
        # The reader's browser has letters that our measuring font lacks.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    text = stream.getvalue()
    # Inside HTML an SVG starts with its element: no XML declaration, no document type.
    element = text[text.index("<svg") :]
    return re.sub(r"<metadata>.*?</metadata>", "", element, count=1, flags=re.DOTALL)


def _section(section: Section) -> str:
    parts = [f"<h2>{_written(section.heading)}</h2>"]
    if len(section.sentences) == 1:
        parts.append(f"<p>{_written(section.sentences[0])}</p>")
    elif section.sentences:
        parts.append("<ul>" + "".join(f"<li>{_written(each)}</li>" for each in section.sentences) + "</ul>")
    if section.table is not None:
        parts.append(_table(section.table))
    return "\n".join(parts)


def _table(table: Table) -> str:
    def cells(tag: str, row: Sequence[str]) -> str:
        kinds = [' class="number"' if column in table.numbers else "" for column in range(len(row))]
        return "".join(f"<{tag}{kind}>{_written(cell)}</{tag}>" for kind, cell in zip(kinds, row, strict=True))

    head = f"<thead><tr>{cells('th', table.headings)}</tr></thead>" if any(table.headings) else ""
    body = "".join(f"<tr>{cells('td', row)}</tr>" for row in table.rows)
    return f"<table>{head}<tbody>{body}</tbody></table>"
