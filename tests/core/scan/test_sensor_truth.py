"""Prepared skin against the clean truth, under the seal line: at most twice the noise of the scan.

The open sensor scans come without their clean head. What they have of it is 68 points on its skin, in their
.json beside the noise; where these lie under or near the band the demand is measured on the scans themselves.
Everywhere under the band it is measured on scans simulated with the same noise from heads of our own.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace

import igl
import numpy as np
import pytest
from bare import BARE_BAND, BARE_LINE, bare_recipe
from scipy.spatial import cKDTree
from sealwright.designing.prepare import prepare
from sealwright.designing.prepared import Prepared
from sealwright.facepiece.seal_line_proposal import seal_line
from sealwright.mesh import Floats, TriMesh
from sealwright.progress import run_to_end
from sealwright.scan.reference.scale import scale_from_unit
from sealwright.trust.measures import band_rows
from trials.faces import SENSORS, face_scan, scan_path

from demo_scenes.procedural_head import make_head
from demo_scenes.sensor import Sensor, capture
from demo_scenes.wearers import BRISA, MARLO, Wearer

NOISE = Sensor(smooth_noise_mm=0.22, white_noise_mm=0.1, unit="mm", pose="any")
"""What the open sensor scans state: 0.22 mm wavy, about 0.1 mm white, sparse spikes."""


STATED_MM = float(np.hypot(NOISE.smooth_noise_mm, NOISE.white_noise_mm))
"""Both are root mean squares and independent of each other: 0.24 mm together."""

NEAR_BAND_MM = 6.0
INSIDE_OPENINGS = (*range(31, 36), *range(36, 48), *range(60, 68))
"""Of the 68 points (order from memory, see `faces`): nostrils, lids and inner lips, which no sensor sees."""


def prepared_with_band(mesh: TriMesh) -> tuple[Prepared, Floats]:
    """A prepared scan in mm and skin points (n, 3) under its band, face frame."""
    prepared = run_to_end(prepare(mesh, bare_recipe(), None, scale_from_unit(mesh, "mm")))
    line = seal_line(prepared.face, prepared.landmarks, BARE_LINE, 320, BARE_BAND.inner_mm)
    return prepared, band_rows(prepared.face, line, BARE_BAND).reshape(-1, 3)


@pytest.mark.parametrize(("wearer", "seed"), [(MARLO, 3), (BRISA, 4)])
def test_error_under_the_seal_is_at_most_twice_the_noise(wearer: Wearer, seed: int) -> None:
    head = make_head(wearer, 40_000)
    scan = capture(head, replace(NOISE, seed=seed))
    prepared, rows = prepared_with_band(scan.mesh)
    skin = prepared.face.drop_on_skin(rows)
    back = np.linalg.inv(scan.scan_from_face) @ np.linalg.inv(prepared.scan_to_design)
    there = skin @ back[:3, :3].T + back[:3, 3]
    squared, _, _ = igl.point_mesh_squared_distance(there, head.mesh.vertices, head.mesh.faces)
    # The noise is stated as root mean square; 95 % of the points keep the demand, and not only their mean.
    assert np.percentile(np.sqrt(squared), 95) <= 2.0 * STATED_MM
    # And the smoothing did not win this by moving the skin farther than it says.
    assert np.abs(prepared.face.smoothing.moved_mm).max() <= prepared.face.smoothing.bound_mm + 1e-12


@pytest.mark.scans
@pytest.mark.parametrize("name", SENSORS)
def test_open_sensor_scans_keep_it_at_their_truth_points(name: str) -> None:
    told = json.loads(scan_path(name).with_suffix(".json").read_text())
    smooth, white = (float(number) for number in re.findall(r"([\d.]+) mm", told["noise"])[:2])
    assert (smooth, white) == (NOISE.smooth_noise_mm, NOISE.white_noise_mm)
    prepared, rows = prepared_with_band(face_scan(name))
    to_design = prepared.scan_to_design @ np.array(told["scan_from_face_4x4_mm"])
    clean = np.array(told["face_landmarks68_mm"]) @ to_design[:3, :3].T + to_design[:3, 3]
    skin = np.setdiff1d(np.arange(len(clean)), INSIDE_OPENINGS)
    away, _ = cKDTree(rows).query(clean)
    mesh = prepared.face.mesh
    squared, _, _ = igl.point_mesh_squared_distance(clean, mesh.vertices, mesh.faces)
    under = skin[away[skin] < NEAR_BAND_MM]
    assert len(under) >= 7  # nose bridge and chin
    # Stated as root mean square, compared as such; measured 0.24 mm and 0.36 mm of 0.48 mm.
    assert np.sqrt(squared[under].mean()) <= 2.0 * STATED_MM
    # And no single point hides in the mean: of a normal distribution one in 370 lies beyond three deviations.
    assert np.sqrt(squared[under]).max() <= 3.0 * STATED_MM
