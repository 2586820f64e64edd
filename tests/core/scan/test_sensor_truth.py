"""A simulated sensor scan against the clean head it was made of, under the seal line.

The open sensor scans state their noise but come without their clean head, so the demand (error under the seal
line at most twice the stated noise, issue 4) is measured on heads of our own.
"""

from __future__ import annotations

from dataclasses import replace

import igl
import numpy as np
import pytest
from sealwright.facepiece.contact_band import BandSettings
from sealwright.facepiece.seal_line import SealLineSettings
from sealwright.facepiece.seal_line_proposal import seal_line
from sealwright.pipeline import prepare
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.scan.scale import scale_from_unit
from sealwright.trust.measures import band_rows

from demo_scenes.procedural_head import make_head
from demo_scenes.sensor import Sensor, capture
from demo_scenes.wearers import BRISA, MARLO, Wearer

NOISE = Sensor(smooth_noise_mm=0.22, white_noise_mm=0.1, unit="mm", pose="any")
"""What the open sensor scans state: 0.22 mm wavy, about 0.1 mm white, sparse spikes."""


@pytest.mark.parametrize(("wearer", "seed"), [(MARLO, 3), (BRISA, 4)])
def test_error_under_the_seal_is_at_most_twice_the_noise(wearer: Wearer, seed: int) -> None:
    head = make_head(wearer, 40_000)
    scan = capture(head, replace(NOISE, seed=seed))
    prepared = run_to_end(prepare(scan.mesh, Recipe(), None, scale_from_unit(scan.mesh, "mm")))
    line = seal_line(prepared.face, prepared.landmarks, SealLineSettings(), 320, BandSettings().inner_mm)
    rows = band_rows(prepared.face, line, BandSettings()).reshape(-1, 3)
    skin = prepared.face.drop_on_skin(rows)
    back = np.linalg.inv(scan.scan_from_face) @ np.linalg.inv(prepared.scan_to_design)
    there = skin @ back[:3, :3].T + back[:3, 3]
    squared, _, _ = igl.point_mesh_squared_distance(there, head.mesh.vertices, head.mesh.faces)
    stated = float(np.hypot(NOISE.smooth_noise_mm, NOISE.white_noise_mm))
    # The noise is stated as root mean square; 95 % of the points keep the demand, and not only their mean.
    assert np.percentile(np.sqrt(squared), 95) <= 2.0 * stated
    # And the smoothing did not win this by moving the skin farther than it says.
    assert np.abs(prepared.face.smoothing.moved_mm).max() <= prepared.face.smoothing.bound_mm + 1e-12
