"""Where the band would fold on the proposed line, the line is smoothed further, and that is said.

The scan is case 40018 of the damage campaign: an undamaged coarse head, turned. The band is wide, since bands
of usual width do not fold there. Reference for "no fold":
the exact test for crossing triangles of CGAL on the finished body.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import sealwright.designing.seal_and_shape as laying
from bare import bare_recipe
from sealwright.designing.prepare import design, prepare
from sealwright.designing.prepared import Prepared
from sealwright.errors import DoesNotFit
from sealwright.progress import run_to_end
from sealwright.scan.read.mesh_file import scan_from_bytes
from sealwright.scan.reference.scale import scale_of
from trials.campaign import case_of

from .oracles import crossings

pytestmark = pytest.mark.heavy

WIDE = replace(bare_recipe(), band=replace(bare_recipe().band, width_mm=21.0))


@cache
def prepared() -> Prepared:
    case = case_of(40018, huge=True)
    scan = scan_from_bytes(case.data, case.ending, f"case.{case.ending}")
    return run_to_end(prepare(scan.mesh, bare_recipe(), None, scale_of(scan.mesh, None, scan.stated_unit)))


def test_fold_is_refused_without_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(laying, "_SMOOTHER", (1.0,))
    monkeypatch.setattr(laying, "_ROUND_FOLDS", ())
    with pytest.raises(DoesNotFit, match="contact band folds"):
        run_to_end(design(prepared(), WIDE))


def test_line_is_smoothed_until_the_band_lies_flat() -> None:
    made = run_to_end(design(prepared(), WIDE))
    assert crossings(made.parts["body"].mesh) == 0
    said = [remark for remark in made.remarks if remark.where.key == "recipe.seal_line.smoothing_mm"]
    assert [remark.level for remark in said] == ["warning"]
    assert "8 mm instead of 5" in said[0].text
    away = np.linalg.norm(made.seal_line.points - said[0].where.point, axis=1).min()
    assert away < WIDE.band.width_mm  # in the band or its rolled edge


def test_other_refusals_are_not_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    tried = []

    def refuse(*_: object) -> object:
        tried.append(1)
        raise DoesNotFit("The port stands too near.", "port", "Move it out.")
        yield

    monkeypatch.setattr(laying, "shape_job", refuse)
    with pytest.raises(DoesNotFit, match="too near"):
        run_to_end(design(prepared(), WIDE))
    assert len(tried) == 1
