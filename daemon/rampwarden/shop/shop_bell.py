"""A bell for a whole shop: told what changes, whoever of the furnaces is shown."""

from collections.abc import Callable, Iterable

from rampwarden.core.model import AlarmState, Event, EventName, Priority
from rampwarden.shop.furnaces import Furnace

_MISSING = " missing"


class ShopBell:
    """Keeps a bell informed of every alarm in the shop, furnaces that fall silent included. `tell` is the bell's."""

    def __init__(self, tell: Callable[[Event], None]) -> None:
        self._tell = tell
        self._told: dict[str, tuple[AlarmState, Priority]] = {}

    def look(self, furnaces: Iterable[Furnace], now_s: float, link_trouble: str) -> None:
        """Compare what stands with what the bell was told, and tell it the difference.

        While nobody is heard that alone is told, and no furnace is called missing for it.
        """
        stands: dict[str, tuple[AlarmState, Priority]] = {}
        if link_trouble:
            stands = {name: told for name, told in self._told.items() if name.endswith(_MISSING)}
            stands["no broker"] = (AlarmState.UNACKNOWLEDGED, Priority.HIGH)
        for furnace in furnaces:
            if not link_trouble and furnace.is_missing(now_s):
                stands[f"{furnace.base}{_MISSING}"] = (AlarmState.UNACKNOWLEDGED, Priority.HIGH)
            if furnace.is_live:
                for alarm in furnace.alarms:
                    stands[f"{furnace.base} {alarm.alarm}"] = (alarm.state, alarm.priority)
        for name in self._told.keys() | stands.keys():
            told, now = self._told.get(name), stands.get(name)
            if now != told:
                state, priority = now or (AlarmState.NORMAL, Priority.LOW)
                self._tell(Event(0.0, EventName.ALARM, alarm=name, state=state, priority=priority))
        self._told = stands
