"""The control socket: how other terminals ask a running watch and tell it.

`server` and `orders` are the watch's end, rooms of their own: who only asks does not load them.
"""

from rampwarden.control import messages
from rampwarden.control.client import ask, running
from rampwarden.control.messages import FORMAT, MARKS, STATUS, AboutWatch, Request, Snapshot
from rampwarden.control.places import make_folder, watch_name

__all__ = [
    "FORMAT",
    "MARKS",
    "STATUS",
    "AboutWatch",
    "Request",
    "Snapshot",
    "ask",
    "make_folder",
    "messages",
    "orders",
    "running",
    "server",
    "watch_name",
]
