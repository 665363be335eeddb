"""What is looked at before lighting up: one module a part of the watch, each giving one line a question."""

from rampwarden.checks.board import LEAST_WAIT_S, Heard, judge_held_port, judge_port, judge_probe, listen_to_board
from rampwarden.checks.broker import judge_broker
from rampwarden.checks.check import Check, CheckOutcome, fine, look_again, will_not_work
from rampwarden.checks.host import judge_clock, judge_room

__all__ = [
    "LEAST_WAIT_S",
    "Check",
    "CheckOutcome",
    "Heard",
    "fine",
    "judge_broker",
    "judge_clock",
    "judge_held_port",
    "judge_port",
    "judge_probe",
    "judge_room",
    "listen_to_board",
    "look_again",
    "will_not_work",
]
