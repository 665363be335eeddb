"""A terminal that has stopped reading, for tests: every byte of room in it is taken. Not a test itself."""

import os
import time
import tty

# The kernel moves what was written on to the reading side a little later, and then there is room again.
_SETTLING_S = 0.02


def fill_terminal(slave: int) -> None:
    """Write to a pseudo-terminal until it takes no more for good; from then on a write to it blocks."""
    tty.setraw(slave)
    os.set_blocking(slave, False)
    for size in (64, 1):
        refusals = 0
        while refusals < 3:
            try:
                os.write(slave, b"x" * size)
                refusals = 0
            except BlockingIOError:
                refusals += 1
                time.sleep(_SETTLING_S)
    os.set_blocking(slave, True)
