"""Invariant 3 of docs/design: no part enters the face; nose and lips keep the wanted clearance."""

from __future__ import annotations

import numpy as np
import shapely
from scipy.spatial import cKDTree

from .cases import Case, on_scan
from .oracles import as_trimesh, depth_inside, distance

DEEPEST_MM = 0.05
# Known shortfalls, measured: single points at edges of coarse or closed meshes, which the chords of the
# finest squares (0.19 mm) cut; and beside a nose wing of a scan that tore there, inside the band.
DEEPER_MM = {"face-f66": 0.055, "sensor-scan-b": 0.65}
OVERHANG_MM = 0.1  # where the skin overhangs, as seen from inside the head: half of the finest pixel, 0.19 mm


def test_no_part_enters_the_scanned_face(case: Case) -> None:
    deepest = DEEPER_MM.get(case.name, DEEPEST_MM) + case.bound_mm
    for name, solid in case.design.parts.items():
        mesh = as_trimesh(solid.mesh)
        points = np.concatenate([mesh.vertices, mesh.triangles_center])
        points = points[on_scan(case, points)]  # what was filled has no skin to enter
        depth, normal, points = depth_inside(points, case.scan)
        ray = points - case.prepared.face.chart.centre
        faces_away = (normal * ray).sum(axis=1) < 0.35 * np.linalg.norm(ray, axis=1)
        assert depth[~faces_away].max(initial=-np.inf) <= deepest, name
        assert depth.max(initial=-np.inf) <= max(OVERHANG_MM + case.bound_mm, deepest), name


def test_no_report_speaks_of_entry(case: Case) -> None:
    """Our own check, which the report's verdict rests on; it tells skin from the air under an overhang."""
    assert case.design.entry.deepest_mm <= DEEPEST_MM


def test_nose_and_lips_keep_the_clearance(case: Case) -> None:
    """Scanned skin inside the band round nose tip, wings and closed lips, against the finished body.

    Beside the band the body comes down to the skin: the clearance grows over 1.6 times its full value there
    (docs/design leaves the way open), and 0.2 more are left out for the pixels of the field it grows on.
    """
    marks, wanted = case.prepared.landmarks, case.design.recipe.chamber.clearance_mm
    centres = np.array([marks["pronasale"], marks["alare_left"], marks["alare_right"], marks["stomion"]])
    skin = case.prepared.skin.vertices
    skin = skin[cKDTree(centres).query(skin)[0] < 12.0]
    band, chart = case.design.band, case.prepared.face.chart
    inner = band.grid[:, np.flatnonzero(band.contact)[-1]]
    ring, place = shapely.Polygon(chart.place_of(inner)[0]), chart.place_of(skin)[0]
    skin = skin[shapely.contains_xy(ring, place) & (cKDTree(inner).query(skin)[0] > 1.8 * wanted)]
    assert len(skin) > 20
    # 0.2 mm: the field stands on pixels of 1.1 mm, the wall is a grid of 1.8 mm
    assert distance(skin, case.design.parts["body"].mesh).min() >= wanted - 0.2
