"""All furnaces of a broker, listened to from one place."""

from rampwarden.shop.furnaces import Change, ChangeKind, Furnace
from rampwarden.shop.listener import CommandAnswer, LinkChange, Listener
from rampwarden.shop.shop_bell import ShopBell
from rampwarden.shop.views import draw, in_order, line_of, overview

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
    "line_of",
    "overview",
]
