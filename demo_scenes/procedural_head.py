"""Procedural heads for demonstrations and tests: invented wearers on one sculpted head, no outside data.

A head is a distance-like field (`head_shape`), solved along rays into an even mesh of any resolution
(`head_grid`), bent to a wearer's measures (`head_warp`), with landmarks read from the same surface
(`head_landmarks`). Nobody's scan went into it.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from sealwright.errors import NotConverged, Where
from sealwright.mesh import Floats, TriMesh, trimesh_of
from sealwright.settings import check_settings, quantity, text

from .head_grid import Chart, Star, chart_of, whole_sheet
from .head_landmarks import Landmarks, Probes, landmarks_of, probes_of
from .head_shape import CENTRE, FLOOR_MM, bare_field, head_field
from .head_warp import Warp

_ROUNDS = 30
_CLOSE_MM = 0.05  # the profile is sampled every 0.06 mm; ISO 20685 allows 1 mm for landmarks (from memory)


@dataclass(frozen=True)
class Wearer:
    """An invented person. Measures between landmarks; within adult extremes (docs/standards 1)."""

    name: str = text("Marlo", "Invented given name.")
    face_length_mm: float = quantity(119.0, "mm", 95.0, 145.0, "Menton to sellion.")
    face_width_mm: float = quantity(139.0, "mm", 118.0, 165.0, "Zygion to zygion.")
    nose_length_mm: float = quantity(50.0, "mm", 40.0, 62.0, "Subnasale to sellion.")
    nose_breadth_mm: float = quantity(35.0, "mm", 26.0, 46.0, "Alare to alare.")
    nose_protrusion_mm: float = quantity(20.0, "mm", 14.0, 27.0, "Subnasale to pronasale, forward.")
    lip_length_mm: float = quantity(50.0, "mm", 38.0, 62.0, "Cheilion to cheilion.")
    jaw_width_mm: float = quantity(108.0, "mm", 88.0, 135.0, "Gonion to gonion.")
    chin_forward_mm: float = quantity(0.0, "mm", -6.0, 6.0, "Chin carried forward of the sculpted one.")
    cheek_fullness_mm: float = quantity(0.0, "mm", -4.0, 6.0, "Cheeks beside the mouth filled.")
    nose_hump_mm: float = quantity(0.0, "mm", -2.0, 3.0, "Bridge of the nose raised.")
    asymmetry_mm: float = quantity(0.0, "mm", 0.0, 4.0, "How far nose and jaw stand off the middle.")


@dataclass(frozen=True, eq=False)
class ProceduralHead:
    """A head in the face frame (origin subnasale, +X wearer's left, -Y out of the face, +Z up), mm.

    Attributes
    ----------
    mesh : one manifold sheet, outward, open at the neck.
    landmarks : name -> (3,), on the exact surface.
    wearer : whose it is.
    """

    mesh: TriMesh
    landmarks: Landmarks
    wearer: Wearer

    @property
    def measures(self) -> dict[str, float]:
        """The wearer's measures, mm, as the landmarks have them."""
        return measures_of(self.landmarks)


def measures_of(landmarks: Landmarks) -> dict[str, float]:
    """Face measures, mm, keyed like the fields of `Wearer`."""

    def span(a: str, b: str) -> float:
        return float(np.linalg.norm(landmarks[a] - landmarks[b]))

    return {
        "face_length_mm": span("menton", "sellion"),
        "face_width_mm": span("zygion_left", "zygion_right"),
        "nose_length_mm": span("subnasale", "sellion"),
        "nose_breadth_mm": span("alare_left", "alare_right"),
        "nose_protrusion_mm": float(landmarks["subnasale"][1] - landmarks["pronasale"][1]),
        "lip_length_mm": span("cheilion_left", "cheilion_right"),
        "jaw_width_mm": span("gonion_left", "gonion_right"),
    }


@lru_cache(maxsize=1)
def sculpted() -> tuple[Chart, Probes]:
    """The sculpted head on its coarse grid, and the points its landmarks are read from."""
    chart = chart_of(Star(head_field, bare_field, CENTRE, FLOOR_MM))
    return chart, probes_of(chart)


@lru_cache(maxsize=32)
def fitted_warp(wearer: Wearer) -> Warp:
    """The warp under which the landmarks have the wearer's measures, by damped fixed-point rounds.

    Raises
    ------
    NotConverged : the measures contradict each other.
    """
    warp = Warp(
        chin_mm=wearer.chin_forward_mm,
        cheek_mm=wearer.cheek_fullness_mm,
        bridge_mm=wearer.nose_hump_mm,
        lop_mm=wearer.asymmetry_mm,
    )
    probes = sculpted()[1]
    for _ in range(_ROUNDS):
        found = measures_of(landmarks_of(probes, warp))
        short = {key: getattr(wearer, key) - value for key, value in found.items()}
        if max(map(abs, short.values())) < _CLOSE_MM:
            return warp
        ratio = {key: short[key] / value for key, value in found.items()}
        longer_nose = short["nose_length_mm"]
        warp = dataclasses.replace(
            warp,
            upper_mm=warp.upper_mm + longer_nose,
            lower_mm=warp.lower_mm + short["face_length_mm"] - longer_nose,
            width=warp.width + ratio["face_width_mm"],
            nose_width=warp.nose_width + ratio["nose_breadth_mm"] - ratio["face_width_mm"],
            lip_width=warp.lip_width + ratio["lip_length_mm"] - ratio["face_width_mm"],
            jaw_width=warp.jaw_width + ratio["jaw_width_mm"] - ratio["face_width_mm"],
            nose_mm=warp.nose_mm + 0.6 * short["nose_protrusion_mm"],
        )
    key, missing = max(short.items(), key=lambda item: abs(item[1]))
    raise NotConverged(
        f"The head cannot be given a {key} of {getattr(wearer, key):.1f} mm beside the other measures; "
        f"it stays {abs(missing):.2f} mm off.",
        Where("wearer", key=f"wearer.{key}"),
        "Choose measures that go together on one face.",
    )


def make_head(wearer: Wearer, triangles: int = 120_000) -> ProceduralHead:
    """The head of an invented wearer.

    Parameters
    ----------
    wearer : measures and character.
    triangles : about how many, 2,000 to 6,000,000; met within 2 %.

    Returns
    -------
    ProceduralHead : in the face frame, mm; the same bytes for the same arguments.

    Raises
    ------
    BadRecipe : a measure out of its range.
    NotConverged : measures that no face has together.
    """
    check_settings(wearer, "wearer")
    chart, probes = sculpted()
    warp = fitted_warp(wearer)
    vertices, faces = whole_sheet(chart, triangles)
    landmarks = landmarks_of(probes, warp)
    origin: Floats = landmarks["subnasale"]
    moved = {name: place - origin for name, place in landmarks.items()}
    return ProceduralHead(trimesh_of(warp.moved(vertices) - origin, faces, "procedural head"), moved, wearer)
