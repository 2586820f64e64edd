"""From file units to millimetres: said, stated by the file, measured, or guessed from the size of heads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ...errors import ImplausibleSize, NotAFace, Remark, Where
from ...limits import limit
from ...mesh import TriMesh
from ..pose.orient import find_face

MM_PER_UNIT: dict[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
WORDS: dict[str, str] = {"mm": "millimetres", "cm": "centimetres", "m": "metres", "in": "inches"}

SMALLEST_MM, LARGEST_MM = 95.0, 750.0
"""Longest extent of a scan that can be a face: from a child's face without forehead to a head with shoulders
(ANSUR II face lengths 91 to 156 mm, head lengths about 200 mm: docs/standards 1.2; shoulders: no source)."""

USUAL_MM, USUAL_SPREAD = 240.0, 0.4
"""Usual longest extent, a face patch to a bust, and its spread as a natural logarithm (common practice)."""

RARITY: dict[str, float] = {"mm": 0.6, "cm": 0.15, "m": 0.2, "in": 0.05}
"""How often scans come in each unit (common practice, no source); only decides between equal sizes."""


@dataclass(frozen=True)
class Scale:
    """How to turn file units into millimetres.

    Attributes
    ----------
    mm_per_unit : factor.
    unit : "mm", "cm", "m", "in", or "" where the factor was measured.
    source : "said", "stated by the file", "guessed", "known length" or "reference object".
    confidence : 0..1.
    remarks : what the maker should know.
    """

    mm_per_unit: float
    unit: str
    source: str
    confidence: float
    remarks: tuple[Remark, ...] = ()


def in_millimetres(mesh: TriMesh, scale: Scale) -> TriMesh:
    """The scan in millimetres."""
    return TriMesh(mesh.vertices * scale.mm_per_unit, mesh.faces)


def longest_extent(mesh: TriMesh) -> float:
    """Length of a scan along its main axis, in file units, without the outermost hundredth at both ends."""
    points = mesh.vertices[:: max(1, len(mesh.vertices) // 20_000)]
    _, axes = np.linalg.eigh(np.cov(points.T))
    low, high = np.percentile(points @ axes[:, 2], [1.0, 99.0])
    return float(high - low)


def scale_of(mesh: TriMesh, unit: str | None = None, stated_unit: str | None = None) -> Scale:
    """The scale of a said unit, or a guessed one for None; see `scale_from_unit` and `guess_scale`."""
    return guess_scale(mesh, stated_unit) if unit is None else scale_from_unit(mesh, unit)


def guess_scale(mesh: TriMesh, stated_unit: str | None = None) -> Scale:
    """Guess the unit of a scan from its size; where two units are possible, from the face in it.

    The guess is of the unit only, never of a scale: face sizes and eye distances differ too much between
    people to measure with (docs/standards section 8).

    Parameters
    ----------
    mesh : the scan in file units.
    stated_unit : unit that the file format fixes; kept unless the size contradicts it.

    Raises
    ------
    ImplausibleSize : in no unit can this be a face.
    """
    extent = longest_extent(mesh)
    possible = _possible_units(extent)
    if not possible:
        raise ImplausibleSize(
            f"The scan is {extent:.4g} units long; in no usual unit is that the size of a face or head.",
            Where("scan", frame="scan"),
            "Cut away all but the head, or give the scale by a known length between two points.",
        )
    if stated_unit in possible:
        return Scale(MM_PER_UNIT[stated_unit], stated_unit, "stated by the file", 0.95)
    unit, confidence = _best_unit(mesh, extent, possible)
    return Scale(MM_PER_UNIT[unit], unit, "guessed", confidence, _said(unit, extent, confidence, stated_unit))


def scale_from_unit(mesh: TriMesh, unit: str) -> Scale:
    """The scale of a unit that the maker says.

    Raises
    ------
    ImplausibleSize : an unknown unit, or in this unit the scan cannot be a face; the likely unit is named.
    """
    if unit not in MM_PER_UNIT:
        raise ImplausibleSize(
            f"{unit!r} is no known unit.", Where("scan", key="unit"), "Say mm, cm, m or in."
        )
    extent = longest_extent(mesh)
    possible = _possible_units(extent)
    if unit in possible and (len(possible) == 1 or _face_size(mesh, unit) is not None):
        return Scale(MM_PER_UNIT[unit], unit, "said", 1.0)
    likely = _best_unit(mesh, extent, possible)[0] if possible else ""
    if unit in possible and likely == unit:
        return Scale(MM_PER_UNIT[unit], unit, "said", 0.7)
    raise _contradiction(unit, extent, likely)


def scale_from_length(mesh: TriMesh, first: ArrayLike, second: ArrayLike, length_mm: float) -> Scale:
    """The scale from a known length between two points of the scan.

    Parameters
    ----------
    mesh : the scan in file units.
    first, second : (3,) points in scan coordinates, file units.
    length_mm : true distance between them, mm.

    Raises
    ------
    ImplausibleSize : no length, points that coincide, or a scan that could be no face at this scale.
    """
    a, b = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    if a.shape != (3,) or b.shape != (3,) or not np.isfinite(np.concatenate([a, b])).all():
        raise ImplausibleSize(
            "The two points of the known length are not three numbers each.",
            Where("scan", key="known length"),
            "Give two points as x, y, z in scan coordinates.",
        )
    apart = float(np.linalg.norm(a - b))
    extent = longest_extent(mesh)
    if not np.isfinite(length_mm) or length_mm <= 0.0 or apart < 1e-3 * extent:
        raise ImplausibleSize(
            f"A known length of {length_mm} mm between points {apart:.4g} units apart gives no scale.",
            Where("scan", key="known length"),
            "Pick two points well apart and give their true distance in mm.",
        )
    factor = length_mm / apart
    if not SMALLEST_MM <= extent * factor <= LARGEST_MM:
        raise ImplausibleSize(
            f"With {length_mm:g} mm between the two points the scan would be {extent * factor:.0f} mm long.",
            Where("scan", key="known length"),
            "Measure the length again in mm, and check that the right two points were picked.",
        )
    share = apart / extent
    remarks = () if share > limit("known_length_share").value else (_short_length(share),)
    return Scale(factor, "", "known length", float(np.clip(0.6 + share, 0.0, 1.0)), remarks)


def far_points(mesh: TriMesh, points: Sequence[ArrayLike]) -> tuple[Remark, ...]:
    """A warning for each picked point that lies off the scan by over 2 % of its length, or 5 mm in 250.

    Parameters
    ----------
    mesh : the scan in file units.
    points : (3,) each, in scan coordinates.
    """
    extent = longest_extent(mesh)
    told = []
    for name, point in zip(("first", "second"), points, strict=False):
        place = np.asarray(point, dtype=np.float64)
        away = float(np.linalg.norm(mesh.vertices - place, axis=1).min())
        if away > 0.02 * extent:
            text = (
                f"The {name} point of the known length lies {away:.4g} units off the scan "
                f"({100 * away / extent:.0f} % of its length); check that it is the right place."
            )
            told.append(Remark("warning", text, Where("scan", key="known length")))
    return tuple(told)


def _short_length(share: float) -> Remark:
    text = f"The known length is only {100 * share:.0f} % of the scan; a longer one gives a surer scale."
    return Remark("warning", text, Where("scan", key="known length"))


def _possible_units(extent: float) -> dict[str, float]:
    """Units in which a scan of this extent can be a face, with its extent in mm."""
    sizes = {unit: extent * factor for unit, factor in MM_PER_UNIT.items()}
    return {unit: size for unit, size in sizes.items() if SMALLEST_MM <= size <= LARGEST_MM}


def _best_unit(mesh: TriMesh, extent: float, possible: dict[str, float]) -> tuple[str, float]:
    """The likeliest unit and its share of all that is likely."""
    weight = {}
    for unit, size in possible.items():
        weight[unit] = RARITY[unit] * float(np.exp(-0.5 * (np.log(size / USUAL_MM) / USUAL_SPREAD) ** 2))
        if len(possible) > 1:
            face = _face_size(mesh, unit)
            # A face of a likely size is far better evidence than the length of the scan.
            weight[unit] *= 0.002 if face is None else float(np.exp(-0.5 * (np.log(face) / 0.2) ** 2))
    total = sum(weight.values())
    unit = max(weight, key=lambda key: weight[key])
    shape = float(
        np.exp(-0.5 * (max(0.0, abs(np.log(extent * MM_PER_UNIT[unit] / USUAL_MM)) - 0.6) / 0.4) ** 2)
    )
    return unit, shape * weight[unit] / total


def _face_size(mesh: TriMesh, unit: str) -> float | None:
    """Size of the face over the generic one if the scan is in this unit; None where no face is found."""
    try:
        pose = find_face(TriMesh(mesh.vertices * MM_PER_UNIT[unit], mesh.faces))
    except NotAFace:
        return None
    return pose.size


def _said(unit: str, extent: float, confidence: float, stated: str | None) -> tuple[Remark, ...]:
    """What the maker is told about a guess."""
    size = extent * MM_PER_UNIT[unit]
    text = f"The unit was taken to be {WORDS[unit]}: the scan is then {size:.0f} mm long."
    if stated is not None:
        text += f" The file says {WORDS.get(stated, stated)}, in which it could be no face."
    level = "note" if confidence > 0.8 and stated is None else "warning"
    return (Remark(level, text, Where("scan", key="unit")),)


def _contradiction(unit: str, extent: float, likely: str) -> ImplausibleSize:
    size = extent * MM_PER_UNIT[unit]
    what = f"In {WORDS[unit]} the scan would be {size:.4g} mm long or hold no face of human size."
    if likely:
        size = extent * MM_PER_UNIT[likely]
        what += f" It is likely in {WORDS[likely]} ({size:.0f} mm long)."
    fix = f"Say --unit {likely}." if likely else "Give a known length between two points."
    return ImplausibleSize(what, Where("scan", key="unit"), fix)
