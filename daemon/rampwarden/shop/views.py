"""The overview of a shop on a terminal: one row a furnace.

Who needs somebody stands on top, and what does not fit on the screen is counted, not drawn: so five thousand furnaces
cost hardly more to show than fit. Knows what a furnace's words mean to a person, and nothing of how they came; they are
free of what could steer a terminal since `said_words.py` took them in.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from rampwarden.core.model import URGENCY, WAITING, AlarmState, Priority
from rampwarden.core.quantities import format_duration
from rampwarden.outputs.alarm_lines import STATE_WORDS
from rampwarden.shop.furnaces import SILENT_S, Change, Furnace
from rampwarden.shop.listener import CommandAnswer, LinkChange
from rampwarden.shop.said_words import read_duration_s, read_number
from rampwarden.terminal_text import printable

_COLOURS = {Priority.HIGH: "bold red", Priority.MEDIUM: "yellow", Priority.LOW: "cyan"}
# Heading, and the terminal's width below which the column is left out: words give way, figures do not.
_COLUMNS = {"furnace": 0, "°C": 0, "ramp": 0, "segment": 110, "next": 90, "alarms": 0, "age": 0}
# Where a ramp is shown with its limit.
_WIDE = 130
_LONGEST_NAME = 24
# Title, head of the table, its lines, what is left over, what is missing, the last message.
_LINES_AROUND = 8


def line_of(change: Change | LinkChange | CommandAnswer) -> str:
    """Give the line that a change is worth, or nothing."""
    if isinstance(change, LinkChange):
        return f"listening at {change.text}" if change.is_up else f"hearing nobody: {printable(change.text)}"
    if isinstance(change, CommandAnswer):
        return printable(change.text)
    return f"{change.furnace.title}  {change.text}" if change.text else ""


@dataclass(frozen=True, slots=True)
class Overview:
    """What of a shop is to be seen: furnaces in rows, and how many more there are; `needing` of them need somebody."""

    rows: list[Furnace]
    before: int
    after: int
    needing: int

    def words(self) -> str:
        """Say what is not shown; nothing where everything is."""
        parts = [f"{self.before:,} more before these"] if self.before else []
        parts += [f"{self.after:,} more after these"] if self.after else []
        if self.needing:
            parts.append(f"{self.needing:,} not shown {'needs' if self.needing == 1 else 'need'} somebody")
        return " · ".join(parts)


def overview(furnaces: Sequence[Furnace], now_s: float, height: int, search: str = "", chosen: str = "") -> Overview:
    """Choose what to show on so many lines: those that need somebody first, of those that are searched for.

    The furnace that is `chosen` is always among them, and so are those that need somebody, however far down it is: up
    to half of the lines are theirs.
    """
    ordered = in_order(furnaces, now_s)
    found = [furnace for furnace in ordered if furnace.matches(search)] if search else ordered
    room = max(1, height - _LINES_AROUND)
    needing = {furnace.base for furnace in furnaces if needs_somebody(furnace, now_s)}
    at = next((index for index, furnace in enumerate(found) if furnace.base == chosen), 0)
    rows, end = found[:room], room
    if at >= room:
        urgent = [furnace for furnace in found[: room // 2] if furnace.base in needing]
        end = at + 1
        rows = urgent + found[end - room + len(urgent) : end]
    return Overview(
        rows, max(0, end - room), max(0, len(found) - end), len(needing - {furnace.base for furnace in rows})
    )


def draw(
    shown: Overview, now_s: float, width: int, title: str, last_word: str, chosen: str = "", lacking: str = ""
) -> RenderableType:
    """Draw the overview, `width` letters wide; `chosen` is the furnace that a key would act on."""
    table = Table(expand=True, pad_edge=False)
    headings = [heading for heading, least in _COLUMNS.items() if width >= least]
    for heading in headings:
        table.add_column(
            heading,
            justify="right" if heading in ("°C", "age") else "left",
            no_wrap=True,
            overflow="ellipsis",
            max_width=None if heading == "alarms" else _LONGEST_NAME,
            ratio=1 if heading == "alarms" else None,
        )
    for furnace in shown.rows:
        row = _row(furnace, now_s, with_limit=width >= _WIDE)
        table.add_row(*(row[heading] for heading in headings), style="reverse" if furnace.base == chosen else "")
    lines = (Text(title, style="bold"), table, Text(shown.words(), style="dim"), Text(lacking, style="yellow"))
    return Group(*(_one_line(each) if isinstance(each, Text) else each for each in (*lines, Text(last_word))))


def in_order(furnaces: Sequence[Furnace], now_s: float) -> list[Furnace]:
    """Give the furnaces with those first that need somebody."""

    def urgency(furnace: Furnace) -> tuple[int, int, str]:
        if furnace.is_missing(now_s):
            return (0, 0, furnace.base)
        alarms = furnace.alarms
        if not alarms:
            return (2, 9, furnace.base)
        waiting = [alarm for alarm in alarms if alarm.state in WAITING]
        worst = min(URGENCY[alarm.priority] for alarm in waiting or alarms)
        return (1 if waiting else 2, worst, furnace.base)

    return sorted(furnaces, key=urgency)


def needs_somebody(furnace: Furnace, now_s: float) -> bool:
    """Tell whether somebody has to look: it is missing, or an alarm of it waits to be acknowledged."""
    return furnace.is_missing(now_s) or (furnace.is_live and any(alarm.state in WAITING for alarm in furnace.alarms))


def _one_line(text: Text) -> Text:
    text.no_wrap, text.overflow = True, "ellipsis"
    return text


def _row(furnace: Furnace, now_s: float, *, with_limit: bool) -> dict[str, Text]:
    # What one that has ended said last is no value of now.
    values = furnace.values if furnace.is_live else {}
    segment = values.get("schedule/segment", "")
    number, count, temp_c = (
        read_number(values.get(path, ""))
        for path in ("schedule/segment-number", "schedule/segment-count", "probe/temperature")
    )
    if segment and number is not None and count is not None:
        segment = f"{segment} ({number:.0f} of {count:.0f})"
    to_next_s = read_duration_s(values.get("schedule/to-next", ""))
    return {
        "furnace": Text(furnace.title),
        "°C": Text("" if temp_c is None else f"{temp_c:.0f}"),
        "ramp": Text(_ramp(furnace, with_limit=with_limit) if furnace.is_live else ""),
        "segment": Text(segment or values.get("schedule/phase", "")),
        "next": Text("" if to_next_s is None else format_duration(to_next_s)),
        "alarms": _alarms(furnace, now_s),
        "age": _age(furnace, now_s),
    }


def _ramp(furnace: Furnace, *, with_limit: bool) -> str:
    ramp = furnace.number("probe/ramp")
    if ramp is None:
        return ""
    lowest, highest = furnace.number("schedule/ramp-lowest"), furnace.number("schedule/ramp-highest")
    bound = highest if highest is not None else lowest
    per_hour = abs(ramp if bound is None else bound) < 600
    factor, unit = (1.0, "°C/h") if per_hour else (1 / 60, "°C/min")
    limit = (
        ""
        if bound is None or not with_limit
        else f" ({'at most' if highest is not None else 'at least'} {bound * factor:+.0f})"
    )
    return f"{ramp * factor:+.0f} {unit}{limit}"


def _alarms(furnace: Furnace, now_s: float) -> Text:
    if furnace.is_missing(now_s):
        return Text("no word from it: look at the furnace", style="bold red")
    if not furnace.is_live:
        return Text(furnace.state, style="dim")
    if not furnace.alarms:
        return Text("")
    first = min(furnace.alarms, key=lambda alarm: (alarm.state not in WAITING, URGENCY[alarm.priority]))
    more = f" +{len(furnace.alarms) - 1}" if len(furnace.alarms) > 1 else ""
    # What waits for somebody says so by standing there; any other state comes first, where nothing cuts it off.
    state = "" if first.state is AlarmState.UNACKNOWLEDGED else f"{STATE_WORDS.get(first.state, str(first.state))} "
    return Text(f"{state}{first.alarm} · {first.text}{more}", style=_COLOURS[first.priority])


def _age(furnace: Furnace, now_s: float) -> Text:
    """Give how old the temperature is, or without one how long nothing has been heard."""
    if furnace.temp_s is None and not furnace.is_missing(now_s):
        return Text("")
    age_s = furnace.silent_s(now_s) if furnace.temp_s is None else now_s - furnace.temp_s
    return Text(f"{age_s:.0f} s", style="bold red" if age_s > SILENT_S else "yellow" if age_s > 5 else "")
