"""The cut pattern of a foam strip laid out on A4 sheets at full size."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..cushion.pattern import Pattern, PatternPiece
from ..mesh import Floats
from .drawing import MARGIN_MM, PAGE_MM, Drawing, Label, Path, ruler

_HEAD_MM = 38.0  # of a sheet for title and ruler
_APART_MM = 9.0  # between pieces
_LINE_MM = 4.6


def foam_sheets(pattern: Pattern, title: str, foam: str, thickness_mm: float) -> list[Drawing]:
    """Sheets with the pieces below each other, each piece turned upright where it is too long.

    Parameters
    ----------
    pattern : see `cushion.pattern.foam_pattern`.
    title : of the design; what is not ASCII is replaced.
    foam, thickness_mm : what is to be cut.
    """
    usable = PAGE_MM[0] - 2 * MARGIN_MM
    sheets: list[list[Drawing]] = [[]]
    left = PAGE_MM[1] - 2 * MARGIN_MM - _HEAD_MM
    room = left
    for piece in pattern.pieces:
        drawn = _piece(piece, usable)
        if drawn.height_mm > room and sheets[-1]:
            sheets.append([])
            room = left
        sheets[-1].append(drawn.moved(MARGIN_MM, MARGIN_MM + room - drawn.height_mm))
        room -= drawn.height_mm + _APART_MM
    return [
        _sheet(drawn, _head(title, foam, thickness_mm, f"{number} of {len(sheets)}"))
        for number, drawn in enumerate(sheets, start=1)
    ]


def _head(title: str, foam: str, thickness_mm: float, sheet: str) -> list[str]:
    plain = title.encode("ascii", "replace").decode()
    return [
        f"{plain}: foam strip, sheet {sheet}, full size",
        f"{thickness_mm:g} mm {foam}. Cut the solid (red) line square to the foam.",
        "Drawn as seen from the SKIN side. Glue the other side to the hard band,",
        "adhesive within the dashed (blue) line only. Joints of the same letter meet.",
    ]


def _sheet(drawn: list[Drawing], head: list[str]) -> Drawing:
    top = PAGE_MM[1] - MARGIN_MM
    labels = [Label(text, (MARGIN_MM, top - _LINE_MM * (i + 0.8))) for i, text in enumerate(head)]
    paths, scale = ruler((MARGIN_MM, top - _HEAD_MM + 9.0))
    for one in drawn:
        paths += one.paths
        labels += one.labels
    return Drawing(*PAGE_MM, paths, (*labels, *scale))


def _piece(piece: PatternPiece, usable_mm: float) -> Drawing:
    """One piece with its names, its lowest corner at the origin; upright where it is wider than a sheet."""
    size = np.ptp(piece.outline, axis=0)
    if size[0] > usable_mm:
        outline, tape, line = (_upright(p, piece.outline) for p in (piece.outline, piece.tape, piece.line))
        piece = replace(piece, outline=outline, tape=tape, line=line)
        size = np.ptp(piece.outline, axis=0)
    middle = piece.line[len(piece.line) // 2]
    start, end = piece.line[6], piece.line[-7]
    labels = (
        Label(f"{piece.name}: skin side", (float(middle[0]) - 10.0, float(middle[1]) + 1.0), 3.2),
        Label(piece.ends[0], (float(start[0]) - 1.0, float(start[1]) + 1.0), 3.0),
        Label(piece.ends[1], (float(end[0]) - 1.0, float(end[1]) + 1.0), 3.0),
    )
    paths = (
        Path(piece.outline, True, "cut"),
        Path(piece.tape, True, "tape"),
        Path(piece.line, False, "mark"),
    )
    return Drawing(float(size[0]), float(size[1]), paths, labels)


def _upright(points: Floats, outline: Floats) -> Floats:
    """Points of a piece a quarter turn further, the piece's lowest corner at the origin again."""
    quarter = np.array([[0.0, 1.0], [-1.0, 0.0]])
    return np.asarray(points @ quarter - (outline @ quarter).min(axis=0))
