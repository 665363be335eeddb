"""The overview of a shop: one row a furnace on a terminal, one line a change elsewhere, and a bell for all of them.

Who needs somebody stands on top, and what does not fit on the screen is counted, not drawn: so a hundred furnaces cost
no more to show than fit. Knows what a furnace's words mean to a person, and nothing of how they came.
"""

from collections.abc import Callable, Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from rampwarden.core.model import URGENCY, WAITING, AlarmState, Event, EventName, Priority
from rampwarden.core.quantities import format_duration
from rampwarden.shop.furnaces import SILENT_S, Furnace

_COLOURS = {Priority.HIGH: "bold red", Priority.MEDIUM: "yellow", Priority.LOW: "cyan"}
# Heading, and the terminal's width below which the column is left out: words give way, figures do not.
_COLUMNS = {"furnace": 0, "°C": 0, "ramp": 0, "segment": 110, "next": 90, "alarms": 0, "age": 0}
# Where a ramp is shown with its limit.
_WIDE = 130
_LONGEST_NAME = 24
# Title, head of the table, its lines, what is left over, the last message.
_LINES_AROUND = 7


class ShopBell:
    """Keeps a bell informed of every alarm in the shop, furnaces that fall silent included. `tell` is the bell's."""

    def __init__(self, tell: Callable[[Event], None]) -> None:
        self._tell = tell
        self._told: dict[str, tuple[AlarmState, Priority]] = {}

    def look(self, furnaces: Sequence[Furnace], now_s: float, link_trouble: str) -> None:
        """Compare what stands with what the bell was told, and tell it the difference."""
        stands: dict[str, tuple[AlarmState, Priority]] = {}
        if link_trouble:
            stands["no broker"] = (AlarmState.UNACKNOWLEDGED, Priority.HIGH)
        for furnace in furnaces:
            if is_missing(furnace, now_s):
                stands[f"{furnace.base} missing"] = (AlarmState.UNACKNOWLEDGED, Priority.HIGH)
            if furnace.is_live:
                stands |= {f"{furnace.base} {alarm.alarm}": (alarm.state, alarm.priority) for alarm in furnace.alarms}
        for name in self._told.keys() | stands.keys():
            told, now = self._told.get(name), stands.get(name)
            if now != told:
                state, priority = now or (AlarmState.NORMAL, Priority.LOW)
                self._tell(Event(0.0, EventName.ALARM, alarm=name, state=state, priority=priority))
        self._told = stands


def is_missing(furnace: Furnace, now_s: float) -> bool:
    """Tell whether a furnace that should be heard is not: its will came, or it has stopped saying its temperature."""
    silent_s = furnace.silent_s(now_s)
    return furnace.state == "lost" or (furnace.is_live and silent_s is not None and silent_s > SILENT_S)


def draw(
    furnaces: Sequence[Furnace], now_s: float, width: int, height: int, title: str, last_word: str, chosen: str = ""
) -> RenderableType:
    """Draw the shop to fit `width` letters and `height` lines; `chosen` is the furnace that a key would act on."""
    ordered = in_order(furnaces, now_s)
    room = max(1, height - _LINES_AROUND)
    table = Table(expand=True, pad_edge=False)
    shown = [heading for heading, least in _COLUMNS.items() if width >= least]
    for heading in shown:
        table.add_column(
            heading,
            justify="right" if heading in ("°C", "age") else "left",
            no_wrap=True,
            overflow="ellipsis",
            max_width=None if heading == "alarms" else _LONGEST_NAME,
            ratio=1 if heading == "alarms" else None,
        )
    for furnace in ordered[:room]:
        row = _row(furnace, now_s, with_limit=width >= _WIDE)
        table.add_row(*(row[heading] for heading in shown), style="reverse" if furnace.base == chosen else "")
    left_over = f"and {len(ordered) - room} more, less urgent" if len(ordered) > room else ""
    return Group(Text(title, style="bold"), table, Text(left_over, style="dim"), Text(last_word))


def in_order(furnaces: Sequence[Furnace], now_s: float) -> list[Furnace]:
    """Give the furnaces with those first that need somebody."""

    def urgency(furnace: Furnace) -> tuple[int, int, str]:
        if is_missing(furnace, now_s):
            return (0, 0, furnace.base)
        waiting = [alarm for alarm in furnace.alarms if alarm.state in WAITING]
        worst = min((URGENCY[alarm.priority] for alarm in waiting or furnace.alarms), default=9)
        return (1 if waiting else 2, worst, furnace.base)

    return sorted(furnaces, key=urgency)


def _row(furnace: Furnace, now_s: float, *, with_limit: bool) -> dict[str, Text]:
    values = furnace.values
    segment = printable(values.get("schedule/segment", ""))
    if segment and "schedule/segment-count" in values:
        segment = f"{segment} ({values.get('schedule/segment-number', '?')} of {values['schedule/segment-count']})"
    temp_c = furnace.number("probe/temperature")
    return {
        "furnace": Text(printable(furnace.title)),
        "°C": Text("" if temp_c is None else f"{temp_c:.0f}"),
        "ramp": Text(_ramp(furnace, with_limit=with_limit)),
        "segment": Text(segment or printable(values.get("schedule/phase", ""))),
        "next": Text(_from_iso(values.get("schedule/to-next", ""))),
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
    if is_missing(furnace, now_s):
        return Text("no word from it: look at the furnace", style="bold red")
    if not furnace.is_live:
        return Text(printable(furnace.state), style="dim")
    if not furnace.alarms:
        return Text("")
    first = min(furnace.alarms, key=lambda alarm: (alarm.state not in WAITING, URGENCY[alarm.priority]))
    more = f" +{len(furnace.alarms) - 1}" if len(furnace.alarms) > 1 else ""
    state = "" if first.state is AlarmState.UNACKNOWLEDGED else f" [{first.state}]"
    return Text(printable(f"{first.alarm} · {first.text}{state}{more}"), style=_COLOURS[first.priority])


def _age(furnace: Furnace, now_s: float) -> Text:
    silent_s = furnace.silent_s(now_s)
    if silent_s is None:
        return Text("")
    return Text(f"{silent_s:.0f} s", style="bold red" if silent_s > SILENT_S else "yellow" if silent_s > 5 else "")


def _from_iso(text: str) -> str:
    """Write an ISO 8601 duration of hours, minutes and seconds for people.

    >>> _from_iso("PT1H30M")
    '1 h 30 min'
    """
    seconds, digits = 0, ""
    for letter in text.removeprefix("PT"):
        if letter.isdigit():
            digits += letter
        elif digits and letter in "HMS":
            seconds, digits = seconds + int(digits) * {"H": 3600, "M": 60, "S": 1}[letter], ""
        else:
            return ""
    return format_duration(seconds) if text else ""


def printable(text: str) -> str:
    """Give the text without anything that could steer a terminal: it comes from somebody else's computer."""
    return "".join(letter if letter.isprintable() else " " for letter in text)[:200]
