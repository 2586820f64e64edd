"""The default recipe on invented and open faces: room for the foam, sound parts, and the aims of a design.

The aims are the project's own (their rows in the table of limits say so); distances are trimesh's.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh
from sealwright.cushion.settings import cushion_of
from sealwright.jobs.make import finish
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.report.shape import FitReport

from .cases import Case, case_of

pytestmark = [pytest.mark.heavy, pytest.mark.scans]

FACES = ("marlo-by-phone", "face-m36", "sensor-scan-b")
PLACES = 0.05  # mm: a body follows the wanted distance within this, see the table of limits


@pytest.fixture(scope="module", params=FACES)
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Case:
    return _case(request.param, tmp_path_factory.getbasetemp())


@cache
def _case(name: str, folder: Path) -> Case:
    return case_of(name, folder, Recipe())


@cache
def _report(name: str, folder: Path) -> FitReport:
    return run_to_end(finish(_case(name, folder).design, pictures=False, tries=False)).report


def test_foam_has_its_room_along_the_whole_line(case: Case) -> None:
    """From the skin under the seal line to the body it is what is left of the foam when it is seated.

    No nearer than the fit and the smoothing leave open; farther only by what a seated foam springs out where
    creases of the hard band are rounded.
    """
    soft = cushion_of(case.design.recipe.cushion)
    body = case.design.parts["body"].mesh
    solid = trimesh.Trimesh(body.vertices, body.faces, process=False)
    apart = trimesh.proximity.closest_point(solid, case.design.seal_line.points)[1]
    smoothed = case.prepared.face.smoothing.bound_mm
    assert apart.min() >= soft.seated_mm - PLACES - smoothed
    assert apart.max() <= soft.thickness_mm + PLACES + smoothed
    assert np.percentile(apart, 90) <= soft.seated_mm + 0.2  # what straps close, see the table of limits


def test_aims_are_kept(case: Case, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Of a mask that is worn for hours: light, near, holding, breathing, without supports."""
    report = _report(case.name, tmp_path_factory.getbasetemp())
    assert {row["key"]: row["against"] for row in report["aims"]["rows"] if not row["kept"]} == {}
    assert all(plan["support_free"] for plan in report["printing"].values() if isinstance(plan, dict))
    assert report["summary"]["verdict"] != "fail"
