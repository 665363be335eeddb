"""Where readings come from: a serial board, or a model furnace behind a pseudo-terminal."""

from rampwarden.sources.asking import bus_trouble
from rampwarden.sources.bench_board import ROOM_C, BenchBoard, BenchFault, BenchSurroundings
from rampwarden.sources.board import Board, BoardSettings
from rampwarden.sources.board_model import NoiseClass
from rampwarden.sources.furnace_faults import DESCRIPTIONS, FaultName
from rampwarden.sources.keyboard import HELP, listen_to_keyboard
from rampwarden.sources.listening import listen
from rampwarden.sources.rehearsal import Rehearsal
from rampwarden.sources.rehearsal_board import ModelHeat, RehearsalBoard
from rampwarden.sources.serial_port import open_failure

__all__ = [
    "DESCRIPTIONS",
    "HELP",
    "ROOM_C",
    "BenchBoard",
    "BenchFault",
    "BenchSurroundings",
    "Board",
    "BoardSettings",
    "FaultName",
    "ModelHeat",
    "NoiseClass",
    "Rehearsal",
    "RehearsalBoard",
    "bus_trouble",
    "listen",
    "listen_to_keyboard",
    "open_failure",
]
