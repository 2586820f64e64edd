"""One seeded case of damage from the file to the mask, and what came of it.

A case ends as a valid mask (or prepared scan), as a refusal that names what, where and how to mend it, or as
a failure: a traceback, a broken invariant, or a scan that was silently taken wrongly.
"""

from __future__ import annotations

import traceback
import warnings
from dataclasses import dataclass
from functools import cache

import numpy as np
from sealwright.designing.design import Design
from sealwright.designing.prepare import design, prepare
from sealwright.designing.prepared import Prepared
from sealwright.errors import DesignError, NoSurface
from sealwright.mesh import TriMesh
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.scan.read.mesh_file import ScanFile, scan_from_bytes
from sealwright.scan.reference.scale import MM_PER_UNIT, scale_of

from .damage_more import FILE_KINDS, MESH_KINDS, subdivided, whole, written
from .faces import random_pose

FORMATS = ("stl", "stl_ascii", "ply", "ply_ascii", "obj", "glb")
STAGES = ("read", "prepare", "preview", "design")
FAR_OFF_MM = 15.0
"""A nose tip farther than this from the truth is another place of the head."""


@dataclass(frozen=True)
class Case:
    """A damaged scan file, how it was made, and the truth about it.

    Attributes
    ----------
    seed, made : its number, and the damage in words.
    data, ending : the file.
    mm_per_unit : true size of its unit.
    pronasale : true nose tip, file units.
    spoilt : the bytes of the file were damaged too: the truth may be lost.
    """

    seed: int
    made: str
    data: bytes
    ending: str
    mm_per_unit: float
    pronasale: np.ndarray
    spoilt: bool


@dataclass(frozen=True)
class Outcome:
    """What came of a case: "valid", "refused" or "failure", where, and why."""

    seed: int
    stage: str
    kind: str
    detail: str
    made: str


@cache
def base_heads(triangles: int) -> tuple[tuple[str, TriMesh, dict[str, np.ndarray]], ...]:
    """The invented wearers, coarse, with their landmarks."""
    from demo_scenes.procedural_head import make_head
    from demo_scenes.wearers import WEARERS

    heads = [make_head(wearer, triangles) for wearer in WEARERS]
    return tuple((head.wearer.name, head.mesh, dict(head.landmarks)) for head in heads)


def case_of(seed: int, triangles: int = 8_000, huge: bool = False) -> Case:
    """The case of a seed, from heads of so many triangles; ``huge`` allows a few scans of millions."""
    rng = np.random.default_rng(seed)
    name, mesh, marks = base_heads(triangles)[int(rng.integers(4))]
    marks = dict(marks)
    chosen = sorted(rng.choice(len(MESH_KINDS), rng.integers(0, 4), replace=False))
    made = [name, *(MESH_KINDS[index].__name__ for index in chosen)]
    for index in chosen:
        try:
            mesh = MESH_KINDS[index](mesh, rng, marks)
        except NoSurface:  # this damage would leave nothing of what the others left
            made.remove(MESH_KINDS[index].__name__)
    if huge and seed % 250 == 7:
        while len(mesh.faces) < 1_300_000:
            mesh = subdivided(mesh)
        made.append(f"{len(mesh.faces)} triangles")
    unit = str(rng.choice(list(MM_PER_UNIT), p=[0.55, 0.15, 0.15, 0.15]))
    move = np.diag([1.0 / MM_PER_UNIT[unit]] * 3 + [1.0]) @ random_pose(seed)
    form = str(rng.choice(FORMATS, p=[0.4, 0.1, 0.2, 0.1, 0.1, 0.1]) if len(mesh.faces) < 1e6 else "stl")
    data = written(mesh.moved(move), form)
    spoil = FILE_KINDS[int(rng.integers(len(FILE_KINDS)))] if rng.random() < 0.4 else whole
    made += [unit, form, *([spoil.__name__] if spoil is not whole else [])]
    tip = move[:3, :3] @ marks["pronasale"] + move[:3, 3]
    ending = form.split("_")[0]
    data = spoil(data, rng)
    return Case(seed, ", ".join(made), data, ending, MM_PER_UNIT[unit], tip, spoil is not whole)


def outcome_of(case: Case, stage: str) -> Outcome:
    """Run a case as far as a stage of `STAGES` and judge what comes of it."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # a NumPy warning in the core is a failure too
            return Outcome(case.seed, stage, "valid", _run(case, stage), case.made)
    except DesignError as refusal:
        named = bool(refusal.what and refusal.fix and str(refusal.where))
        kind = "refused" if named else "failure"
        return Outcome(case.seed, stage, kind, type(refusal).__name__, case.made)
    # Whatever else is raised is what this looks for; it is kept, not hidden.
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        text = f"{type(error).__name__}: {error} ({last.filename.rsplit('/', 1)[-1]}:{last.lineno})"
        return Outcome(case.seed, stage, "failure", text[:300], case.made)


def _run(case: Case, stage: str) -> str:
    """Run a case; what is broken is raised as AssertionError, doubts are returned."""
    scan = scan_from_bytes(case.data, case.ending, f"case.{case.ending}")
    assert np.isfinite(scan.mesh.vertices).all() and len(scan.mesh.faces)
    if stage == "read":
        return ""
    prepared = _prepared(scan)
    doubts = "" if case.spoilt else _check_prepared(case, prepared)
    if stage != "prepare":
        made = run_to_end(design(prepared, Recipe(), "preview" if stage == "preview" else "final"))
        check_design(made)
    return doubts


def _prepared(scan: ScanFile) -> Prepared:
    scale = scale_of(scan.mesh, None, scan.stated_unit)
    return run_to_end(prepare(scan.mesh, Recipe(), None, scale, adult=True))


def _check_prepared(case: Case, prepared: Prepared) -> str:
    """The frame is rigid, and a wrong scale or pose was at least doubted aloud."""
    turn = prepared.scan_to_design[:3, :3] / prepared.mm_per_unit
    assert np.abs(turn @ turn.T - np.eye(3)).max() < 1e-9 and np.linalg.det(turn) > 0
    assert all(np.isfinite(point).all() for point in prepared.landmarks.values())
    doubted = any(remark.level in ("warning", "risk") for remark in prepared.remarks)
    wrong = []
    if abs(np.log(prepared.mm_per_unit / case.mm_per_unit)) > 0.01:
        wrong.append(f"scale {prepared.mm_per_unit:g} for {case.mm_per_unit:g}")
    else:
        tip = prepared.scan_to_design[:3, :3] @ case.pronasale + prepared.scan_to_design[:3, 3]
        off = float(np.linalg.norm(tip - prepared.landmarks["pronasale"]))
        if off > FAR_OFF_MM:
            wrong.append(f"nose tip off by {off:.0f} mm")
    assert doubted or not wrong, f"silently wrong: {', '.join(wrong)}"
    return f"doubted: {', '.join(wrong)}" if wrong else ""


def check_design(made: Design) -> None:
    """The invariants of docs/design section 4 that a finished or previewed design can be asked for."""
    from sealwright.report.fit_report import expected_genus
    from sealwright.solids.soundness import require_sound

    for name, solid in made.parts.items():
        assert solid.volume > 0
        if made.fit is not None:
            require_sound(solid.mesh, name, expected_genus(made, name))
    if made.fit is None or made.wall is None:
        return
    facts, touch = made.fit.facts, made.fit.touch_mm
    assert facts.contact_share == 1.0, f"contact {facts.contact_share:.3f}"
    assert -touch <= facts.gap_min_mm and facts.gap_max_mm <= touch + facts.cushion_reach_mm, "gap"
    assert made.entry.deepest_mm <= touch, f"entry {made.entry.deepest_mm:.3f} mm"
    assert made.wall.facts.min_mm >= 0.8 * made.recipe.chamber.wall_mm, (
        f"wall {made.wall.facts.min_mm:.2f} mm"
    )
