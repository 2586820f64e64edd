"""Ports of the maker on a mask: a gauge rod, Euler's formula, the seal as it was before."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh
from sealwright.designing.design import Design, make_design
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.hardware.options import PortSettings
from sealwright.own_shapes.settings import FittingSettings
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.report.fit_report import expected_genus
from sealwright.solids.boolean import shared_volume
from sealwright.solids.primitives import cylinder
from sealwright.solids.soundness import soundness_of
from sealwright.stage_cache import StageCache

from .wearers import marlo_prepared

pytestmark = pytest.mark.heavy
CACHE = StageCache()
PLAIN = PortSettings(kind="plain", bore_mm=8.0, length_mm=8.0)


def mask(*fittings: FittingSettings) -> Design:
    """The invented wearer's default mask with fittings."""
    recipe = replace(Recipe(), fittings=fittings)
    return run_to_end(make_design(marlo_prepared(), recipe, "final", cache=CACHE))


@cache
def plain() -> Design:
    return mask()


def cheek(share: float = 0.625) -> np.ndarray:
    """A place on the outer side of the wall, from the band (0) to the port (1), beside the mouth."""
    outer = plain().shell.outer_side
    return np.asarray(outer[48, int(share * outer.shape[1])])


def at(place: np.ndarray, **more: object) -> FittingSettings:
    x, y, z = (float(c) for c in place)
    return FittingSettings(x_mm=x, y_mm=y, z_mm=z, **more)


def handles(made: Design) -> int:
    """Through-holes of the body, by trimesh's Euler number of its closed surface."""
    body = made.parts["body"].mesh
    return 1 - trimesh.Trimesh(body.vertices, body.faces, process=False).euler_number // 2


def require_sound(made: Design) -> None:
    found = soundness_of(made.parts["body"].mesh, "body", expected_genus(made, "body"))
    assert found.sound, found.problems
    assert np.array_equal(made.fit.gap, plain().fit.gap)  # the seal is as it was
    assert made.entry.deepest_mm <= plain().entry.deepest_mm + 1e-6


def test_a_port_is_bored_into_the_chamber():
    made = mask(at(cheek(), connection=PLAIN, carries="nothing"))
    require_sound(made)
    assert handles(made) == handles(plain()) + 1
    (placed,) = [port for port in made.ports if port.key == "recipe.fittings[0]"]
    rod = cylinder(3.95, -6.0, 30.0, "gauge").moved(placed.frame)  # 0.05 mm in radius under the bore
    assert shared_volume(made.parts["body"], rod) < 1e-6
    assert any("opens the chamber" in remark.text for remark in made.remarks)


def test_what_cannot_be_is_refused_with_its_place():
    with pytest.raises(DoesNotFit) as refusal:
        mask(at(cheek(0.05), connection=PLAIN, carries="nothing"))  # on the contact band
    assert refusal.value.where.point is not None
    with pytest.raises(DoesNotFit, match="strap lug 1") as refusal:
        mask(at(plain().straps[0].frame[:3, 3], kind="lug"))
    assert refusal.value.where.point is not None
    with pytest.raises(BadRecipe, match="carries nothing"):
        mask(at(cheek(), carries="holder"))
    with pytest.raises(BadRecipe, match="tube"):
        recipe = replace(Recipe(), kind="tube", fittings=(at(cheek()),))
        run_to_end(make_design(marlo_prepared(), recipe, "final"))
