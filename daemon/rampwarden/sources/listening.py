"""Listens to a port for a while and keeps every byte with its time of arrival.

Unlike `board`, which serves a watch, it judges nothing, mends nothing and opens the port once.
"""

import time
from collections.abc import Callable

from rampwarden.bench import AnswersHeard
from rampwarden.clock import Clock
from rampwarden.errors import SettingsError
from rampwarden.sources.asking import Asker
from rampwarden.sources.board import BoardSettings, board_decoder, open_board
from rampwarden.sources.serial_port import ask_port, close_port, open_port, read_port

# An opening restarts many boards, and some take so long to say their first word.
BOOT_S = 8.0
# Ten minutes of the fastest board we know; what floods a port is cut off, not kept.
_MOST_BYTES = 16_000_000

Chunk = tuple[float, bytes]


def listen(
    port: str, baud: int, *, dtr: bool, seconds: float, clock: Clock, tick: Callable[[float], None]
) -> list[Chunk]:
    """Give what comes within `seconds` of the first byte, each piece with its time on `clock`, s.

    Gives up after BOOT_S without a byte. `tick` is told from time to time how long it has listened, s.

    Raises `PortError` when the port cannot be opened or is lost.
    """
    line = open_port(port, baud, dtr=dtr)
    chunks: list[Chunk] = []
    try:
        began_s, first_s, size = clock.now_s(), None, 0
        while size < _MOST_BYTES:
            data = read_port(line, port)
            now_s = clock.now_s()
            if data:
                first_s = now_s if first_s is None else first_s
                chunks.append((now_s, data))
                size += len(data)
            if first_s is None and now_s - began_s > max(BOOT_S, BOOT_S * clock.speed):
                break
            if first_s is not None and now_s - first_s >= seconds:
                break
            tick(0.0 if first_s is None else now_s - first_s)
    finally:
        tick(seconds)
        close_port(line)
    return chunks


def listen_asking(
    settings: BoardSettings, *, seconds: float, clock: Clock, tick: Callable[[float], None]
) -> AnswersHeard:
    """Ask a board as a watch would, for `seconds` from its first answer on, and give what came of it.

    Gives up after BOOT_S without an answer. Raises `PortError` when the port cannot be opened or is lost, and
    `SettingsError` when the board is none that must be asked.
    """
    asker = board_decoder(settings)
    if not isinstance(asker, Asker):
        raise SettingsError("board.ask: this board speaks by itself")
    answered = AnswersHeard()
    line = open_board(settings)
    try:
        began_s, first_s = clock.now_s(), None
        while True:
            if question := asker.question(time.monotonic()):
                answered.rounds += 1
                ask_port(line, settings.port, question)
            spoiled = asker.garbled
            late, _ = asker.late_round()
            frames = late + asker.feed(read_port(line, settings.port))
            now_s = clock.now_s()
            if asker.garbled > spoiled:
                answered.spoiled[asker.words] += asker.garbled - spoiled
            for frame in frames:
                answered.frames.append(frame)
                answered.arrived_s.append(now_s)
            if frames and first_s is None:
                first_s = now_s
            answered.silence = asker.unwanted
            if first_s is None and now_s - began_s > max(BOOT_S, settings.longest_round_s):
                break
            if first_s is not None and now_s - first_s >= seconds:
                break
            tick(0.0 if first_s is None else now_s - first_s)
    finally:
        tick(seconds)
        close_port(line)
    return answered
