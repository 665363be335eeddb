"""All furnaces of a broker, listened to from one place."""

from rampwarden.shop.furnaces import Change, ChangeKind, Furnace
from rampwarden.shop.listener import CommandAnswer, LinkChange, Listener
from rampwarden.shop.views import ShopBell, draw, in_order, printable

__all__ = [
    "Change",
    "ChangeKind",
    "CommandAnswer",
    "Furnace",
    "LinkChange",
    "Listener",
    "ShopBell",
    "draw",
    "in_order",
    "printable",
]
