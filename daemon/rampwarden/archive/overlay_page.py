"""Heats over one another as a drawing, and a table, in one HTML page that needs nothing else: no script, no package.

Drawn from the courses that were kept, so that no record is replayed for it. Every text is escaped here.
"""

from collections.abc import Iterable, Sequence
from html import escape

from rampwarden.archive.archived_heat import HeatRow, Story
from rampwarden.terminal_text import printable

_WIDTH, _HEIGHT, _LEFT, _BOTTOM = 720, 360, 48, 28
# Colour and dash: either of them alone tells the heats apart.
_LOOKS = (
    ("#000000", ""),
    ("#d55e00", "8 4"),
    ("#0072b2", "2 3"),
    ("#009e73", "10 3 2 3"),
    ("#e69f00", "5 2"),
    ("#666666", "12 4"),
    ("#cc79a7", "3 5"),
    ("#56b4e9", "8 3 2 3 2 3"),
)
MOST = len(_LOOKS)
_STYLES = """
body { font: 10pt/1.4 "DejaVu Sans", "Liberation Sans", Arial, sans-serif; max-width: 190mm; margin: 6mm auto }
table { border-collapse: collapse; width: 100%; font-size: 8.5pt } th, td { text-align: left; padding: 1mm 2mm;
border-bottom: 0.2mm solid #bbb } svg { width: 100%; height: auto } h1 { font-size: 14pt }
@media (max-width: 600px) { table { display: block; overflow-x: auto } }
"""
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def heats_page(title: str, drawing: str, headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Give the page; `drawing` is markup of ours or empty."""
    head = "".join(f"<th>{_written(each)}</th>" for each in headings)
    body = "".join(f"<tr>{''.join(f'<td>{_written(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_written(title)}</title><style>{_STYLES}</style></head><body><h1>{_written(title)}</h1>\n"
        f"{drawing}\n<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></body></html>\n"
    )


def overlay(heats: Sequence[tuple[HeatRow, Story]]) -> str:
    """Give the courses over one axis of time since each heat's first reading, as an SVG element."""
    courses = [
        [(time_s - story.course[0][0], temp_c) for time_s, temp_c in story.course] for _, story in heats if story.course
    ]
    if not courses:
        return ""
    last_h = max(max(course[-1][0] for course in courses) / 3600.0, 1e-6)
    top_c = max(temp_c for course in courses for _, temp_c in course)
    step_c = 100.0 if top_c <= 800.0 else 200.0
    top_c = step_c * (int(top_c / step_c) + 1)
    step_h = next((step for step in (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 12.0) if last_h / step <= 10.0), 24.0)

    def x(time_s: float) -> float:
        return round(_LEFT + (_WIDTH - _LEFT - 8) * time_s / 3600.0 / last_h, 1)

    def y(temp_c: float) -> float:
        return round((_HEIGHT - _BOTTOM) * (1.0 - max(temp_c, 0.0) / top_c) + 4, 1)

    parts = [f'<svg viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" aria-label="courses of the heats" font-size="11">']
    for number in range(int(top_c / step_c) + 1):
        at = y(number * step_c)
        parts.append(f'<path d="M{_LEFT} {at}H{_WIDTH - 8}" stroke="#ccc" fill="none"/>')
        parts.append(f'<text x="{_LEFT - 4}" y="{at + 4}" text-anchor="end">{number * step_c:.0f} °C</text>')
    for number in range(int(last_h / step_h) + 1):
        hours = number * step_h
        at = x(hours * 3600.0)
        parts.append(
            f'<text x="{at}" y="{_HEIGHT - 8}" text-anchor="middle">{int(hours)}:{hours % 1 * 60:02.0f}</text>'
        )
    drawn = [(row, story) for row, story in heats if story.course]
    for number, (course, (row, _)) in enumerate(zip(courses, drawn, strict=True)):
        colour, dash = _LOOKS[number % MOST]
        points = " ".join(f"{x(time_s)},{y(temp_c)}" for time_s, temp_c in course)
        look = f'stroke="{colour}" stroke-dasharray="{dash}" stroke-width="1.6" fill="none"'
        parts.append(f'<polyline points="{points}" {look}/>')
        at = 18 + 15 * number
        parts.append(f'<path d="M{_LEFT + 10} {at - 4}h28" {look}/>')
        label = f"{number + 1}: {row.started[:16].replace('T', ' ')} {row.mark} {row.schedule}"
        parts.append(f'<text x="{_LEFT + 44}" y="{at}">{_written(label[:70])}</text>')
    return "".join((*parts, "</svg>"))


def _written(text: str) -> str:
    return escape(printable(text))
