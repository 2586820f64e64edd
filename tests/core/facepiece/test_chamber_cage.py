"""The chamber as a cage: taken back unchanged, pulled, pushed out of the clearance, modelled from scratch."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from main_job.wearers import marlo_prepared
from sealwright.checks.wall import check_clearance, check_wall, clear_side
from sealwright.designing.design import Design, make_design
from sealwright.designing.sketch import sketch
from sealwright.errors import BadRecipe, DoesNotFit, TooNear, UnreadableFile
from sealwright.facepiece.chamber_cage import FITS_MM, Cage, cage_of, cage_on
from sealwright.facepiece.shell import quads_to_triangles, side_mesh
from sealwright.mesh import TriMesh
from sealwright.own_shapes.cage_file import cage_json, read_form
from sealwright.predict.assumed import assumed_of
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe, with_values
from sealwright.search.evaluator import DesignEvaluator, ImproveSettings, Shared
from sealwright.solids.distance import MeshDistance
from sealwright.solids.soundness import require_sound

pytestmark = pytest.mark.heavy

RECIPE = Recipe()
CHEEK, AMID = 6, 4  # a station at the wearer's side, a row amid the wall


@cache
def own() -> Design:
    """The program's own form on the invented wearer."""
    return sketch(marlo_prepared(), RECIPE)


@cache
def cage() -> Cage:
    return cage_of(own().shape.wall, RECIPE.chamber.wall_mm)


def pulled(out_mm: float) -> Cage:
    """The cage with a soft bump at its side, away from its middle."""
    points = cage().points.copy()
    middle = points.reshape(-1, 3).mean(axis=0)
    station, row = np.ogrid[: points.shape[0], : points.shape[1]]
    share = np.exp(-0.5 * ((station - CHEEK) / 2.0) ** 2 - 0.5 * ((row - AMID) / 1.5) ** 2)
    way = points - middle
    return replace(
        cage(), points=points + out_mm * share[..., None] * way / np.linalg.norm(way, axis=-1, keepdims=True)
    )


def surface(scale: float = 1.0, hole_mm: float = 0.0) -> TriMesh:
    """The cage as an open mesh, scaled about the middle of the rays; with a hole at the side."""
    centre = own().shape.field.centre
    points = centre + scale * (cage().points.reshape(-1, 3) - centre)
    faces = quads_to_triangles(cage().quads, len(cage().points))
    away = np.linalg.norm(
        points[faces].mean(axis=1) - points.reshape(cage().points.shape)[CHEEK, AMID], axis=1
    )
    return TriMesh(points, faces[away >= hole_mm])


def test_a_cage_that_nobody_changed_gives_the_same_wall() -> None:
    made = sketch(marlo_prepared(), RECIPE, form=cage())
    for side in ("face_side", "outer_side"):
        before, after = (getattr(one.shell, side) for one in (own(), made))
        away = MeshDistance(side_mesh(before)).to(after[:, made.shell.wall].reshape(-1, 3))
        assert away.max() < FITS_MM
        assert np.percentile(away, 95) < 0.42  # the wall is the fairest sheet within 0.4 mm
    # 0.4 mm over 150 cm2 of wall are 6 ml; it lies on both sides
    assert made.chamber_ml == pytest.approx(own().chamber_ml, abs=2.0)


def test_a_pulled_cage_is_followed_and_the_wall_keeps_its_thickness() -> None:
    form = pulled(4.0)
    made = run_to_end(make_design(marlo_prepared(), RECIPE, "preview", form=form))
    away = MeshDistance(side_mesh(made.shell.outer_side)).to(form.points[:, 2:-2].reshape(-1, 3))
    assert away.max() < FITS_MM  # within 0.4 mm of the spline through it, moved in and out by the thickness
    facts = check_wall(made.shell, RECIPE.chamber.wall_mm).facts
    before = check_wall(own().shell, RECIPE.chamber.wall_mm).facts
    assert facts.within_10_percent_share > before.within_10_percent_share - 0.03
    require_sound(made.parts["body"].mesh, "body", len(made.ports) + len(made.straps))
    assert made.chamber_ml > own().chamber_ml + 0.5


def test_what_lies_in_the_clearance_is_pushed_out_and_told() -> None:
    points = cage().points.copy()
    centre = own().shape.field.centre
    points[:4, 2:5] += 0.05 * (centre - points[:4, 2:5])  # beside the nose, towards the face
    made = sketch(marlo_prepared(), RECIPE, form=replace(cage(), points=points))
    told = [remark for remark in made.remarks if "pushed out" in remark.text]
    assert told
    assert told[0].where.point is not None
    asked = RECIPE.chamber.clearance_mm
    found = check_clearance(
        marlo_prepared().nose_and_lips, made.shape.band.inner_end, clear_side(made.shell)[:, 3:], asked
    )
    assert found.nearest_mm >= asked - 0.2


def test_a_cage_in_the_face_is_refused() -> None:
    points = cage().points + np.array([0.0, 14.0, 0.0])
    with pytest.raises(TooNear, match="inside the clearance") as refusal:
        sketch(marlo_prepared(), RECIPE, form=replace(cage(), points=points))
    assert refusal.value.where.point is not None


@pytest.mark.parametrize("scale", [1.0, 1.04])
def test_a_modelled_surface_is_followed_along_the_rays(scale: float) -> None:
    centre = own().shape.field.centre
    found = cage_on(surface(scale), cage(), centre)
    assert found.points[:, 1:-1] == pytest.approx(
        centre + scale * (cage().points[:, 1:-1] - centre), abs=1e-6
    )


def test_a_surface_that_is_not_star_shaped_is_refused() -> None:
    one, two = surface(), surface(1.05)
    both = TriMesh(
        np.vstack([one.vertices, two.vertices]), np.vstack([one.faces, two.faces + len(one.vertices)])
    )
    for mesh, words in ((both, "lies 2 times"), (surface(hole_mm=14.0), "does not reach")):
        with pytest.raises(DoesNotFit, match=words) as refusal:
            cage_on(mesh, cage(), own().shape.field.centre)
        assert refusal.value.where.point is not None


def test_a_surface_makes_a_mask() -> None:
    made = sketch(marlo_prepared(), RECIPE, form=surface(1.03))
    assert made.chamber_ml > own().chamber_ml + 2.0


def test_a_cage_is_for_a_mask() -> None:
    with pytest.raises(BadRecipe, match="no chamber"):
        run_to_end(make_design(marlo_prepared(), replace(RECIPE, kind="tube"), form=cage()))


def test_file_and_back(tmp_path: Path) -> None:
    (tmp_path / "cage.json").write_text(cage_json(cage()))
    found = read_form(tmp_path / "cage.json")
    assert isinstance(found, Cage)
    assert found.points == pytest.approx(cage().points, abs=5.01e-4)
    assert found.out == pytest.approx(cage().out, abs=5.01e-5)


@pytest.mark.parametrize(
    "text",
    [
        "nonsense", "[]", '{"format": "sealwright-cage-1"}',
        '{"format": "sealwright-cage-1", "points_mm": [[1, 2, 3]]}',
        '{"format": "sealwright-cage-1", "points_mm": [[[1, 2], [3]]]}',
        '{"format": "sealwright-cage-1", "points_mm": 7}',
    ],
)  # fmt: skip
def test_other_files_are_refused(text: str, tmp_path: Path) -> None:
    (tmp_path / "cage.json").write_text(text)
    with pytest.raises(UnreadableFile) as refusal:
        read_form(tmp_path / "cage.json")
    assert refusal.value.fix


def test_a_search_keeps_the_form() -> None:
    settings = ImproveSettings(samples=8, confirm_samples=8)
    found = [
        DesignEvaluator(marlo_prepared(), RECIPE, assumed_of(RECIPE), settings, Shared(form)).worked_out(
            {"band.width_mm": 17.0}
        )
        for form in (None, pulled(6.0))
    ]
    plain, formed = (worked[0].chamber_ml for worked in found)
    made = sketch(marlo_prepared(), with_values(RECIPE, {"band.width_mm": 17.0}), form=pulled(6.0))
    assert formed == pytest.approx(made.chamber_ml)
    assert formed > plain + 1.0  # a bump of 6 mm and some 30 mm across holds 2 to 3 ml
