"""Random outlines and random closed meshes with fittings; what becomes of each: sound, or a named refusal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import trimesh
from sealwright.designing.design import Design
from sealwright.designing.own import shell_design, trim_design
from sealwright.designing.prepared import Prepared
from sealwright.errors import DesignError
from sealwright.hardware.options import LugSizes, PortSettings
from sealwright.mesh import Floats, TriMesh, trimesh_of
from sealwright.own_shapes.outline_file import DrawnLines
from sealwright.own_shapes.settings import (
    EdgeSettings,
    FittingSettings,
    HoleSettings,
    ShellSettings,
    SlotSettings,
    TrimSettings,
)
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe, with_values
from sealwright.solids.soundness import soundness_of

NOT_NAMED = ("bad-solid", "boolean-failed", "not-converged")
_FACE = (35.0, -50.0, 85.0)  # half width, lowest and highest middle in the front view, mm
_MOST_ENTRY_MM = 0.05
_OUT_MM = 200.0

Case = tuple[Recipe, DrawnLines | TriMesh]


@dataclass(frozen=True)
class Tried:
    """What became of a case: "sound", "unsound", or the code of a refusal; and what is to be read of it."""

    what: str
    told: str

    @property
    def good(self) -> bool:
        """Sound, or refused with a cause that the maker can see."""
        return self.what != "unsound" and self.what not in NOT_NAMED


class Skin:
    """The scanned skin of a wearer from the front, for places on it."""

    def __init__(self, prepared: Prepared) -> None:
        skin = prepared.skin
        self._mesh = trimesh.Trimesh(skin.vertices, skin.faces, process=False)

    def under(self, front: Floats) -> Floats:
        """Skin points (k, 3) behind places (x, z) of the front view; those without skin are left out."""
        starts = np.column_stack([front[:, 0], np.full(len(front), -_OUT_MM), front[:, 1]])
        ways = np.tile([0.0, 1.0, 0.0], (len(front), 1))
        hits, rays, _ = self._mesh.ray.intersects_location(starts, ways, multiple_hits=False)
        return np.asarray(hits[np.argsort(rays)])


def random_shell(seed: int, skin: Skin) -> Case:
    """A shell over a random line: any size and place, some toothed, crossed, thick or with holes in them."""
    rng = np.random.default_rng(seed)
    middle = np.array([rng.uniform(-_FACE[0], _FACE[0]), rng.uniform(_FACE[1], _FACE[2])])
    radius = float(np.exp(rng.uniform(np.log(6.0), np.log(45.0))))
    line = skin.under(middle + _ring(rng, radius, rng.uniform(0.0, float(rng.choice([0.1, 0.1, 0.5])))))
    if rng.random() < 0.08 and len(line) > 6:  # points out of order
        one, two = rng.choice(len(line), 2, replace=False)
        line[[one, two]] = line[[two, one]]
    holes = []
    for _ in range(max(int(rng.integers(-4, 3)), 0)):
        off = middle + rng.normal(0.0, 0.25 * radius, 2)
        holes.append(skin.under(off + _ring(rng, radius * rng.uniform(0.1, 0.35), 0.1)))
    thickness = float(rng.uniform(0.8, 4.0))
    rolls = thickness + 0.3 if rng.random() < 0.9 else 0.0  # a smaller radius is refused
    settings = ShellSettings(
        thickness_mm=thickness,
        stand_off_mm=float(rng.choice([0.0, 0.0, 1.0, 4.0])),
        smoothing_mm=float(rng.uniform(0.0, 4.0)),
        line=str(rng.choice(["smooth", "smooth", "smooth", "straight"])),
        edge=EdgeSettings(float(max(rolls + rng.exponential(1.5), 1.5)), float(rng.uniform(0.0, 80.0))),
        holes=(HoleSettings(at=str(rng.choice(["eyes", "nostrils", "mouth"]))),)
        if rng.random() < 0.2
        else (),
        slots=(SlotSettings(),) if rng.random() < 0.2 else (),
    )
    fittings = tuple(
        _fitting(rng, line[int(rng.integers(len(line)))]) for _ in range(int(rng.integers(0, 3)))
    )
    recipe = replace(Recipe(), kind="shell", shell=settings, fittings=fittings if len(line) else ())
    return recipe, DrawnLines(line, tuple(holes))


def random_model(seed: int, skin: Skin) -> Case:
    """A random closed mesh at the face with random fittings: primitives united, or a lump with noise."""
    rng = np.random.default_rng(seed)
    spot = np.zeros((0, 3))
    while not len(spot):
        spot = skin.under(np.array([[rng.uniform(-_FACE[0], _FACE[0]), rng.uniform(_FACE[1], _FACE[2])]]))
    made = _lump(rng) if rng.random() < 0.5 else _primitives(rng)
    made.apply_translation(spot[0] + [0.0, rng.uniform(-25.0, 8.0), 0.0])
    places = np.asarray(made.sample(60, seed=int(rng.integers(2**31))))
    places = places[np.argsort(places[:, 1])][:20]  # towards the eye
    chosen = rng.permutation(places)[: max(int(rng.integers(-1, 4)), 0)]
    fittings = tuple(_fitting(rng, place) for place in chosen)
    trim = TrimSettings(band=bool(rng.random() < 0.6), fillet_mm=float(rng.uniform(0.0, 8.0)))
    recipe = with_values(Recipe(), {"cushion.kind": "none", "band.width_mm": float(rng.uniform(8.0, 18.0))})
    recipe = replace(recipe, kind="trim", trim=trim, fittings=fittings)
    return recipe, trimesh_of(made.vertices, made.faces, "model")


def _ring(rng: np.random.Generator, radius: float, uneven: float) -> Floats:
    """A random closed line (k, 2) round the origin."""
    count = int(rng.integers(6, 60))
    turn = 2.0 * np.pi * np.arange(count) / count
    grown = np.ones(count)
    for wave in range(1, 6):
        grown += uneven * rng.normal(0.0, 1.0 / wave) * np.cos(wave * turn + rng.uniform(0.0, 2.0 * np.pi))
    stretch = rng.uniform(0.6, 1.6)
    away = radius * np.maximum(grown, 0.1)
    return np.column_stack([away * np.cos(turn) * stretch, away * np.sin(turn) / stretch])


def _lump(rng: np.random.Generator) -> trimesh.Trimesh:
    """A ball with smooth noise, stretched and turned."""
    made = trimesh.creation.icosphere(subdivisions=4, radius=1.0)
    noise = np.zeros(len(made.vertices))
    for _ in range(12):
        noise += rng.normal(0.0, 0.06) * np.cos(
            rng.normal(0.0, 4.0, 3) @ made.vertices.T + rng.uniform(0.0, 6.3)
        )
    made.vertices *= np.maximum(1.0 + noise, 0.4)[:, None] * rng.uniform(15.0, 45.0, 3)
    made.apply_transform(trimesh.transformations.random_rotation_matrix(rng.random(3)))
    return made


def _primitives(rng: np.random.Generator) -> trimesh.Trimesh:
    """One to four boxes, rods, balls and rings, united; they may fall apart."""
    makers: list[Callable[[], Any]] = [
        lambda: trimesh.creation.box(rng.uniform(15.0, 70.0, 3)),
        lambda: trimesh.creation.cylinder(rng.uniform(8.0, 35.0), rng.uniform(15.0, 80.0), sections=48),
        lambda: trimesh.creation.icosphere(subdivisions=3, radius=rng.uniform(12.0, 40.0)),
        lambda: trimesh.creation.torus(rng.uniform(18.0, 40.0), rng.uniform(4.0, 12.0)),
    ]
    found = []
    for _ in range(int(rng.integers(1, 5))):
        made = makers[int(rng.integers(len(makers)))]()
        made.apply_transform(trimesh.transformations.random_rotation_matrix(rng.random(3)))
        made.apply_translation(rng.normal(0.0, 12.0, 3))
        found.append(made)
    return trimesh.boolean.union(found, engine="manifold") if len(found) > 1 else found[0]


def _fitting(rng: np.random.Generator, place: Floats) -> FittingSettings:
    """A port or a lug of a random kind and aim."""
    x, y, z = (float(round(c, 2)) for c in place)
    kind = str(rng.choice(["plain", "plain", "cone", "printed", "valve", "rd40"]))
    port = PortSettings(kind=kind)
    if kind in ("plain", "cone"):
        port = PortSettings(kind=kind, bore_mm=float(rng.uniform(8.0, 14.0)), length_mm=10.0)
    aim = None if rng.random() < 0.8 else float(rng.uniform(-60.0, 60.0))
    return FittingSettings(
        kind="lug" if rng.random() < 0.5 else "port",
        x_mm=x,
        y_mm=y,
        z_mm=z,
        turn_deg=aim,
        roll_deg=float(rng.uniform(-180.0, 180.0)),
        carries=None if rng.random() < 0.3 else "nothing",
        connection=port,
        lug=LugSizes(strap_width_mm=float(rng.choice([8.0, 12.0, 20.0]))),
    )


def tried(prepared: Prepared, case: Case) -> Tried:
    """Make a case, and look at every part and at its entry into the skin."""
    recipe, given = case
    try:
        if isinstance(given, TriMesh):
            made = run_to_end(trim_design(prepared, recipe, given))
        else:
            back = np.linalg.inv(prepared.scan_to_design)
            lines = [line @ back[:3, :3].T + back[:3, 3] for line in (given.outline, *given.holes)]
            made = run_to_end(shell_design(prepared, recipe, DrawnLines(lines[0], tuple(lines[1:]))))
    except DesignError as refusal:
        given_bad = (
            refusal.code == "bad-solid" and refusal.where.role == "model"
        )  # what was given is no solid
        return Tried("no-solid-given" if given_bad else refusal.code, refusal.paragraph())
    return _looked_at(prepared, made)


def _looked_at(prepared: Prepared, made: Design) -> Tried:
    """Whether a design is what it must be."""
    faults = []
    for name, solid in made.parts.items():
        found = soundness_of(solid.mesh, name)
        faults += [f"{name}: {fault}" for fault in found.problems]
        if found.pieces != 1 or found.crossings:
            faults.append(f"{name}: {found.pieces} pieces, {found.crossings} crossings")
    entry = 0.0 if made.entry is None else made.entry.deepest_mm
    bound = _MOST_ENTRY_MM + prepared.face.smoothing.bound_mm
    if entry > bound:
        faults.append(f"enters the skin by {entry:.2f} mm, {bound:.2f} mm are allowed")
    fittings = 0 if made.own is None else len(made.own.fittings)
    return Tried("unsound" if faults else "sound", "; ".join(faults) or f"{fittings} fittings")
