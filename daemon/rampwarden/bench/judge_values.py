"""Judges what a board measures: noise by its parts, the junction, and whether the scaling can be right."""

from collections.abc import Iterator, Sequence

import numpy as np

from rampwarden.bench.finding import BoardFinding, Sureness
from rampwarden.bench.known_beforehand import Asked
from rampwarden.bench.noise_parts import UNKNOWN_RATE, FloatArray, NoiseParts, split_noise
from rampwarden.bench.suspicions import Seen, suspect_scaling
from rampwarden.bench.timing import Timing
from rampwarden.core.instrument import Frame
from rampwarden.plan import Verdict

# What is aimed for and what is borne, µV rms: an eighth and a quarter of a °C (common practice, no source).
_AIMED_UV, _BORNE_UV = 5.0, 10.0
# A line below this is there and does no harm.
_LINE_UV = 5.0
# Coarser than half a degree, and a ramp of 100 °C/h moves one step in twenty seconds.
_COARSE_UV = 20.0
_USUAL_TERMINALS_C = (-10.0, 50.0)
_RACING_C_PER_S = 1.0 / 60.0
_NOISY_JUNCTION_C = 0.5
_UV_PER_C = 40.0  # type K near room temperature


def judge_values(frames: Sequence[Frame], time_s: FloatArray, timing: Timing, asked: Asked) -> Iterator[BoardFinding]:
    """Judge the readings without a fault flag; `time_s` dates them, s."""
    junction = np.array([frame.junction_c for frame in frames if frame.junction_c is not None])
    is_emf = frames[0].emf_uv is not None
    values = np.array([frame.emf_uv if is_emf else frame.temp_c for frame in frames], dtype=float)
    # A board that converts itself shows °C: its noise is told in what that would be at the input.
    emf = values if is_emf else values * _UV_PER_C
    off_by = timing.clock_off_by
    rate_off_by = (
        UNKNOWN_RATE
        if off_by is None or timing.clock_off is None
        else min(UNKNOWN_RATE, off_by + abs(timing.clock_off))
    )
    parts = split_noise(time_s, emf, timing.interval_s, rate_off_by)
    if parts is not None:
        yield from _judge_noise(parts, timing.interval_s)
    yield from _judge_junction(junction, time_s)
    if is_emf and junction.size == len(frames):
        seen = Seen(
            emf_uv=float(np.median(emf)),
            emf_jump_uv=_jump(emf),
            emf_scatter_uv=0.0 if parts is None else parts.total,
            junction_c=float(np.median(junction)),
            junction_jump_c=_jump(junction),
            junction_span_c=float(np.ptp(junction)),
            tip_c=asked.tip_c,
        )
        suspicions = list(suspect_scaling(seen, asked.couple))
        yield from suspicions
        if all(suspicion.verdict is Verdict.FINE for suspicion in suspicions):
            # What a wrong scaling comes to is no temperature to be shown as fine.
            yield _shown(seen, asked)
    elif not is_emf:
        words = f"the board converts itself and shows {float(np.median(values)):.1f} °C: its conversion is not ours"
        do = "one that took a straight line is undone by single_slope_uv_per_c"
        yield BoardFinding(
            "reading", Verdict.FINE, words, do=do, figures={"temp_c": round(float(np.median(values)), 2)}
        )


def _jump(values: FloatArray) -> float:
    return float(np.median(np.abs(np.diff(values)))) if values.size > 1 else 0.0


def _judge_noise(parts: NoiseParts, interval_s: float) -> Iterator[BoardFinding]:
    step = "finer than can be told" if parts.step is None else f"{parts.step:.3g} µV ({parts.step / _UV_PER_C:.2g} °C)"
    figures: dict[str, object] = {
        "total_uv": round(parts.total, 3),
        "white_uv": round(parts.white, 3),
        "line_uv": round(parts.line, 3),
        "line_hz": None if parts.line_hz is None else round(parts.line_hz, 3),
        "mains_hz": list(parts.mains_hz),
        "step_uv": None if parts.step is None else round(parts.step, 4),
        "drift_uv_per_min": round(60.0 * parts.drift_per_s, 2),
    }
    words = (
        f"{parts.white:.1f} µV rms white ({parts.white / _UV_PER_C:.2f} °C), steps of {step}, "
        f"drifts by {60.0 * parts.drift_per_s:+.0f} µV a minute"
    )
    if parts.white > _BORNE_UV:
        do = f"aim for {_AIMED_UV:.0f} µV: average longer, filter the input, twist the pair, look at the supply"
        yield BoardFinding("noise", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    elif parts.step is not None and parts.step > _COARSE_UV:
        do = "more gain, or a finer converter: a ramp of 100 °C/h is 0.03 °C a second"
        yield BoardFinding("noise", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    else:
        yield BoardFinding("noise", Verdict.FINE, words, figures=figures)
    if parts.line_hz is None or parts.line < _LINE_UV:
        return
    where = f"{parts.line:.0f} µV rms ({parts.line / _UV_PER_C:.1f} °C) in a narrow line at {parts.line_hz:.2f} Hz"
    if parts.mains_hz:
        names = " or ".join(f"{mains_hz:.0f}" for mains_hz in parts.mains_hz[:2])
        words = f"{where}, where {names} Hz mains show at {1.0 / interval_s:.3g} readings a second"
        do = "average over whole mains periods (100 ms suits 50 and 60 Hz), twist the pair, keep it off mains cables"
        yield BoardFinding("mains pickup", Verdict.LOOK_AGAIN, words, Sureness.LIKELY, do, figures)
    else:
        words, do = f"{where}: some pickup, no mains", "what turns or switches nearby? a blower, a supply"
        yield BoardFinding("pickup", Verdict.LOOK_AGAIN, words, Sureness.LIKELY, do, figures)


def _judge_junction(junction: FloatArray, time_s: FloatArray) -> Iterator[BoardFinding]:
    if not junction.size:
        yield BoardFinding(
            "junction", Verdict.FINE, "none is sent", do="an EMF would need it", figures={"junction_c": None}
        )
        return
    middle_c, lowest_c, highest_c = float(np.median(junction)), float(junction.min()), float(junction.max())
    span_s = float(time_s[-1] - time_s[0])
    slope = (
        float(np.polynomial.Polynomial.fit(time_s, junction, 1).convert().coef[-1])
        if junction.size == time_s.size and span_s > 5.0
        else 0.0
    )
    jump_c = _jump(junction)
    figures = {"junction_c": round(middle_c, 3), "drift_c_per_min": round(60.0 * slope, 3), "jump_c": round(jump_c, 4)}
    words = f"{middle_c:.1f} °C, moves by {60.0 * slope:+.2f} °C a minute"
    if jump_c > _NOISY_JUNCTION_C:
        words, do = (
            f"jumps by {jump_c:.1f} °C from reading to reading",
            "look at its sensor, or at the order of the numbers",
        )
        yield BoardFinding("junction", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    elif not _USUAL_TERMINALS_C[0] <= middle_c <= _USUAL_TERMINALS_C[1]:
        do = "move the board away from heat or frost, or look at its sensor"
        yield BoardFinding("junction", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    elif abs(slope) > _RACING_C_PER_S and highest_c - lowest_c > 0.5:
        do = "shade the board from heat and draught: its sensor lags behind the terminals"
        yield BoardFinding("junction", Verdict.LOOK_AGAIN, words, Sureness.CERTAIN, do, figures)
    else:
        yield BoardFinding("junction", Verdict.FINE, words, figures=figures)


def _shown(seen: Seen, asked: Asked) -> BoardFinding:
    figures: dict[str, object] = {"emf_uv": round(seen.emf_uv, 2), "temp_c": None}
    try:
        temp_c = asked.couple.temp_c(seen.emf_uv, seen.junction_c)
    except ValueError:
        return BoardFinding("reading", Verdict.FINE, f"{seen.emf_uv:.0f} µV, no temperature", figures=figures)
    figures["temp_c"] = round(temp_c, 2)
    shown = f"type {asked.couple.letter}, {temp_c:.1f} °C"
    words = f"{seen.emf_uv:.0f} µV with the terminals at {seen.junction_c:.1f} °C: {shown}"
    do = (
        ""
        if asked.tip_c is not None
        else "gain and polarity show only with a warm tip: --tip, or rampwarden board --walk"
    )
    return BoardFinding("reading", Verdict.FINE, words, do=do, figures=figures)
