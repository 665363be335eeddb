"""Of all orders that stand, the one to carry out first; and none that contradicts it, or another that stands.

What is found now comes before what is not found any more and only waits for its off-delay. Among orders that
contradict each other the safer one stays (`ShortOrder.rank`) and the other is withheld, long form and short; of those
that are left the most urgent alarm's comes first. A pure function of the list: nothing is remembered, so an order
that was withheld is told again as soon as it may be.
"""

from msgspec.structs import replace

from rampwarden.core.model import URGENCY, StandingAlarm
from rampwarden.core.short_orders import ShortOrder


def with_first_order(alarms: tuple[StandingAlarm, ...]) -> tuple[StandingAlarm, ...]:
    """Give the alarms in their order, with contradicting orders withheld and the first order named."""
    kept: list[StandingAlarm] = []
    yielding: dict[str, str] = {}
    for alarm in sorted((each for each in alarms if each.order), key=_safest):
        order = ShortOrder(alarm.order)
        before = next((each for each in kept if order.contradicts(ShortOrder(each.order))), None)
        if before is None:
            kept.append(alarm)
        else:
            yielding[alarm.alarm] = before.alarm
    first = min(kept, key=_most_urgent, default=None)
    return tuple(_settled(alarm, yielding.get(alarm.alarm, ""), is_first=alarm is first) for alarm in alarms)


def _safest(alarm: StandingAlarm) -> tuple[bool, int, int, float]:
    return alarm.gone_s is not None, ShortOrder(alarm.order).rank, URGENCY[alarm.priority], alarm.since_s


def _most_urgent(alarm: StandingAlarm) -> tuple[bool, int, int, float]:
    return alarm.gone_s is not None, URGENCY[alarm.priority], ShortOrder(alarm.order).rank, alarm.since_s


def _settled(alarm: StandingAlarm, yields_to: str, *, is_first: bool) -> StandingAlarm:
    if yields_to:
        return replace(alarm, action="", order="", yields_to=yields_to)
    return replace(alarm, is_first=True) if is_first else alarm
