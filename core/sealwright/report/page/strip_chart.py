"""The seal line unrolled: gap, width, noise, pressure and leak by station, as one inline SVG."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ...limits import limit
from ...render.annotations import nice_length
from ..shape import FitReport, ReportStations
from .text import escaped

_LEFT, _RIGHT, _TOP, _WIDTH = 152.0, 4.0, 46.0, 960.0
_ROW, _GAP = 74.0, 18.0


StripKey = Literal["gap_mm", "width_mm", "noise_mm", "pressure_kpa", "open_gap_mm", "leak_share"]


@dataclass(frozen=True)
class ChartRow:
    """One row of the chart.

    Attributes
    ----------
    key : list in the stations section.
    title, unit : words at the left.
    limit : value of the dashed line, None for none.
    limit_text : words at that line.
    least_top : the scale reaches at least to here.
    factor : shown value over stored one.
    """

    key: StripKey
    title: str
    unit: str
    limit: float | None
    limit_text: str
    least_top: float
    factor: float = 1.0


def strips_of(report: FitReport) -> tuple[ChartRow, ...]:
    """The rows of the chart, with the limits of this report."""
    contact = report["contact"]
    wanted = contact["wanted_width_mm"] if contact else None
    touch = contact["touch_mm"] if contact else limit("touch").value
    noise, skin, leaks = (limit(key).value for key in ("scan_noise", "skin_pressure", "open_gap"))
    return (
        ChartRow("gap_mm", "Gap as designed", "mm", touch, f"limit {touch:.2f}", 0.1),
        ChartRow("width_mm", "Contact width", "mm", wanted, "wanted", 10.0),
        ChartRow("noise_mm", "Scan noise", "mm", noise, f"limit {noise:g}", 0.2),
        ChartRow("pressure_kpa", "Predicted pressure", "kPa", skin, f"capillary {skin:g}", 5.0),
        ChartRow("open_gap_mm", "Predicted gap", "mm, straps on", leaks, f"leaks {leaks:g}", 0.3),
        ChartRow("leak_share", "Share of the leak", "%", None, "", 5.0, 100.0),
    )


def strip_chart(report: FitReport) -> str:
    """The chart as SVG text; empty without stations."""
    stations = report["stations"]
    if stations is None or report["seal_line"] is None:
        return ""
    length = report["seal_line"]["length_mm"]
    rows = [s for s in strips_of(report) if stations.get(s.key) is not None]
    height = _TOP + len(rows) * (_ROW + _GAP) + 26.0
    parts = [
        f'<svg class="strip" viewBox="0 0 {_WIDTH:.0f} {height:.0f}" role="img" '
        f'aria-label="Values along the seal line, unrolled from the nose round the wearer\'s left cheek">'
    ]
    parts += _marks(stations["marks_mm"], length, height)
    parts += _guessed(stations, length, height)
    for index, strip in enumerate(rows):
        parts += _row(strip, stations, length, _TOP + index * (_ROW + _GAP))
    parts += _ruler(length, height - 20.0)
    return "".join(parts) + "</svg>"


def _x(along: float, length: float) -> float:
    return _LEFT + along / length * (_WIDTH - _LEFT - _RIGHT)


def _marks(marks: Mapping[str, float], length: float, height: float) -> list[str]:
    """Upright lines at nose, nostrils, cheeks and chin, named at the top."""
    out = []
    named = [*marks.items(), ("nose", length)] if "nose" in marks else list(marks.items())
    for words, along in named:
        x = _x(along, length)
        anchor = "start" if along == 0.0 else "end" if along == length else "middle"
        out.append(f'<line class="mark" x1="{x:.1f}" y1="34" x2="{x:.1f}" y2="{height - 26:.1f}"/>')
        out.append(f'<text class="name" x="{x:.1f}" y="26" text-anchor="{anchor}">{escaped(words)}</text>')
    return out


def _guessed(stations: ReportStations, length: float, height: float) -> list[str]:
    """Shaded stretches whose skin was filled, not scanned."""
    along, out = stations["along_mm"], []
    half = 0.5 * length / max(len(along), 1)
    for place, scanned in zip(along, stations["scanned"], strict=True):
        if not scanned:
            x, wide = _x(max(place - half, 0.0), length), _x(2 * half, length) - _x(0.0, length)
            out.append(
                f'<rect class="guess" x="{x:.1f}" y="34" width="{wide:.2f}" height="{height - 60:.1f}"/>'
            )
    return out


def _row(strip: ChartRow, stations: ReportStations, length: float, top: float) -> list[str]:
    stored = stations[strip.key] or []
    values = [None if v is None else v * strip.factor for v in stored]
    known = [v for v in values if v is not None]
    low = min(0.0, *known) if known else 0.0
    high = max(strip.least_top, *(v * 1.08 for v in known), (strip.limit or 0.0) * 1.15)
    bottom = top + _ROW

    def y(value: float) -> float:
        """Height of a value in its row."""
        return float(bottom - (value - low) / (high - low) * _ROW)

    path = _path(
        [(_x(a, length), y(v)) if v is not None else None for a, v in _closed(stations, values, length)]
    )
    base, tick = y(max(low, 0.0)), nice_length(high)
    out = [
        f'<rect class="row" x="{_LEFT}" y="{top:.1f}" width="{_WIDTH - _LEFT - _RIGHT}" height="{_ROW}"/>',
        f'<text class="title" x="0" y="{top + 14:.1f}">{escaped(strip.title)}</text>',
        f'<text class="unit" x="0" y="{top + 30:.1f}">{escaped(strip.unit)}</text>',
        f'<line class="tick" x1="{_LEFT - 4}" y1="{y(tick):.1f}" x2="{_LEFT}" y2="{y(tick):.1f}"/>',
        f'<text class="tick" x="{_LEFT - 7}" y="{y(tick) + 3.5:.1f}">{tick:g}</text>',
        f'<text class="tick" x="{_LEFT - 7}" y="{base + 3.5:.1f}">0</text>',
    ]
    if path:
        first, last = _x(0.0, length), _x(length, length)
        out.append(f'<path class="area" d="{path}L{last:.1f} {base:.1f}L{first:.1f} {base:.1f}Z"/>')
        out.append(f'<path class="curve" data-key="stations.{strip.key}" d="{path}"/>')
    if strip.limit is not None:
        at = y(strip.limit)
        out.append(f'<line class="limit" x1="{_LEFT}" y1="{at:.1f}" x2="{_WIDTH - _RIGHT}" y2="{at:.1f}"/>')
        out.append(
            f'<text class="limit" x="{_WIDTH - _RIGHT - 4}" y="{at - 3:.1f}">'
            f"{escaped(strip.limit_text)}</text>"
        )
    return out


def _closed(
    stations: ReportStations, values: list[float | None], length: float
) -> list[tuple[float, float | None]]:
    """Points along the line with the first one once more at the end."""
    return [*zip(stations["along_mm"], values, strict=True), (length, values[0])]


def _path(points: list[tuple[float, float] | None]) -> str:
    """An SVG path through points, with a break at every missing one."""
    out, pen_down = [], False
    for point in points:
        if point is None:
            pen_down = False
            continue
        out.append(f"{'L' if pen_down else 'M'}{point[0]:.1f} {point[1]:.1f}")
        pen_down = True
    return "".join(out)


def _ruler(length: float, y: float) -> list[str]:
    """Distances along the line every 50 mm."""
    out = []
    for place in range(0, int(length) + 1, 50):
        x = _x(place, length)
        out.append(f'<line class="ruler" x1="{x:.1f}" y1="{y - 6:.1f}" x2="{x:.1f}" y2="{y - 1:.1f}"/>')
        words = f"{place} mm" if place == 0 else str(place)
        out.append(f'<text class="ruler" x="{x:.1f}" y="{y + 10:.1f}">{words}</text>')
    return out
