"""How often the looks at what cannot be right see it, and how often they cry wolf, on invented heads.

``python tools/plausible_run.py --heads 1000`` draws heads of the crowd (random proportions, kinds of scan,
noise,
smiles, open jaws), looks at each as it is and harmed once (stretched along an axis, shrunk, blown up, a
second
head beside it, another head as its second pose), and prints the rates as a table. It runs the same functions
and limits as a design. ``--save FILE`` keeps what was measured, ``--fit FILE`` makes the row of usual
proportions of
the shared table from such a file: heads of even number tune, those of odd number are reported.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from sealwright.anthropometry.proportions import MEASURES
from sealwright.designing.plausible import Plausible, look_at, measures_of_face
from sealwright.errors import DesignError
from sealwright.mesh import Floats, TriMesh, joined
from sealwright.scan.landmarks.landmark_set import Landmarks
from sealwright.scan.landmarks.proposal import propose_landmarks
from sealwright.scan.landmarks.second_pose import SecondPose, align_second_pose
from sealwright.scan.pose.orient import find_face
from sealwright.scan.pose.pose import Pose, outward
from sealwright.verdicts.judge import judge
from sealwright.verdicts.measured import (
    ClearanceMeasured,
    Measured,
    ScanMeasured,
    SecondPoseMeasured,
    WearerMeasured,
)

HARMS: dict[str, tuple[float, float, float]] = {
    "15 % wider": (1.15, 1.0, 1.0),
    "30 % wider": (1.3, 1.0, 1.0),
    "15 % flatter": (1.0, 0.85, 1.0),
    "30 % flatter": (1.0, 0.7, 1.0),
    "15 % longer": (1.0, 1.0, 1.15),
    "30 % longer": (1.0, 1.0, 1.3),
    "size 0.65": (0.65, 0.65, 0.65),
    "size 1.4": (1.4, 1.4, 1.4),
}
OTHERS = ("two heads", "another's second pose")
TRIANGLES = 20_000
SEEN = ("warn", "fail")


def seen(mesh: TriMesh) -> tuple[TriMesh, Pose, Landmarks]:
    """The face of a scan in mm, its pose and landmarks."""
    pose = find_face(mesh)
    face = outward(mesh, pose)
    return face, pose, propose_landmarks(face, pose)


def verdicts(found: Plausible, pose: SecondPose | None = None) -> dict[str, str]:
    """The verdicts of the wearer by key, as a report has them."""
    second = None
    if pose is not None:
        second = SecondPoseMeasured(
            lifted_share=0.0,
            largest_lift_mm=0.0,
            upper_face_mm=pose.still_p90_mm,
            nose_apart_mm=pose.nose_apart_mm,
        )
    measured = Measured(
        scan=ScanMeasured(noise_mm=0.0, smoothing_bound_mm=0.0),
        landmarks={},
        clearance=ClearanceMeasured(wanted_mm=None, nose_lips_mm=None, entry_mm=None),
        wearer=WearerMeasured(
            face_length_mm=found.face_length_mm,
            adult_said=False,
            stretch=found.stretch,
            mouth=found.mouth,
            second_face=found.second_face,
        ),
        second_pose=second,
    )
    keys = ("wearer", "second_pose.upper")
    return {v.key: v.verdict for v in judge(measured) if v.key.startswith(keys)}


def looked(mesh: TriMesh) -> dict[str, str]:
    """The verdicts on one scan; "refused" where no face is found in it."""
    try:
        face, pose, marks = seen(mesh)
    except DesignError as refusal:
        return {"refused": refusal.code}
    return verdicts(look_at(mesh, face, pose, marks, adult=True))


def plain(mesh: TriMesh) -> tuple[dict[str, str], dict[str, float]]:
    """The verdicts on a scan as it is, and its measures."""
    try:
        face, pose, marks = seen(mesh)
    except DesignError as refusal:
        return {"refused": refusal.code}, {}
    return verdicts(look_at(mesh, face, pose, marks, adult=True)), measures_of_face(face, pose, marks)


def harmed(mesh: TriMesh, scan_from_face: Floats, factors: tuple[float, float, float]) -> TriMesh:
    """A scan stretched along the axes of its face."""
    move = scan_from_face @ np.diag([*factors, 1.0]) @ np.linalg.inv(scan_from_face)
    return mesh.moved(move)


def rows(seeds: Iterable[int]) -> Iterator[dict[str, Any]]:
    """One row for each head: what was drawn, the verdicts on it, the harm done and the verdicts on that."""
    from demo_scenes.crowd import crowd_head

    kinds = (*HARMS, *OTHERS)
    for seed in seeds:
        head = crowd_head(seed, TRIANGLES)
        row: dict[str, Any] = {"seed": seed, "kind": head.kind, "noise": head.noise_mm}
        row |= {"jaw": head.expression.jaw_deg, "smile": head.expression.smile_mm}
        row["plain"], measures = plain(head.mesh)
        if measures:
            row["measures"] = measures
        harm = kinds[(seed // 4) % len(kinds)]
        row["harm"] = harm
        if harm in HARMS:
            row["harmed"] = looked(harmed(head.mesh, head.scan_from_face, HARMS[harm]))
        else:
            row |= _other(head.mesh, head.scan_from_face, seed, harm)
        yield row


def _other(mesh: TriMesh, frame: Floats, seed: int, harm: str) -> dict[str, Any]:
    """The verdicts with a second head: beside the first, or taken for its second pose."""
    from demo_scenes.crowd import crowd_head

    rng = np.random.default_rng([seed, 11])
    other = crowd_head(seed + 5_000, TRIANGLES)
    beside = np.eye(4)
    beside[:3, 3] = [rng.uniform(190, 300) * rng.choice([-1, 1]), *rng.uniform(-90, 90, 2)]
    placed = other.mesh.moved(frame @ beside @ np.linalg.inv(other.scan_from_face))
    if harm == "two heads":
        return {"harmed": looked(joined(mesh, placed))}
    try:
        first, pose, marks = seen(mesh)
        second, _, others = seen(placed)
        laid = align_second_pose(first, marks, second, others)
        own = align_second_pose(first, marks, *_again(first, marks, rng))
    except DesignError as refusal:
        return {"harmed": {"refused": refusal.code}}
    found = look_at(mesh, first, pose, marks, adult=True)
    return {"harmed": verdicts(found, laid), "own second pose": verdicts(found, own)}


def _again(first: TriMesh, marks: Landmarks, rng: np.random.Generator) -> tuple[TriMesh, Landmarks]:
    """The same face scanned again: another 0.25 mm of noise on every point."""
    noise = 0.25 * rng.normal(size=(len(first.vertices), 1))
    again = TriMesh(first.vertices + noise * first.vertex_normals, first.faces)
    pose = find_face(again)
    return again, propose_landmarks(again, pose)


def table(found: list[dict[str, Any]]) -> str:
    """The rates as a Markdown table."""
    lines = [
        "| what | heads | seen | of these failed | refused or no face |",
        "| --- | --- | --- | --- | --- |",
    ]
    plain = [row["plain"] for row in found]
    shut = [row["plain"] for row in found if row["jaw"] == 0.0]
    calm = [row["plain"] for row in found if row["smile"] == 0.0 and row["jaw"] == 0.0]
    of = "wearer."
    lines += [
        _line("false alarm: size", plain, of + "face_length_mm"),
        _line("false alarm: proportions", shut, of + "stretch_sigmas"),
        _line("false alarm: mouth, closed lips", shut, of + "lip_gap_mm"),
        _line("false alarm: smile, at rest", calm, of + "smile_sigmas"),
        _line("false alarm: second face", plain, of + "faces"),
    ]
    own = [row["own second pose"] for row in found if "own second pose" in row]
    lines.append(_line("false alarm: own second pose", own, "second_pose.upper_face_mm"))
    for low, high in ((2, 6), (6, 16)):
        jaws = [row["plain"] for row in found if low <= row["jaw"] < high]
        lines.append(_line(f"jaw open by {low} to {high} degrees", jaws, of + "lip_gap_mm"))
    for low, high in ((2, 5), (5, 9)):
        smiles = [row["plain"] for row in found if low <= row["smile"] < high and row["jaw"] == 0.0]
        lines.append(_line(f"smile of {low} to {high} mm", smiles, of + "smile_sigmas"))
    for harm in (*HARMS, *OTHERS):
        key = of + ("face_length_mm" if "size" in harm else "stretch_sigmas")
        key = {"two heads": of + "faces", "another's second pose": "second_pose.upper_face_mm"}.get(harm, key)
        lines.append(_line(harm, [row["harmed"] for row in found if row["harm"] == harm], key))
    return "\n".join(lines)


def _line(what: str, found: list[dict[str, str]], key: str) -> str:
    """One row of the table."""
    refused = sum("refused" in one for one in found)
    words = [one[key] for one in found if key in one]
    if not words:
        return f"| {what} | {len(found)} | - | - | {refused} |"
    hits, failed = (100 * n / len(words) for n in (sum(w in SEEN for w in words), words.count("fail")))
    return f"| {what} | {len(words)} | {hits:.1f} % | {failed:.1f} % | {refused} |"


def fitted(found: list[dict[str, Any]]) -> dict[str, Any]:
    """Mean logarithms and covariance of the heads of even number with closed lips."""
    logs = [
        np.log([row["measures"][name] for name in MEASURES])
        for row in found
        if row["seed"] % 2 == 0 and row["jaw"] == 0.0 and set(MEASURES) <= set(row.get("measures", ()))
    ]
    return {
        "heads": len(logs),
        "mean_log": np.mean(logs, axis=0).round(4).tolist(),
        "covariance": np.cov(np.array(logs).T).round(5).tolist(),
    }


def main() -> int:
    """Run, and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--heads", type=int, default=1000, help="heads to draw")
    parser.add_argument("--first", type=int, default=0, help="number of the first one")
    parser.add_argument("--save", type=Path, help="file for what was measured, one row a line")
    parser.add_argument("--read", type=Path, nargs="+", help="such files instead of a run")
    parser.add_argument("--fit", action="store_true", help="print usual proportions instead of rates")
    asked = parser.parse_args()
    if asked.read:
        found = [json.loads(line) for path in asked.read for line in path.read_text().splitlines()]
    else:
        found = []
        for row in rows(range(asked.first, asked.first + asked.heads)):
            found.append(row)
            if asked.save:
                with asked.save.open("a", encoding="utf-8") as stream:
                    stream.write(json.dumps(row) + "\n")
    print(json.dumps(fitted(found), indent=1) if asked.fit else table([r for r in found if r["seed"] % 2]))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
