"""Drawings as ASCII DXF of release 12 (AC1009), which every cutter's program reads; millimetres.

Written from memory of the published DXF reference; tests read the files back with an independent library.
"""

from __future__ import annotations

from .drawing import STYLES, Drawing, Label, Path

_COLOURS = {"cut": 1, "tape": 5, "mark": 7}  # red, blue, black or white: the index colours of the format


def dxf_bytes(drawing: Drawing) -> bytes:
    """A drawing as a DXF file; layers are named by the styles, in capitals."""
    pairs: list[tuple[int, object]] = [
        (0, "SECTION"), (2, "HEADER"),
        (9, "$ACADVER"), (1, "AC1009"),
        (9, "$INSUNITS"), (70, 4),
        (9, "$EXTMIN"), (10, 0.0), (20, 0.0),
        (9, "$EXTMAX"), (10, drawing.width_mm), (20, drawing.height_mm),
        (0, "ENDSEC"),
        (0, "SECTION"), (2, "TABLES"),
        (0, "TABLE"), (2, "LTYPE"), (70, 1),
        (0, "LTYPE"), (2, "CONTINUOUS"), (70, 0), (3, "Solid line"), (72, 65), (73, 0), (40, 0.0),
        (0, "ENDTAB"),
        (0, "TABLE"), (2, "LAYER"), (70, len(STYLES)),
    ]  # fmt: skip
    for style in STYLES:
        pairs += [(0, "LAYER"), (2, style.upper()), (70, 0), (62, _COLOURS[style]), (6, "CONTINUOUS")]
    pairs += [(0, "ENDTAB"), (0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES")]
    for path in drawing.paths:
        pairs += _polyline(path)
    for label in drawing.labels:
        pairs += _text(label)
    pairs += [(0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code:>3}\n{_value(value)}\n" for code, value in pairs).encode("ascii", "replace")


def _value(value: object) -> str:
    return f"{value:.4f}" if isinstance(value, float) else str(value)


def _polyline(path: Path) -> list[tuple[int, object]]:
    layer = path.style.upper()
    pairs: list[tuple[int, object]] = [
        (0, "POLYLINE"), (8, layer), (66, 1), (10, 0.0), (20, 0.0), (30, 0.0), (70, int(path.closed)),
    ]  # fmt: skip
    for x, y in path.points:
        pairs += [(0, "VERTEX"), (8, layer), (10, float(x)), (20, float(y)), (30, 0.0)]
    return [*pairs, (0, "SEQEND"), (8, layer)]


def _text(label: Label) -> list[tuple[int, object]]:
    x, y = label.at
    return [(0, "TEXT"), (8, "MARK"), (10, x), (20, y), (30, 0.0), (40, label.height_mm), (1, label.text)]
