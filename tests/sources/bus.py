"""Boards that must be asked, behind real pseudo-terminals: a Modbus server that is not ours, and a scripted instrument.

The server is pymodbus' own, on a pseudo-terminal of its own; between the two stands a wire that tests may spoil. Not a
test itself.
"""

import asyncio
import contextlib
import os
import pty
import select
import threading
import tty
from collections.abc import Callable
from pathlib import Path

from pymodbus.framer import FramerType
from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice

Spoiler = Callable[[bytes], bytes]


class AskedBoard:
    """Answers each question, a line or a whole request, by `answer`; nothing to a question it does not know."""

    def __init__(self, path: Path, answer: Callable[[bytes], bytes | None], ends: bytes = b"\n\r") -> None:
        self.path = path
        self.asked: list[bytes] = []
        self._answer = answer
        self._ends = ends
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        path.unlink(missing_ok=True)
        path.symlink_to(os.ttyname(self._slave))
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="asked board", daemon=True)
        self._thread.start()

    def say(self, data: bytes) -> None:
        """Say something that nobody asked for."""
        os.write(self._master, data)

    def stop(self) -> None:
        """Fall silent and vanish."""
        self._stopping.set()
        self._thread.join(5.0)
        os.close(self._master)
        os.close(self._slave)
        self.path.unlink(missing_ok=True)

    def _run(self) -> None:
        question = b""
        while not self._stopping.is_set():
            readable, _, _ = select.select([self._master], [], [], 0.02)
            if not readable:
                continue
            for byte in os.read(self._master, 4096):
                if byte not in self._ends:
                    question += bytes([byte])
                elif question:
                    self.asked.append(question)
                    answer = self._answer(question)
                    question = b""
                    if answer is not None:
                        os.write(self._master, answer)


class BusServer:
    """A slave with registers behind a pseudo-terminal; `spoil` is what the wire does to its answers."""

    def __init__(self, path: Path, slave: int, registers: list[int], *, is_echoing: bool = False) -> None:
        self.path = path
        self.spoil: Spoiler = bytes
        self.answers = 0
        self._is_echoing = is_echoing
        ours, theirs = pty.openpty()
        server, server_end = pty.openpty()
        for end in (theirs, server_end):
            tty.setraw(end)
        path.symlink_to(os.ttyname(theirs))
        self._ends = (ours, theirs, server, server_end)
        self._wire = (ours, server)
        self._stopping = threading.Event()
        ready = threading.Event()
        data = SimData(0, values=registers, datatype=DataType.REGISTERS)
        device = SimDevice(slave, simdata=[data])
        self._threads = [
            threading.Thread(target=self._serve, args=(device, os.ttyname(server_end), ready), daemon=True),
            threading.Thread(target=self._carry, daemon=True),
        ]
        for thread in self._threads:
            thread.start()
        assert ready.wait(20.0)

    def stop(self) -> None:
        """Take the bus away."""
        self._stopping.set()
        for thread in self._threads:
            thread.join(5.0)
        for end in self._ends:
            os.close(end)
        self.path.unlink(missing_ok=True)

    def _serve(self, device: SimDevice, port: str, ready: threading.Event) -> None:
        async def serve() -> None:
            server = ModbusSerialServer(device, framer=FramerType.RTU, port=port, baudrate=9600)
            task = asyncio.create_task(server.serve_forever())
            while server.transport is None and not task.done():
                await asyncio.sleep(0.01)
            ready.set()
            while not self._stopping.is_set():
                await asyncio.sleep(0.02)
            await server.shutdown()
            with contextlib.suppress(asyncio.CancelledError):
                await task

        asyncio.run(serve())

    def _carry(self) -> None:
        ours, server = self._wire
        while not self._stopping.is_set():
            readable, _, _ = select.select([ours, server], [], [], 0.02)
            for end in readable:
                data = os.read(end, 4096)
                if end == ours:
                    if self._is_echoing:
                        os.write(ours, data)
                    os.write(server, data)
                else:
                    self.answers += 1
                    os.write(ours, self.spoil(data))
