"""Where readings come from: a serial board, or a model furnace behind a pseudo-terminal."""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.sources.asking import HARMLESS, BusFound, TextFound, bus_trouble, try_bus, try_questions
    from rampwarden.sources.bench_board import ROOM_C, BenchBoard, BenchFault, BenchSurroundings
    from rampwarden.sources.beside_the_pot import USUAL_BOTTLE_KG, BesidePlace
    from rampwarden.sources.board import Board, BoardSettings, open_board
    from rampwarden.sources.board_model import NoiseClass
    from rampwarden.sources.button_device import ButtonDevice
    from rampwarden.sources.furnace_faults import DESCRIPTIONS, FaultName
    from rampwarden.sources.keyboard import HELP, listen_to_keyboard
    from rampwarden.sources.listening import listen, listen_asking
    from rampwarden.sources.probe_mishaps import PROBE_FAULTS, read_mishaps
    from rampwarden.sources.rehearsal import Rehearsal
    from rampwarden.sources.rehearsal_board import ModelHeat, RehearsalBoard
    from rampwarden.sources.serial_port import close_port, open_failure
    from rampwarden.sources.several_boards import SeveralBoards
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "DESCRIPTIONS",
    "HARMLESS",
    "HELP",
    "PROBE_FAULTS",
    "ROOM_C",
    "USUAL_BOTTLE_KG",
    "BenchBoard",
    "BenchFault",
    "BenchSurroundings",
    "BesidePlace",
    "Board",
    "BoardSettings",
    "BusFound",
    "ButtonDevice",
    "FaultName",
    "ModelHeat",
    "NoiseClass",
    "Rehearsal",
    "RehearsalBoard",
    "SeveralBoards",
    "TextFound",
    "bus_trouble",
    "close_port",
    "listen",
    "listen_asking",
    "listen_to_keyboard",
    "open_board",
    "open_failure",
    "read_mishaps",
    "try_bus",
    "try_questions",
]
