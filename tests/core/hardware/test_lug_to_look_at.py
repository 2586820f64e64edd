"""The lug with few points round its edges, for the live preview: a little inside the true one."""

from __future__ import annotations

import math

import numpy as np
from sealwright.hardware.allowance import Allowance
from sealwright.hardware.lugs import EDGE_MM, make_lug
from sealwright.hardware.options import LugSettings
from sealwright.solids.distance import MeshDistance


def test_few_meridians_stay_within_the_sagitta_of_their_edges():
    fine = make_lug(LugSettings(), Allowance(), meridians=24).solid.mesh
    coarse = make_lug(LugSettings(), Allowance(), meridians=8).solid.mesh
    away = np.abs(MeshDistance(coarse).to(fine.vertices))
    # a ball of radius r with 8 meridians and 4 steps lies inside the true one by at most r (1 - cos(pi / 8))
    # along a meridian and as much again round it
    assert away.max() < 2.0 * EDGE_MM * (1.0 - math.cos(math.pi / 8.0)) + 0.02
    assert 0.9 < coarse.volume / fine.volume < 1.0
    assert len(coarse.faces) < 0.4 * len(fine.faces)
