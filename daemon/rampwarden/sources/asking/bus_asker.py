"""Questions on a Modbus RTU bus: one request a round for all registers that are wanted.

Frames, checksums and function codes are pymodbus' (Modbus application protocol V1.1b3; over serial line V1.02); the
port is ours, so that a bus is opened, lost and found again like every other board. pymodbus is an extra, imported when
a bus is asked for and not before.
"""

import struct
from collections.abc import Sequence
from importlib.util import find_spec

from rampwarden.core.instrument import Frame
from rampwarden.errors import SettingsError
from rampwarden.formats import RegisterMap
from rampwarden.sources.asking.asker import Asker

# Modbus application protocol V1.1b3, 7.
_EXCEPTIONS = {
    1: "illegal function: set function to the other, 3 or 4",
    2: "illegal data address: no such register",
    3: "illegal data value",
    4: "the device failed",
    5: "acknowledge: it needs longer",
    6: "the device is busy",
    8: "memory parity error",
    10: "gateway path unavailable",
    11: "gateway target did not respond",
}
_EXCEPTION_BIT = 0x80


def bus_trouble() -> str:
    """Say what keeps a bus from being asked; empty if nothing does."""
    if find_spec("pymodbus") is not None:
        return ""
    return "board.format = 'modbus': needs pymodbus; install it with pip install 'rampwarden[modbus]'"


class BusAsker(Asker):
    """Asks one slave for its registers; raises `SettingsError` where pymodbus is missing."""

    def __init__(self, registers: RegisterMap, interval_s: float) -> None:
        if trouble := bus_trouble():
            raise SettingsError(trouble)
        from pymodbus.framer import FramerRTU  # noqa: PLC0415  # an extra: only who asks a bus needs it
        from pymodbus.pdu import DecodePDU  # noqa: PLC0415
        from pymodbus.pdu.register_message import (  # noqa: PLC0415
            ReadHoldingRegistersRequest,
            ReadInputRegistersRequest,
        )

        request = ReadHoldingRegistersRequest if registers.function == 3 else ReadInputRegistersRequest
        asked = request(address=registers.first, count=registers.count, dev_id=registers.slave)
        self._registers = registers
        self._framer = FramerRTU(DecodePDU(is_server=False))
        super().__init__([self._framer.buildFrame(asked)], interval_s, registers.answer_within_s)
        self.counts: Sequence[int] = ()
        """The registers as they were read last."""

    def look_at(self, came: bytes, question: bytes) -> list[Frame]:
        """Take the first whole frame; one that is not the wanted answer costs the reading."""
        if came.startswith(question):
            came = came[len(question) :]  # an adapter that hears itself
        try:
            used, slave, _, answer = self._framer.decode(came)
        except (IndexError, ValueError, struct.error) as wrong:
            # A function whose length is told by bytes that are not there: noise, or another master's request.
            return self._close(None, came, f"bytes that are no answer ({type(wrong).__name__})")
        if not used:
            return []
        if not answer:
            return self._close(None, came, "an answer with a broken checksum")
        if slave != self._registers.slave:
            return self._close(None, came, f"an answer of slave {slave}, not of {self._registers.slave}")
        words = self._refusal(answer)
        if not words:
            told = self._framer.decoder.decode(answer)
            self.counts = () if told is None else tuple(told.registers)
        return self._close(None if words else answer, came, words)

    def _refusal(self, answer: bytes) -> str:
        """Say what is wrong with an answer that came whole; empty if nothing is.

        Looked at before it is decoded: what pymodbus cannot decode it writes to the log.
        """
        if answer[0] & _EXCEPTION_BIT:
            code = answer[1] if len(answer) > 1 else 0
            return f"exception {code} ({_EXCEPTIONS.get(code, 'not in the standard')})"
        if answer[0] != self._registers.function:
            return f"an answer to function {answer[0]}, not to {self._registers.function}"
        if answer[1] != len(answer) - 2 or answer[1] % 2:
            return "an answer whose length contradicts itself"
        if answer[1] != 2 * self._registers.count:
            return f"{answer[1] // 2} registers where {self._registers.count} were asked for"
        return ""

    def read_round(self, answers: Sequence[bytes | None]) -> tuple[list[Frame], str]:
        """Make temperatures of the registers."""
        return self._registers.frames(self.counts) if answers[0] is not None and self.counts else ([], "")

    @property
    def shown_question(self) -> str:
        """What was asked, for a person."""
        wanted = self._registers
        return f"slave {wanted.slave}, function {wanted.function}, registers {wanted.first} to " + str(
            wanted.first + wanted.count - 1
        )
