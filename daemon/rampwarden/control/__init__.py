"""The control socket: how other terminals ask a running watch and tell it."""

from rampwarden.control import messages
from rampwarden.control.client import ask, running
from rampwarden.control.messages import FORMAT, MARKS, STATUS, AboutWatch, Request, Snapshot
from rampwarden.control.places import make_folder, watch_name
from rampwarden.control.server import ControlServer

__all__ = [
    "FORMAT",
    "MARKS",
    "STATUS",
    "AboutWatch",
    "ControlServer",
    "Request",
    "Snapshot",
    "ask",
    "make_folder",
    "messages",
    "running",
    "watch_name",
]
