"""The door of the physics: arrays and tensions are checked, and a refusal names the place, range and unit."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from sealwright.errors import BadNumbers, BadRecipe, LandmarkMissing
from sealwright.physics.patch import REGIONS, check_patch, strap_pull_of
from sealwright.physics.regions import face_regions

from .bands import face_like


@pytest.fixture(scope="module")
def patch():
    return face_like(24, 5)


def test_a_sound_patch_passes(patch):
    check_patch(patch)
    assert patch.station_count == 24
    assert len(patch.points) == 24 * 5


@pytest.mark.parametrize(
    ("field", "value", "word"),
    [
        ("points", np.nan, "finite"),
        ("gap_mm", np.inf, "finite"),
        ("across_mm", np.nan, "finite"),
        ("areas", 0.0, "areas"),
        ("normals", 2.0, "unit"),
        ("region", 6, "region"),
        ("station", -1, "negative"),
    ],
)
def test_one_bad_value_is_refused_with_its_index(patch, field, value, word):
    array = getattr(patch, field).copy()
    array[7] = value
    with pytest.raises(BadNumbers, match=word) as caught:
        check_patch(dataclasses.replace(patch, **{field: array}))
    assert caught.value.where.indices == (7,)


def test_missing_station_and_wrong_lengths_are_refused(patch):
    with pytest.raises(BadNumbers, match="station 3"):
        check_patch(dataclasses.replace(patch, station=np.where(patch.station == 3, 4, patch.station)))
    with pytest.raises(BadNumbers, match="lengths"):
        check_patch(dataclasses.replace(patch, areas=patch.areas[:-1]))
    with pytest.raises(BadNumbers, match="three"):
        check_patch(dataclasses.replace(patch, points=patch.points[:2]))


@pytest.mark.parametrize("tension", [-1.0, 101.0, float("nan"), "10", True])
def test_wrong_tension_is_refused_with_range_and_unit(tension):
    with pytest.raises(BadRecipe, match="from 0 to 100 N"):
        strap_pull_of([0, 0, 0], [0, 1, 0], tension)


def test_a_pull_without_direction_is_refused():
    with pytest.raises(BadNumbers):
        strap_pull_of([0, 0, 0], [0, 0, 0], 5.0)
    assert np.allclose(strap_pull_of([0, 0, 0], [0, 3, 4], 5.0).direction, [0, 0.6, 0.8])


def test_regions_of_plain_places():
    marks = {
        "sellion": [0, 8, 50],
        "alare_left": [13, 7, 0],
        "alare_right": [-13, 7, 0],
        "cheilion_left": [25, 14, -23],
        "cheilion_right": [-25, 14, -23],
        "menton": [0, 11, -64],
    }
    places = np.array(
        [[0, 8, 42], [14, 12, 15], [45, 25, 10], [45, 20, -23], [0, 5, -55], [0, 25, -66], [-45, 20, -23]]
    )
    names = [REGIONS[c] for c in face_regions(places.astype(float), marks)]
    assert names == ["nose_bridge", "nose_side", "cheek", "mouth_side", "chin", "under_chin", "mouth_side"]
    with pytest.raises(LandmarkMissing, match="menton"):
        face_regions(places.astype(float), {k: v for k, v in marks.items() if k != "menton"})
