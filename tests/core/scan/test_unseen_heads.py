"""Landmarks on heads from which nothing was learnt: half of the varied open heads, and invented ones."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import cache

import numpy as np
import pytest
from sealwright.errors import DesignError
from sealwright.mesh import TriMesh
from sealwright.scan.landmarks.landmark_set import Landmarks
from sealwright.scan.landmarks.proposal import propose_landmarks
from sealwright.scan.pose.orient import find_face
from sealwright.scan.repair.clean import clean
from trials.faces import VARIED, face_scan, truth

from demo_scenes.crowd import KINDS, crowd_head

pytestmark = pytest.mark.heavy

UNSEEN = VARIED[1::2]
INVENTED = (8, 9, 10, 11, 17, 19, 49, 53)
"""Numbers of invented heads that CI takes: every kind, smiling and with open jaws. `tools/reliability.py`
takes the first three hundred."""

LIMITS_MM = defaultdict(lambda: (3.0, 6.0), exocanthion=(5.0, 9.0))
"""Median and 95 % that are demanded; outer eye corners are seen worse."""


def proposed(mesh: TriMesh) -> Landmarks:
    cleaned, _ = clean(mesh)
    return propose_landmarks(cleaned, find_face(cleaned))


def kind_of(name: str) -> str:
    return name.removesuffix("_left").removesuffix("_right")


Row = tuple[str, float, float]


@cache
def unseen() -> tuple[list[Row], list[str]]:
    """(kind, error mm, confidence) of every landmark with a truth on the unseen half, and refused heads."""
    rows, refused = [], []
    for name in UNSEEN:
        try:
            marks = proposed(face_scan(name))
        except DesignError:
            refused.append(name)
            continue
        for key, point in truth(name).items():
            away = float(np.linalg.norm(marks.point(key) - point))
            rows.append((kind_of(key), away, marks[key].confidence))
    return rows, refused


def by_kind(rows: Iterable[Row]) -> Iterator[tuple[str, np.ndarray]]:
    errors = defaultdict(list)
    for kind, away, _ in rows:
        errors[kind].append(away)
    yield from ((kind, np.array(values)) for kind, values in errors.items())


@pytest.mark.scans
def test_unseen_heads_are_within_the_demand() -> None:
    rows, refused = unseen()
    assert len(refused) <= 1
    for kind, errors in by_kind(rows):
        median, most = LIMITS_MM[kind]
        assert np.median(errors) <= median, kind
        assert np.percentile(errors, 95) <= most, kind


@pytest.mark.scans
def test_confidence_is_the_chance_to_be_right() -> None:
    """What is said and what is so differ by less than three standard errors of so many landmarks.

    Landmarks of one head are wrong together, so their number counts for a quarter.
    """
    rows, _ = unseen()
    said = np.array([sure for *_, sure in rows])
    right = np.array([away <= 5.0 for _, away, _ in rows])
    expected, spread = said.mean(), np.sqrt((said * (1.0 - said)).sum()) / len(said)
    assert abs(right.mean() - expected) < 3.0 * 2.0 * spread


def test_invented_heads_are_within_the_demand() -> None:
    """Medians by landmark; the 95 % over all landmarks together: eight heads have no 95 % of their own."""
    rows: list[Row] = []
    for seed in INVENTED:
        head = crowd_head(seed, 40_000)
        assert head.kind == KINDS[seed % len(KINDS)]
        marks = proposed(head.mesh)
        rows += [
            (kind_of(name), float(np.linalg.norm(marks.point(name) - point)), marks[name].confidence)
            for name, point in head.landmarks.items()
            if name in marks
        ]
    assert len(rows) == 16 * len(INVENTED)
    for kind, errors in by_kind(rows):
        assert np.median(errors) <= LIMITS_MM[kind][0], kind
    assert np.mean([away <= LIMITS_MM[kind][1] for kind, away, _ in rows]) >= 0.95


def test_a_bust_with_shoulders_and_noise_is_no_other_face() -> None:
    """Shoulders are no part of the face: the same landmarks as on the head alone, within the noise."""
    bust, alone = crowd_head(17, 40_000), crowd_head(17, 40_000)
    assert bust.kind == "bust"
    assert bust.noise_mm == 0.2
    back = np.linalg.inv(bust.scan_from_face)
    low = bust.mesh.vertices @ back[2, :3] + back[2, 3] > -115.0
    head = alone.mesh.submesh(low[alone.mesh.faces].all(axis=1))
    assert len(head.faces) < 0.9 * len(bust.mesh.faces)
    with_shoulders, without = proposed(bust.mesh), proposed(head)
    for name, point in without.points().items():
        # 2 mm: other skin samples fall on noise of 0.2 mm; the demand for a median is 3 mm.
        assert np.linalg.norm(with_shoulders.point(name) - point) < 2.0, name
