"""The seal line of a face: proposed from its landmarks, or through the maker's own points."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace

import numpy as np

from ..errors import LandmarkMissing, OffTheScan, Where
from ..face.surface import FaceSurface
from ..mesh import Floats
from .off_creases import off_creases
from .seal_line import SealLine, SealLineSettings, line_through

USUAL_FACE_MM = 115.0  # sellion to menton of a middling adult, for which the distances are given
NEEDED = (
    "sellion",
    "pronasale",
    "subnasale",
    "menton",
    "alare_left",
    "alare_right",
    "cheilion_left",
    "cheilion_right",
)


def seal_line(
    face: FaceSurface,
    landmarks: Mapping[str, Floats],
    settings: SealLineSettings,
    stations: int,
    inner_mm: float,
) -> SealLine:
    """The seal line of a face, by the recipe or by its own control points.

    Parameters
    ----------
    face : the face surface.
    landmarks : name -> (3,) mm in the face frame.
    settings : distances, or explicit control points.
    stations : how many; made even.
    inner_mm : width of the band on the mouth side of the line, which the proposal keeps off creases.

    Raises
    ------
    LandmarkMissing : a landmark that the proposal needs is missing.
    OffTheScan : a control point has no skin under it.
    SealLineCrossing : the line crosses itself.
    """
    if settings.control_points:
        control = face.drop_on_skin(np.array(settings.control_points, dtype=np.float64))
        under = bool(control[:, 2].min() < landmarks["menton"][2]) if "menton" in landmarks else True
    else:
        control, under = propose_control_points(face, landmarks, settings)
    _require_skin(face, control, "seal line control point")
    if settings.off_creases and not settings.control_points:
        control = off_creases(face, control, settings.smoothing_mm, inner_mm)
    return line_through(face, control, stations, settings.smoothing_mm, under)


def propose_control_points(
    face: FaceSurface, landmarks: Mapping[str, Floats], settings: SealLineSettings
) -> tuple[Floats, bool]:
    """Control points (k, 3) in mm from the landmarks, and whether they pass under the chin.

    Raises
    ------
    LandmarkMissing : one of `NEEDED` is missing.
    """
    missing = [name for name in NEEDED if name not in landmarks]
    if missing:
        raise LandmarkMissing(
            f"The seal line needs the landmark {missing[0]}, which was not found.",
            Where("landmarks", key=missing[0]),
            "Set it by hand in the viewport or in the landmarks file.",
        )
    skin = {name: face.drop_on_skin(np.asarray(landmarks[name], dtype=np.float64)) for name in NEEDED}
    if settings.follow_size:
        settings = _scaled(settings, float(np.linalg.norm(skin["sellion"] - skin["menton"]) / USUAL_FACE_MM))
    ridge = face.walk(skin["sellion"], skin["pronasale"] - skin["sellion"], settings.nose_drop_mm)
    under = settings.chin != "front"
    chin = face.walk(skin["menton"], np.array([0.0, 1.0, -0.6]), settings.under_chin_mm)
    if settings.chin == "auto":
        beyond = face.walk(skin["menton"], np.array([0.0, 1.0, -0.6]), settings.under_chin_mm + 12.0)
        under = bool(_measured(face, chin) and _measured(face, beyond) and _flat_enough(face, chin))
    jaw_start, lift = skin["menton"], -0.12
    if not under:
        chin = face.walk(skin["menton"], np.array([0.0, -0.2, 1.0]), settings.chin_front_mm)
        jaw_start, lift = chin, 0.12
    sides = {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        out = np.array([sign, 0.0, 0.0])
        flank = face.walk(ridge, np.array([0.78 * sign, 0.0, -0.62]), settings.nose_flank_mm)
        alare = skin[f"alare_{side}"]
        wing = face.skin_in_front_view(alare[0] + sign * settings.wing_margin_mm, alare[2] + 3.0, alare[1])
        mouth = face.walk(skin[f"cheilion_{side}"], out, settings.mouth_margin_mm)
        jaw = face.walk(jaw_start, out + np.array([0.0, 0.0, lift]), settings.chin_side_mm)
        sides[side] = [flank, wing, mouth, jaw]
    return np.array([ridge, *sides["left"], chin, *sides["right"][::-1]]), under


def _scaled(settings: SealLineSettings, size: float) -> SealLineSettings:
    """The settings with their distances on the skin times ``size``; smoothing and points stay."""
    kept = ("smoothing_mm", "control_points", "chin", "follow_size", "off_creases")
    grown = {f.name: getattr(settings, f.name) * size for f in fields(settings) if f.name not in kept}
    return replace(settings, **grown)


def _measured(face: FaceSurface, point: Floats) -> bool:
    return bool(face.is_measured(face.chart.place_of(point)[0]))


def _flat_enough(face: FaceSurface, point: Floats) -> bool:
    """Whether the skin there is seen from the chart's centre at a useful angle (not a silhouette)."""
    pq, _ = face.chart.place_of(point)
    return bool((face.normal_at(pq) * face.chart.direction_at(pq)).sum() > 0.35)


def _require_skin(face: FaceSurface, control: Floats, role: str) -> None:
    off = np.flatnonzero(~face.is_known(face.chart.place_of(control)[0]))
    if len(off):
        x, y, z = control[off[0]]
        raise OffTheScan(
            f"{len(off)} of {len(control)} points of the {role} kind lie where the scan has no skin.",
            Where(role, point=(float(x), float(y), float(z)), indices=tuple(int(i) for i in off)),
            "Rescan with that part of the face in view, or move the seal line onto scanned skin.",
        )
