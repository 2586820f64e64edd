"""The searched seal line, against searches of other libraries and against brute force on a coarse grid."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from bare import bare_recipe
from face.shapes import HEAD, sphere
from sealwright.designing.prepare import prepare
from sealwright.errors import OffTheScan
from sealwright.face.surface import FaceSurface
from sealwright.facepiece.band_room import evened_share, trusted_skin
from sealwright.facepiece.closed_path import closed_path
from sealwright.facepiece.contact_band import looked_under
from sealwright.facepiece.line_features import too_near
from sealwright.facepiece.line_on_skin import LineAsked, line_on_skin
from sealwright.facepiece.sectors import SECTORS
from sealwright.mesh import Floats
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from trials.crops import crop_of
from trials.faces import face_scan
from trials.line_oracle import line_exists, narrowest_half_mm

SLOPES = range(-4, 5)


def of_crop(seed: int) -> tuple[FaceSurface, Mapping[str, Floats], LineAsked]:
    """Face and landmarks of a crop, and what the usual recipe asks of its line."""
    crop, recipe = crop_of(seed), Recipe()
    prepared = run_to_end(prepare(crop.mesh, recipe, crop.landmarks, adult=True))
    return prepared.face, prepared.landmarks, LineAsked(recipe.seal_line, 96, recipe.band.reach)


def cost_of(rows: np.ndarray, cost: np.ndarray, bend: float) -> float:
    """Cost of a closed path by its definition."""
    slope = np.diff(np.append(rows, rows[0]))
    return float(cost[np.arange(len(rows)), rows].sum() + bend * ((slope - np.roll(slope, 1)) ** 2).sum())


def cheapest_by_dijkstra(cost: np.ndarray, bend: float) -> float:
    """The same minimum by shortest paths of networkx from every cell and slope that it can begin with."""
    count, height = cost.shape
    graph = nx.DiGraph()
    for column in range(count):
        for row in range(height):
            for before in SLOPES:
                for slope in SLOPES:
                    if 0 <= row + slope < height:
                        weight = cost[column, row] + bend * (slope - before) ** 2
                        ahead = (column + 1, row + slope, slope)
                        graph.add_edge((column, row, before), ahead, weight=weight)
    best = np.inf
    for row in range(height):
        for slope in SLOPES:
            start, end = (0, row, slope), (count, row, slope)
            if start in graph and end in graph:
                reached = nx.single_source_dijkstra_path_length(graph, start)
                best = min(best, reached.get(end, np.inf))
    return float(best)


@pytest.mark.parametrize("seed", range(4))
def test_closed_path_is_the_cheapest_one(seed: int) -> None:
    """Random costs with a barrier that one gap opens, as where the scan ends."""
    rng = np.random.default_rng(seed)
    cost = rng.uniform(0.0, 4.0, size=(9, 6))
    cost[int(rng.integers(9)), rng.permutation(6)[:5]] = 1e4
    rows = closed_path(cost, 0.35)
    assert np.abs(np.diff(np.append(rows, rows[0]))).max() <= 4
    assert cost_of(rows, cost, 0.35) == pytest.approx(cheapest_by_dijkstra(cost, 0.35), abs=1e-9)


def test_share_of_the_band_is_nowhere_more_than_there_is_room_for() -> None:
    share = np.ones((96, 2))
    share[40:44, 0] = 0.72
    even = evened_share(share, 2.0)
    assert (even <= share + 1e-12).all() and even.min() == pytest.approx(0.72)
    assert np.abs(np.diff(even[:, 0])).max() < 0.28 / 4  # over more than four stations on either side


def test_what_lies_behind_a_step_is_no_skin() -> None:
    """A ball of 80 mm whose left third is cut away, so that another of 50 mm shows behind it."""
    whole, behind = sphere(80.0, HEAD, centre=HEAD), sphere(50.0, HEAD, centre=HEAD)
    side = whole.points[..., 0] - HEAD[0] > 30.0
    face = replace(whole, radii=np.where(side, behind.radii, whole.radii))
    found = trusted_skin(face)
    assert not found[side][::7].any()
    assert found[~side].mean() > 0.97  # the pixel beside the step may go


@pytest.mark.costly
@pytest.mark.scans
def test_a_wide_band_is_narrowed_before_a_scan_is_refused() -> None:
    """Between inner eye corners and mouth this face has no room for 22 mm; a bare band fits."""
    recipe = Recipe()
    assert recipe.band.width_mm > bare_recipe().band.width_mm
    prepared = run_to_end(prepare(face_scan("varied/varied-19"), recipe))
    face, marks = prepared.face, prepared.landmarks
    line = line_on_skin(face, marks, LineAsked(recipe.seal_line, 96, recipe.band.reach))
    assert line.room is not None
    width = line.room @ recipe.band.reach.both
    assert width.min() > 10.5 - 1e-9 and width.max() > 21.9  # 0.7 of a bare band of 15 mm; elsewhere as asked
    found = looked_under(face, line, recipe.band.reach)
    assert found.on.all() and not found.folded.any() and too_near(line.points, marks) is None
    assert any("narrower" in remark.text and "nose side" in remark.text for remark in line.remarks)


@pytest.mark.costly
@pytest.mark.scans
def test_a_searched_band_does_not_cover_the_wing_of_the_nose() -> None:
    """The right flank of this nose was not scanned: the line went over its wing, the body was cut open."""
    face, marks, asked = of_crop(17)
    with pytest.raises(OffTheScan, match="lacks skin at the right nose side"):
        line_on_skin(face, marks, asked)


@pytest.mark.costly
@pytest.mark.scans
@pytest.mark.parametrize(("seed", "side"), [(36, "left nose side"), (196, "right nose side")])
def test_where_the_band_folds_off_the_missing_skin_that_skin_is_named(seed: int, side: str) -> None:
    """On the skin there is every line folds beside the nose, one side of which the sensor did not see."""
    face, marks, asked = of_crop(seed)
    with pytest.raises(OffTheScan, match=f"lacks skin at .*{side}") as refusal:
        line_on_skin(face, marks, asked)
    spots, size = face.chart.place_of(np.array(refusal.value.where.spots))
    lacks, _ = face.chart.place_of(face.points[~trusted_skin(face)])
    away = np.array([np.linalg.norm(lacks - spot, axis=1).min() for spot in spots]) * size
    # Each lies within the band's reach of what the scan lacks; 2 mm for specks and the margin of the band.
    assert (away < asked.reach.least.outer_mm + 2.0).all()


SEEDS = (*((seed, bare_recipe()) for seed in (6, 22, 33, 38, 49)), (9, Recipe()), (51, Recipe()))


@pytest.mark.costly
@pytest.mark.scans
@pytest.mark.parametrize(("seed", "recipe"), SEEDS)
def test_there_is_a_line_where_brute_force_finds_one_else_the_missing_skin_is_named(
    seed: int, recipe: Recipe
) -> None:
    """A few of the 200 crops of tools/line_trial.py, the line without its mask: bare and wide bands."""
    crop = crop_of(seed)
    prepared = run_to_end(prepare(crop.mesh, recipe, crop.landmarks, adult=True))
    face, marks = prepared.face, prepared.landmarks
    brute = line_exists(face, marks, narrowest_half_mm(recipe.band.width_mm, recipe.band.inner_share))
    asked = LineAsked(recipe.seal_line, 96, recipe.band.reach)
    if not brute:
        with pytest.raises(OffTheScan, match="lacks skin at the") as refusal:
            line_on_skin(face, marks, asked)
        assert any(sector in refusal.value.what for sector in SECTORS)
        assert "from " in refusal.value.fix
        return
    line = line_on_skin(face, marks, asked)
    assert looked_under(face, line, asked.reach).on.all() or line.room is not None
    assert too_near(line.points, marks) is None
