"""Outputs by the cheapest stage that must see a change: recipe in, what the maker gets of it out."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any

import manifold3d
import numpy as np
import trimesh
from own_shapes.drawn import front_view
from predict.wearers import invented
from sealwright.designing.design import Design, make_design
from sealwright.designing.filter_air import filter_of
from sealwright.designing.own import shell_design, trim_design
from sealwright.designing.prepare import prepare
from sealwright.designing.sketch import sketch
from sealwright.designing.stages import carrying
from sealwright.export.threemf import About, threemf_bytes
from sealwright.facepiece.body import Placed
from sealwright.facepiece.seal_line_proposal import seal_line
from sealwright.hardware.allowance import allowance_of
from sealwright.hardware.holder import make_holder
from sealwright.hardware.lugs import make_lug
from sealwright.hardware.ports import make_port
from sealwright.jobs.print_job import plan_part, print_parts, rings_in_place
from sealwright.mesh import TriMesh
from sealwright.own_shapes.outline_file import DrawnLines
from sealwright.physics.shaped_offsets import Counts
from sealwright.predict.air import medium_source
from sealwright.predict.shaping import shaping_steps
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.recipe.decisions import holder_on, ports_of
from sealwright.report.sections.breathing import sizing_section
from sealwright.report.sections.prediction import prediction_section, printing_section
from sealwright.solids.boolean import Solid
from sealwright.stage_cache import StageCache
from to_the_end import predict

from demo_scenes.procedural_head import make_head
from demo_scenes.wearers import MARLO

_CACHE = StageCache()
_M = manifold3d.Manifold
_FEW = Counts(24, 64, 16)
_COARSE = 4000  # triangles of a head that is only read


def port(recipe: Recipe) -> Any:
    """The first port's solids and numbers."""
    made = make_port(ports_of(recipe)[0].connection, allowance_of(recipe.allowance))
    return made.boss, made.bore, made.extra, made.facts, made.seat_radius_mm


def carried(recipe: Recipe) -> Any:
    """What is screwed on the first port: a cap, or the solids of its holder."""
    allowance = allowance_of(recipe.allowance)
    held, made = holder_on(recipe, 0), carrying(recipe, 0, allowance)
    solids = () if held is None else make_holder(held, ports_of(recipe)[0].connection, allowance).solids
    return made.extra, solids


def valve(recipe: Recipe) -> Any:
    """Bore and cartridge of the exhalation valve."""
    valves = [placed.parts for placed in _sketched(recipe).ports[1:]]
    return [(made.bore, made.extra, made.facts) for made in valves]


def holder(recipe: Recipe) -> Any:
    """The holder's solids and numbers, and the filter that breathing is reckoned with."""
    made = make_holder(recipe.holder, recipe.ports[0].connection, allowance_of(recipe.allowance))
    return made.body, made.retainer, made.facts, [vars(m) for m in filter_of(recipe)], medium_source(recipe)


@lru_cache(maxsize=4)
def _sketched(recipe: Recipe) -> Design:
    return sketch(invented(), recipe, cache=_CACHE)


def line(recipe: Recipe) -> Any:
    """The seal line alone, under a band of the recipe's width."""
    face = invented()
    return seal_line(face.face, face.landmarks, recipe.seal_line, 192, recipe.band.inner_mm).points


def shape(recipe: Recipe) -> Any:
    """Line, shell, places of ports and lugs, and numbers, in preview density."""
    made = _sketched(recipe)
    shell, line = made.shell, made.seal_line
    places = [placed.frame for placed in made.ports], [point.frame for point in made.straps]
    return line.points, shell.face_side, shell.outer_side, shell.edge, places, made.chamber_ml


def surface(recipe: Recipe) -> Any:
    """The contact surface that few draws choose, and what they make of it."""
    made = _sketched(recipe)
    return made.band.grid, run_to_end(shaping_steps(made, _FEW)) if recipe.contact_surface.shaped else None


def lug(recipe: Recipe) -> Any:
    """Places, solids and numbers of the lugs."""
    made, allowance = _sketched(recipe), allowance_of(recipe.allowance)
    lugs = [make_lug(recipe.straps.lug, allowance, point.wall, 8) for point in made.straps[:1]]
    return [point.frame for point in made.straps], [(one.solid, one.facts) for one in lugs]


def predicted(recipe: Recipe) -> Any:
    """The report's prediction, with the fewest draws."""
    return prediction_section(predict(_sketched(recipe)))


def sizing(recipe: Recipe) -> Any:
    """The report's section on the face among others."""
    return sizing_section(invented(), recipe.prediction.sizing)


def tube(recipe: Recipe) -> Any:
    """The parts of a plain tube; the names of the parts of a preview of a body."""
    made = run_to_end(make_design(invented(), recipe, "preview", cache=_CACHE))
    return {name: solid if recipe.kind == "tube" else name for name, solid in made.parts.items()}


@cache
def _round_mouth() -> DrawnLines:
    """A small outline round the mouth of the invented wearer, with few points."""
    turn = 2.0 * np.pi * np.arange(16) / 16
    skin = invented().skin
    mesh = trimesh.Trimesh(skin.vertices, skin.faces, process=False)
    return DrawnLines(front_view(np.column_stack([22.0 * np.cos(turn), 20.0 * np.sin(turn) - 20.0]), mesh))


def own_shell(recipe: Recipe) -> Any:
    """The shell over an outline; the names of the parts of a preview of a body."""
    if recipe.kind != "shell":
        return tube(recipe)
    return run_to_end(shell_design(invented(), recipe, _round_mouth())).parts


def own_trim(recipe: Recipe) -> Any:
    """A rod trimmed to the cheek; the names of the parts of a preview of a body."""
    if recipe.kind != "trim":
        return tube(recipe)
    rod = _M.cylinder(60.0, 6.0, 6.0, 24, center=True).rotate((90.0, 0.0, 0.0)).translate((42.0, 5.0, 0.0))
    return run_to_end(trim_design(invented(), recipe, Solid("rod", rod).mesh)).parts


def own_fitted(recipe: Recipe) -> Any:
    """A rod with a round plate before the cheek, trimmed, with a port on the plate."""
    rod = _M.cylinder(60.0, 6.0, 6.0, 24, center=True).rotate((90.0, 0.0, 0.0)).translate((42.0, 5.0, 0.0))
    plate = _M.cylinder(6.0, 16.0, 16.0, 24).rotate((90.0, 0.0, 0.0)).translate((42.0, -19.0, 0.0))
    return run_to_end(trim_design(invented(), recipe, Solid("rod", rod + plate).mesh)).parts


def own_lug(recipe: Recipe) -> Any:
    """The lug of a fitting on an upright wall."""
    made = make_lug(recipe.fittings[0].lug, allowance_of(recipe.allowance), meridians=8)
    return made.solid, made.facts


@cache
def _head() -> TriMesh:
    """A noisy head with a hole in its cheek, in millimetres."""
    head = make_head(MARLO, _COARSE * 5).mesh
    noise = np.random.default_rng(7).normal(scale=0.12, size=head.vertices.shape)
    centre = head.corners.mean(axis=1)
    spot = centre[np.argmin(np.linalg.norm(centre - [55.0, 10.0, -10.0], axis=1))]
    kept = np.linalg.norm(centre - spot, axis=1) > 5.0
    return TriMesh(head.vertices + noise, head.faces[kept])


def scan(recipe: Recipe) -> Any:
    """The face surface that a scan gives."""
    made = run_to_end(prepare(_head(), recipe))
    return made.face.radii, made.face.known, made.landmarks, made.scan_to_design


def _trial(
    parts: dict[str, Solid], recipe: Recipe, up: dict[str, Any], ports: tuple[Placed, ...] = ()
) -> Any:
    """How parts print by a recipe: plans as the report tells them, print copies, and the 3MF file."""
    made = Design(
        recipe=recipe, prepared=invented(), parts=parts, seal_line=None, band=None, shell=None, ports=ports,
        straps=(), void=None, fit=None, wall=None, remarks=(), print_up=up,
    )  # fmt: skip
    plans: dict[str, Any] = {}
    for name in parts:
        plans[name] = plan_part(made, name, plans.get("body"))
    rings = rings_in_place(made, plans)
    file = threemf_bytes(print_parts(plans, rings), None, About(recipe.title))
    return printing_section(plans, rings), {name: plan.mesh for name, plan in plans.items()}, file


def _box(x: float, y: float, z: float, at: tuple[float, float, float]) -> manifold3d.Manifold:
    return _M.cube((x, y, z)).translate(at)


@cache
def _print_trial() -> Solid:
    """A part with a bridge, a ledge, a slope and a thin wall, larger than the smallest bed."""
    parts = [
        _box(70.0, 60.0, 4.0, (0, 0, 0)),
        _box(8.0, 10.0, 12.0, (0, 0, 4)),
        _box(8.0, 10.0, 12.0, (20, 0, 4)),
        _box(28.0, 10.0, 2.0, (0, 0, 16)),
        _box(10.0, 10.0, 10.0, (40, 0, 4)),
        _box(10.35, 10.0, 4.0, (40, 0, 14)),
        _box(1.9, 20.0, 20.0, (60, 20, 4)),
        _M.cylinder(12.0, 4.0, 4.0 + 12.0 * 1.1, 64).translate((25, 40, 4)),
        _box(6.0, 6.0, 56.0, (2, 50, 4)),
    ]
    return Solid("body", _M.batch_boolean(parts, manifold3d.OpType.Add))


def printed(recipe: Recipe) -> Any:
    """The print of a trial part standing as it is."""
    return _trial({"body": _print_trial()}, recipe, {"body": np.array([0.0, 0.0, 1.0])})


def oriented(recipe: Recipe) -> Any:
    """The print of a bent part whose way up is searched."""
    egg = _M.sphere(12.0, 32).scale((1.0, 0.7, 1.6)).rotate((21.0, 34.0, 10.0))
    return _trial({"body": Solid("body", egg)}, recipe, {})


def ring_print(recipe: Recipe) -> Any:
    """The print of a port with a soft ring printed in it."""
    made = make_port(ports_of(recipe)[0].connection, allowance_of(recipe.allowance))
    up = {"body": np.array(made.print_up)}
    parts = {"body": Solid("body", made.bored.native), "soft-ring": made.extra[0]}
    return _trial(parts, recipe, up, (Placed(made, np.eye(4)),))
