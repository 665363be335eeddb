"""What outlives a heat: its record."""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.records.calibration_file import find_calibration, keep_calibration, read_calibration
    from rampwarden.records.crucible_advice import judge_crucible, must_dry, readiness_words, warnings
    from rampwarden.records.crucible_retirement import (
        NEAR,
        RetireStanding,
        nearest_limit,
        retire_standings,
        retirement_of,
    )
    from rampwarden.records.crucibles import Crucible, History, pot_of
    from rampwarden.records.csv_files import Columns, ImportTally, parse_columns, read_csv, usual_interval_s, write_csv
    from rampwarden.records.earlier_heats import Learnt, learn_earlier_heats
    from rampwarden.records.figures import HeatFigures, PhysicsFigures, SegmentFigures
    from rampwarden.records.header_parameters import changed_parameters, header_remarks, parameters_of, running_software
    from rampwarden.records.heat_figures import figures_of
    from rampwarden.records.locks import PortLock, writer_of
    from rampwarden.records.packing import Packed, pack_finished
    from rampwarden.records.record_identity import header_of, record_id
    from rampwarden.records.record_lines import FORMAT, End, Header, Line, encode_line, numbered
    from rampwarden.records.record_reader import RecordReader
    from rampwarden.records.record_writer import RecordWriter
    from rampwarden.records.recovery import (
        GoneBy,
        Search,
        TakenUp,
        Unfinished,
        begin_anew,
        find_unfinished,
        take_up,
        unused_name,
    )
    from rampwarden.records.register import PATIENCE_S, Register
    from rampwarden.records.register_life import Happened, PotLife
    from rampwarden.records.register_moving import Carried, carry_over
    from rampwarden.records.register_rows import RegisteredHeat
    from rampwarden.records.replay import Replay, ReplaySummary, schedule_of
    from rampwarden.records.writing import sync_folder
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "FORMAT",
    "NEAR",
    "PATIENCE_S",
    "Carried",
    "Columns",
    "Crucible",
    "End",
    "GoneBy",
    "Happened",
    "Header",
    "HeatFigures",
    "History",
    "ImportTally",
    "Learnt",
    "Line",
    "Packed",
    "PhysicsFigures",
    "PortLock",
    "PotLife",
    "RecordReader",
    "RecordWriter",
    "Register",
    "RegisteredHeat",
    "Replay",
    "ReplaySummary",
    "RetireStanding",
    "Search",
    "SegmentFigures",
    "TakenUp",
    "Unfinished",
    "begin_anew",
    "carry_over",
    "changed_parameters",
    "encode_line",
    "figures_of",
    "find_calibration",
    "find_unfinished",
    "header_of",
    "header_remarks",
    "judge_crucible",
    "keep_calibration",
    "learn_earlier_heats",
    "must_dry",
    "nearest_limit",
    "numbered",
    "pack_finished",
    "parameters_of",
    "parse_columns",
    "pot_of",
    "read_calibration",
    "read_csv",
    "readiness_words",
    "record_id",
    "retire_standings",
    "retirement_of",
    "running_software",
    "schedule_of",
    "sync_folder",
    "take_up",
    "unused_name",
    "usual_interval_s",
    "warnings",
    "write_csv",
    "writer_of",
]
