"""Recipes that take every choice, and random ones; what becomes of each: sound, or a named refusal."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from sealwright.checks.assembly import AssemblyCheck
from sealwright.designing.assembly import assembly_of, require_assembled
from sealwright.designing.design import Design, make_design
from sealwright.designing.prepared import Prepared
from sealwright.errors import DesignError
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.recipe.file import recipe_from_json
from sealwright.settings.fields import decided
from sealwright.solids.boolean import Solid
from sealwright.solids.crossings import crossing_pairs
from sealwright.stage_cache import StageCache

from .places import ROOT

HARDWARE = ("ports", "exhalation", "holder", "straps", "cushion", "allowance")
NOT_NAMED = ("bad-solid", "boolean-failed", "not-converged")


def shipped_recipes() -> list[Path]:
    """The recipes that come with the extension."""
    return sorted((ROOT / "blender_addon" / "recipes").glob("*.json"))


def every_choice() -> Iterator[tuple[str, Recipe]]:
    """The default recipe with one choice taken otherwise, ports of 0 to 3, and the presets."""
    yield from _choices(Recipe(), "")
    yield "0 ports", replace(Recipe(), ports=())
    cone = _with(Recipe(), ("ports", "connection", "kind"), "cone")
    valve = _with(Recipe(), ("ports", "connection", "kind"), "valve")
    soft = _with(Recipe(), ("ports", "connection", "seal"), "soft_ring")
    yield "cone 15", _with(cone, ("ports", "connection", "cone_size"), "15")
    yield "cone socket", _with(cone, ("ports", "connection", "cone_gender"), "female")
    yield "valve port without cover", _with(valve, ("ports", "connection", "valve", "cover"), False)
    yield "soft ring of silicone", _with(soft, ("ports", "connection", "soft_material"), "silicone40a")
    pad = _with(Recipe(), ("holder", "shape"), "pad")
    for retainer in ("none", "screw"):
        yield f"pad, retainer {retainer}", _with(pad, ("holder", "retainer"), retainer)
    glued = _with(Recipe(), ("holder", "edge_seal"), "glued")
    for retainer in ("none", "screw"):
        yield f"glued, retainer {retainer}", _with(glued, ("holder", "retainer"), retainer)
    free = _with(Recipe(), ("chamber", "overhang"), "free")
    for place in ("chin", "left", "right"):
        yield f"overhang free, valve {place}", _with(free, ("exhalation", "place"), place)
    for count in (0, 2, 6, 8):
        yield f"{count} lugs", _with(Recipe(), ("straps", "lug", "count"), count)
    for count in (2, 3):
        first = Recipe().ports[0]
        sides = [replace(first, turn_deg=turn, tilt_deg=10.0) for turn in (60.0, -60.0)]
        yield f"{count} ports", replace(Recipe(), ports=(first, *sides[: count - 1]))
    for path in shipped_recipes():
        yield path.stem, recipe_from_json(path.read_text(encoding="utf-8"))


def _choices(section: Any, path: str) -> Iterator[tuple[str, Any]]:
    """Every copy of a section with another value of one choice or switch of its hardware."""
    for field in decided(section):
        name, kind, value = field.name, field.metadata["kind"], getattr(section, field.name)
        key = f"{path}{name}"
        if not path and name not in HARDWARE:
            continue
        if kind in ("choice", "switch"):
            others = field.metadata["options"] if kind == "choice" else (not value,)
            for other in others:
                if other != value:
                    yield f"{key}={other}", replace(section, **{name: other})
        elif kind == "section":
            for told, changed in _choices(value, f"{key}."):
                yield told, replace(section, **{name: changed})
        elif kind == "sections":
            for told, changed in _choices(value[0], f"{key}[0]."):
                yield told, replace(section, **{name: (changed, *value[1:])})


def random_recipe(seed: int) -> Recipe:
    """A recipe with a few hardware values drawn from their stated ranges."""
    rng = np.random.default_rng(seed)
    leaves = [leaf for name in HARDWARE for leaf in _leaves(getattr(Recipe(), name), (name,))]
    recipe: Any = Recipe()
    for number in rng.choice(len(leaves), size=int(rng.integers(2, 7)), replace=False):
        way, field = leaves[int(number)]
        recipe = _with(recipe, way, _drawn(field.metadata, rng))
    return recipe  # type: ignore[no-any-return]


def _leaves(section: Any, way: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    if isinstance(section, tuple):
        yield from _leaves(section[0], way)
        return
    for field in decided(section):
        kind = field.metadata["kind"]
        if kind == "section":
            yield from _leaves(getattr(section, field.name), (*way, field.name))
        elif kind in ("number", "integer", "choice", "switch"):
            yield (*way, field.name), field


def _drawn(meta: Any, rng: np.random.Generator) -> Any:
    if meta["kind"] == "number":
        return round(float(rng.uniform(meta["low"], meta["high"])), 2)
    if meta["kind"] == "integer":
        return int(rng.integers(meta["low"], meta["high"] + 1))
    return bool(rng.integers(2)) if meta["kind"] == "switch" else str(rng.choice(meta["options"]))


def _with(section: Any, way: tuple[str, ...], value: Any) -> Any:
    if isinstance(section, tuple):
        return (_with(section[0], way, value), *section[1:])
    inner = value if len(way) == 1 else _with(getattr(section, way[0]), way[1:], value)
    return replace(section, **{way[0]: inner})


@dataclass(frozen=True)
class Outcome:
    """What became of a recipe.

    Attributes
    ----------
    result : the word "sound", the code of a refusal, or what is wrong with the assembly.
    why : what the refusal says and what would fit; "" without one.
    named : a sound assembly, or a refusal that names its cause and what would fit.
    """

    result: str
    why: str = ""
    named: bool = True


def outcome(prepared: Prepared, recipe: Recipe, cache: StageCache | None = None) -> Outcome:
    """Make a design and look at all of it."""
    try:
        design = run_to_end(make_design(prepared, recipe, cache=cache))
        assembly = assembly_of(design)
        require_assembled(assembly)  # as every job does before it writes
    except DesignError as refusal:
        named = refusal.code not in NOT_NAMED and bool(
            refusal.fix and (refusal.where.key or refusal.where.point)
        )
        return Outcome(refusal.code, f"{refusal.what} [{refusal.where.key}] {refusal.fix}", named)
    found = faults(design, assembly)
    return Outcome(found or "sound", named=not found)


@lru_cache(maxsize=8)
def _crossings(solid: Solid) -> int:
    """How many pairs of triangles cross; the body of many recipes is one."""
    return len(crossing_pairs(solid.mesh))


def faults(design: Design, assembly: AssemblyCheck) -> str:
    """What is wrong with a design: triangles of a part that cross, parts that do not go together; else ""."""
    for name, solid in design.parts.items():
        pairs = _crossings(solid)
        if pairs:
            return f"{name} crosses itself in {pairs} places"
    for mate in assembly.faulty:
        found = mate.facts
        return f"{found.part} and {found.other}: {found.fault}"
    return ""


def told(name: str, found: Outcome) -> str:
    """One line of a log."""
    return json.dumps({"case": name, "outcome": found.result} | ({"why": found.why} if found.why else {}))
