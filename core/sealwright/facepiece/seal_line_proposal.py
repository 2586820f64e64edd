"""The seal line of a face: proposed from its landmarks, or through the maker's own points."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace

import numpy as np

from ..errors import LandmarkMissing, OffTheScan, Where
from ..face.surface import FaceSurface
from ..mesh import Floats
from ..scan.landmarks.face_size import face_size
from .off_creases import off_creases
from .seal_line import SealLine, SealLineSettings, line_through

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
        settings = _scaled(settings, face_size(skin))
    chin, beyond, ridge, *mouth = _from_landmarks(face, skin, settings)
    under = settings.chin != "front"
    if settings.chin is None:
        under = bool(_measured(face, chin) and _measured(face, beyond) and _flat_enough(face, chin))
    jaw_start, lift = skin["menton"], -0.12
    if not under:
        chin = face.walk(skin["menton"], np.array([0.0, -0.2, 1.0]), settings.chin_front_mm)
        jaw_start, lift = chin, 0.12
    flank_left, flank_right, jaw_left, jaw_right = face.walk(
        np.array([ridge, ridge, jaw_start, jaw_start]),
        np.array([[0.78, 0.0, -0.62], [-0.78, 0.0, -0.62], [1.0, 0.0, lift], [-1.0, 0.0, lift]]),
        np.repeat([settings.nose_flank_mm, settings.chin_side_mm], 2),
    )
    wing_left, wing_right = (
        face.skin_in_front_view(alare[0] + sign * settings.wing_margin_mm, alare[2] + 3.0, alare[1])
        for alare, sign in ((skin["alare_left"], 1.0), (skin["alare_right"], -1.0))
    )
    left = [flank_left, wing_left, mouth[0], jaw_left]
    right = [jaw_right, mouth[1], wing_right, flank_right]
    return np.array([ridge, *left, chin, *right]), under


def _from_landmarks(
    face: FaceSurface, skin: Mapping[str, Floats], settings: SealLineSettings
) -> tuple[Floats, ...]:
    """Points walked to: under the chin, further back, on the nose ridge, beside the mouth corners."""
    back, out = np.array([0.0, 1.0, -0.6]), np.array([1.0, 0.0, 0.0])
    starts = [skin[name] for name in ("menton", "menton", "sellion", "cheilion_left", "cheilion_right")]
    ways = [back, back, skin["pronasale"] - skin["sellion"], out, -out]
    chin, mouth = settings.under_chin_mm, settings.mouth_margin_mm
    distances = np.array([chin, chin + 12.0, settings.nose_drop_mm, mouth, mouth])
    return tuple(face.walk(np.array(starts), np.array(ways), distances))


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
