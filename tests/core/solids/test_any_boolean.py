"""Properties of any boolean: inclusion and exclusion of volumes, and boxes against exact arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from sealwright.errors import BooleanFailed
from sealwright.solids.boolean import Solid, difference, shared_volume, union
from sealwright.solids.primitives import cuboid, cylinder
from sealwright.solids.soundness import soundness_of

PLACES = st.tuples(*[st.floats(-12.0, 12.0)] * 3)
SIZES = st.tuples(*[st.floats(2.0, 20.0)] * 3)


def box(size: tuple[float, ...], place: tuple[float, ...], turn: int = 0) -> Solid:
    """A box turned at random about its middle (turn 0 leaves it square), then moved."""
    pose = np.eye(4)
    if turn:
        pose[:3, :3] = Rotation.random(random_state=turn).as_matrix()
    pose[:3, 3] = place
    half = np.array(size) / 2.0
    return cuboid(-half, half, "box").moved(pose)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(a=SIZES, b=SIZES, place=PLACES)
def test_square_boxes_against_exact_overlap(a, b, place) -> None:
    low = np.maximum(-np.array(a) / 2, np.array(place) - np.array(b) / 2)
    high = np.minimum(np.array(a) / 2, np.array(place) + np.array(b) / 2)
    exact = float(np.prod(np.clip(high - low, 0.0, None)))
    # 1e-6 mm3: coordinates near 10 in double precision.
    assert shared_volume(box(a, (0.0, 0.0, 0.0)), box(b, place)) == pytest.approx(exact, abs=1e-6)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(a=SIZES, b=SIZES, place=PLACES, turn=st.integers(1, 10_000), height=st.floats(3.0, 25.0))
def test_inclusion_and_exclusion(a, b, place, turn, height) -> None:
    """|A or B| = |A| + |B| - |A and B|, and A without B is the rest of A, for turned boxes and a cylinder."""
    first = union("first", box(a, (0.0, 0.0, 0.0)), cylinder(4.0, 0.0, height, "cylinder"))
    second = box(b, place, turn)
    both = shared_volume(first, second)
    whole = union("whole", first, second)
    assert whole.volume == pytest.approx(first.volume + second.volume - both, rel=1e-9)
    try:
        rest = difference("rest", first, second)
    except BooleanFailed:
        assert both == pytest.approx(first.volume, rel=1e-9)
        return
    assert rest.volume == pytest.approx(first.volume - both, rel=1e-9)
    for solid in (whole, rest):
        found = soundness_of(solid.mesh, solid.role)
        # What is left of a body may fall into pieces; everything else must be in order.
        assert all("pieces" in problem for problem in found.problems), found.problems
