"""The default recipe on invented and open faces: room for the foam, sound parts, and the aims of a design.

The aims are the project's own (their rows in the table of limits say so); distances are libigl's.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import igl
import numpy as np
import pytest
from sealwright.cushion.settings import cushion_of
from sealwright.jobs.make import finish
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.report.shape import FitReport

from .cases import Case, case_of

pytestmark = [pytest.mark.heavy, pytest.mark.scans]

MISSED: dict[str, set[str]] = {
    "marlo-by-phone": {"prediction.summary.share_holding"},  # a point or less, by the noise of the scan
    "face-m36": set(),
    "sensor-scan-b": {  # noise over the usual line: the searched one leads round a larger face
        "prediction.summary.share_holding",
        "masses.total_g",
        "hang.moment_nose_bridge_nmm",
        "breathing.dead_space_ml",
    },
}
"""The faces, and the aims that each may miss; the report then names what stands in the way."""
PLACES = 0.05  # mm: a body follows the wanted distance within this, see the table of limits


@pytest.fixture(scope="module", params=MISSED)
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

    Round a crease beside the nose the hard band is farther over its bottom and nearer beside it, both by no
    more than a seated foam springs out, and yields by as much again; elsewhere it is where it should be.
    """
    soft = cushion_of(case.design.recipe.cushion)
    body = case.design.parts["body"].mesh
    squared = igl.point_mesh_squared_distance(case.design.seal_line.points, body.vertices, body.faces)[0]
    apart = np.sqrt(squared)
    smoothed = case.prepared.face.smoothing.bound_mm
    assert np.abs(apart - soft.seated_mm).max() <= soft.thickness_mm - soft.seated_mm + PLACES + smoothed
    # what straps close, see the table of limits
    assert np.percentile(np.abs(apart - soft.seated_mm), 80) <= 0.2 + smoothed


def test_aims_are_kept_or_what_stands_in_the_way_is_named(
    case: Case, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Of a mask that is worn for hours: light, near, holding, and breathing without a valve."""
    report = _report(case.name, tmp_path_factory.getbasetemp())
    missed = {row["key"]: row["against"] for row in report["aims"]["rows"] if not row["kept"]}
    assert set(missed) <= MISSED[case.name] and all(missed.values())
    assert report["prediction"]["summary"]["pressure_p95_kpa"] <= 5.0
    assert report["prediction"]["summary"]["share_reaching_100"] >= 0.9
    assert report["prediction"]["summary"]["share_holding"] >= 0.9
