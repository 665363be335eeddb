"""The page: the heat in a browser, on a phone in the hand or a tablet on the wall, served by the watch itself.

Needs `rampwarden[page]`; whoever does not switch it on never imports it. It looks at the watch through the picture that
every display draws from, speaks to it by commands like those of a keyboard, and can neither hold it up nor end it.
"""

__all__ = [
    "access",
    "server",
]
