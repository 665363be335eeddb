"""How a board speaks, from its section of the settings: lines, answers or registers of a bus, and its channels."""

from collections.abc import Iterator, Mapping

from rampwarden.core.instrument import AdcScaling, Column, ColumnFormat
from rampwarden.errors import SettingsError
from rampwarden.formats import AnswerReader, NamedFormat, Naming, QuestionRound, RegisterMap
from rampwarden.settings import BoardSection
from rampwarden.sources import BoardSettings, bus_trouble

# Below this a board that must be asked is asked before its answer to the last question can be there.
_SHORTEST_ROUND_S = 0.1
_NAMED = {"labels": Naming.LABELS, "json": Naming.JSON}
_FRAME_CHANNELS = 100  # two digits
SPEAKS_FRAMES: Mapping[str, object] = {
    "board.format": "frames",
    "board.channel": 0,
    **dict.fromkeys(("board.values", "board.junction", "board.ask"), ()),
    **dict.fromkeys(("board.registers", "board.junction_registers"), ()),
    **dict.fromkeys(("board.ms", "board.fault"), ""),
}
"""What makes of any board's settings those of a model board, which speaks our frames."""


def board_source(board: BoardSection) -> BoardSettings:
    """Give the board as the serial source takes it; raises `SettingsError` when its settings make no sense together."""
    if unused := "; ".join(_unused(board)):
        raise SettingsError(unused)
    lines = _lines(board)
    asking = _asking(board, lines)
    registers = _registers(board) if board.format == "modbus" else None
    is_asked = asking is not None or registers is not None
    if is_asked and board.buzzer:
        raise SettingsError("board.buzzer = True: a board that must be asked gets its questions and nothing else")
    if is_asked and board.interval < _SHORTEST_ROUND_S:
        raise SettingsError(
            f"board.interval = {board.interval:g} s: a board is asked each {_SHORTEST_ROUND_S} s at most"
        )
    return BoardSettings(
        port=board.port,
        baud=board.baud,
        columns=lines,
        dating=board.dating,
        channel=channel_number(board, board.channel),
        dtr=board.dtr,
        interval_s=board.interval,
        asking=asking,
        registers=registers,
        parity=board.parity,
        stop_bits=board.stop_bits,
    )


def board_channels(board: BoardSection) -> tuple[str, ...]:
    """Give the names of a board's channels, their position being the number that readings carry; none for frames.

    A label, a key, or a register's number; in columns the measurement's name, followed by its place among several.
    """
    if board.format in _NAMED:
        return board.values
    if board.format == "modbus":
        return tuple(f"register {register}" for register in board.registers)
    if board.format == "columns":
        beside = (Column.JUNCTION_C, Column.MS, Column.SKIP)
        measured = [column for column in board.columns if column not in beside]
        return tuple(str(column) if len(measured) < 2 else f"{column} {place}" for place, column in enumerate(measured))
    return ()


def channel_number(board: BoardSection, channel: int | str) -> int:
    """Give the number of a channel that is named or numbered; raises `SettingsError` with what there is instead."""
    names = board_channels(board)
    if isinstance(channel, str):
        if channel in names:
            return names.index(channel)
        known = f"known: {', '.join(names)}" if names else "frames number their channels from 0"
        raise SettingsError(f"board.channel = {channel!r}: there is no such channel; {known}")
    most = len(names) if names else _FRAME_CHANNELS if board.format == "frames" else 1
    if channel >= most:
        listed = f": {', '.join(names)}" if names else ""
        raise SettingsError(f"board.channel = {channel}: the board has channels 0 to {most - 1}{listed}")
    return channel


def _lines(board: BoardSection) -> ColumnFormat | NamedFormat | None:
    if board.format == "columns":
        scaling = AdcScaling(board.reference_v, board.bits, board.gain, board.offset_uv)
        return ColumnFormat(
            columns=board.columns,
            delimiter=board.delimiter,
            scaling=scaling if Column.ADC in board.columns else None,
            single_slope_uv_per_c=board.single_slope_uv_per_c or None,
        )
    if board.format in _NAMED:
        return NamedFormat(
            naming=_NAMED[board.format],
            values=board.values,
            junction=board.junction,
            ms=board.ms,
            fault=board.fault,
            unit=board.unit,
            open_values=board.open_values,
        )
    return None


def _asking(board: BoardSection, answers: ColumnFormat | NamedFormat | None) -> QuestionRound | None:
    if not board.ask:
        return None
    if answers is None:
        raise SettingsError('board.ask: a board that must be asked answers in format "columns", "labels" or "json"')
    asking = QuestionRound(board.ask, board.ask_end, board.answer_within)
    AnswerReader(answers, len(asking.questions))  # for its complaints
    return asking


def _registers(board: BoardSection) -> RegisterMap:
    if trouble := bus_trouble():
        raise SettingsError(trouble)
    return RegisterMap(
        registers=board.registers,
        slave=board.slave,
        function=board.function,
        word=board.word,
        low_word_first=board.word_order == "low-first",
        scale=board.scale,
        unit=board.unit,
        junction_registers=board.junction_registers,
        open_values=board.open_values,
        answer_within_s=board.answer_within,
    )


def _unused(board: BoardSection) -> Iterator[str]:
    """Say which keys are set that the format does not look at: somebody meant them to."""
    if board.format not in _NAMED:
        for key in ("values", "junction", "ms", "fault"):
            if getattr(board, key):
                yield f'board.{key}: belongs to format "labels" or "json", and the format is "{board.format}"'
    if board.format != "modbus":
        for key in ("registers", "junction_registers"):
            if getattr(board, key):
                yield f'board.{key}: belongs to format "modbus", and the format is "{board.format}"'
