"""Soft ring printed in place: layers by hand, places in the 3MF as another reader sees them, ways up."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import trimesh
from bare import bare_recipe
from sealwright.designing.fittings import hardware_parts, print_up, ring_port
from sealwright.errors import BadRecipe
from sealwright.export.threemf import threemf_bytes
from sealwright.facepiece.body import Placed
from sealwright.hardware.allowance import Allowance
from sealwright.hardware.holder import make_holder
from sealwright.hardware.options import HolderSettings, PortSettings
from sealwright.hardware.ports import make_port
from sealwright.jobs.print_job import print_parts
from sealwright.printing.allowances import Allowances
from sealwright.printing.in_place import InPlaceRing, in_place_ring, schedule_text
from sealwright.printing.plan import PrintPlan, plan_print
from sealwright.printing.printer import PrinterSettings
from sealwright.recipe import Recipe
from sealwright.solids.boolean import difference
from trimesh.transformations import rotation_matrix

ALLOWANCE = Allowance(clearance_mm=0.4)
SOFT = PortSettings(seal="soft_ring", soft_proud_mm=0.8)
PRINTER = PrinterSettings()
DOWN = np.array([0.0, 0.0, -1.0])
TRUE = Allowances((0.0,) * 3, (1.0,) * 3, 0.0, "none")


@cache
def plans(settings: PortSettings = SOFT, scale: float = 1.0) -> tuple[PrintPlan, PrintPlan]:
    """Plans of the ring and of a bare port that stands for the body, face down."""
    port = make_port(settings, ALLOWANCE)
    body, given = difference("body", port.boss, port.bore), replace(TRUE, scale=(scale,) * 3)
    return tuple(  # type: ignore[return-value]
        plan_print(solid, material, PRINTER, DOWN, allowances=given)
        for solid, material in ((port.extra[0], "tpu85a"), (body, "petg"))
    )


def ring_of(
    settings: PortSettings = SOFT,
    printer: PrinterSettings = PRINTER,
    axis: np.ndarray = -DOWN,
    scale: float = 1.0,
) -> InPlaceRing:
    soft = make_port(settings, ALLOWANCE).facts.soft
    return in_place_ring(("soft-ring", "body"), *plans(settings, scale), axis, soft, printer)


def test_layers_by_hand() -> None:
    # 0.8 mm stand out: layers 1 to 4 are soft. The root goes 2.35 mm deep (1.0 waist, 1.35 roof at 45 degrees
    # for a base of 3.0 and a ridge of 0.3), to 3.15 mm; the layer bottom nearest to it is 3.2, of layer 17.
    found = ring_of()
    assert [(c.layer, c.material) for c in found.changes] == [(1, "soft"), (5, "both"), (17, "rigid")]
    assert [c.z_mm for c in found.changes] == pytest.approx([0.0, 0.8, 3.2])
    assert (found.soft_material, found.rigid_material, found.level) == ("tpu85a", "petg", True)
    port = make_port(SOFT, ALLOWANCE)
    whole = port.length_mm + SOFT.overlap_mm + 0.8
    assert found.layers == round(whole / 0.2)


def test_thick_first_layer_and_other_layers_shift_the_numbers() -> None:
    # Bottoms 0, 0.3, 0.45, 0.6, 0.75, 0.9 ...: the face at 0.8 is nearest to 0.75, layer 5; the root's end at
    # 3.15 is the bottom of layer 21 (0.3 + 19 x 0.15 = 3.15).
    found = ring_of(printer=replace(PRINTER, layer_mm=0.15, first_layer_mm=0.3))
    assert [(c.layer, c.material) for c in found.changes] == [(1, "soft"), (5, "both"), (21, "rigid")]
    assert [c.z_mm for c in found.changes] == pytest.approx([0.0, 0.75, 3.15])


def test_flat_ring_has_soft_layers_only() -> None:
    found = ring_of(replace(SOFT, seal="flat"))
    assert [(c.layer, c.material) for c in found.changes] == [(1, "soft"), (5, "rigid")]


def test_heights_are_those_of_the_print_copy() -> None:
    # Larger by a tenth against shrinkage: the face at 0.88 mm (layer bottom 0.8), the root to 3.465 (3.4).
    found = ring_of(scale=1.1)
    assert [(c.layer, c.material) for c in found.changes] == [(1, "soft"), (5, "both"), (18, "rigid")]


def test_leaning_ring_shares_all_its_layers_and_says_so() -> None:
    soft = make_port(SOFT, ALLOWANCE).facts.soft
    ring, body = (
        replace(plan, mesh=plan.mesh.moved(rotation_matrix(np.radians(20.0), [1, 0, 0]))) for plan in plans()
    )
    axis = rotation_matrix(np.radians(20.0), [1, 0, 0])[:3, :3] @ -DOWN
    found = in_place_ring(("soft-ring-2", "body"), ring, body, axis, soft, PRINTER)
    assert not found.level
    assert [c.material for c in found.changes] == ["both", "rigid"]
    assert "two nozzles or tools" in schedule_text([found])


def test_ring_thinner_than_a_layer_is_refused() -> None:
    with pytest.raises(BadRecipe, match="no whole layer"):
        ring_of(
            printer=replace(PRINTER, layer_mm=0.8, first_layer_mm=0.8),
            settings=replace(SOFT, soft_proud_mm=0.3),
        )


def test_text_says_layers_heights_and_materials() -> None:
    words = schedule_text([ring_of()])
    assert "soft-ring in body" in words
    rows = [line.split() for line in words.splitlines() if line.strip()[:1].isdigit()]
    assert [(row[0], row[1]) for row in rows] == [("1", "0.00"), ("5", "0.80"), ("17", "3.20")]
    assert "PETG" in words and "TPU" in words


def test_ring_and_body_keep_their_places_in_the_3mf() -> None:
    """Read back by trimesh: the ring on the bed, the rigid face 0.8 mm above it, both about one axis."""
    ring, body = plans()
    package = threemf_bytes(print_parts({"body": body, "soft-ring": ring}, [ring_of()]))
    scene = trimesh.load(io.BytesIO(package), file_type="3mf")
    placed = {name: scene.geometry[key].copy().apply_transform(matrix)
              for name in scene.graph.nodes_geometry
              for matrix, key in [scene.graph[name]]}  # fmt: skip
    low = {key: mesh.bounds[0, 2] for key, mesh in placed.items()}
    (soft,) = [key for key in low if "soft-ring" in key]
    (hard,) = [key for key in low if "soft-ring" not in key]
    # 32-bit numbers in millimetres
    assert low[soft] == pytest.approx(0.0, abs=1e-4)
    assert low[hard] == pytest.approx(0.8, abs=1e-4)
    middles = [placed[key].bounds.mean(axis=0)[:2] for key in (soft, hard)]
    assert middles[0] == pytest.approx(middles[1], abs=1e-3)


@cache
def two_ports() -> tuple[tuple[Placed, ...], Recipe]:
    """A port forward with a soft ring and a valve to the side."""
    place = bare_recipe().ports[0]
    recipe = replace(
        bare_recipe(),
        ports=(
            replace(place, connection=SOFT),
            replace(place, connection=PortSettings(kind="valve")),
        ),
    )
    forward, side = rotation_matrix(np.pi / 2, [1, 0, 0]), rotation_matrix(np.pi / 2, [0, 1, 0])
    frames = (forward, side)
    ports = tuple(
        Placed(make_port(p.connection, ALLOWANCE), f) for p, f in zip(recipe.ports, frames, strict=True)
    )
    return ports, recipe


def test_every_part_prints_the_way_up_its_maker_says() -> None:
    ports, recipe = two_ports()
    holder = make_holder(HolderSettings(), SOFT, ALLOWANCE)
    up = print_up(ports, [holder, None])
    parts = hardware_parts(recipe, ports, [holder, None])
    assert set(up) == {"body", *parts}
    assert {"holder", "retainer", "soft-ring", "valve-seat", "valve-cover"} == set(parts)
    # Forward is -Y: what prints with its front down has +Y up; the cover's port looks to +X.
    for name in ("body", "soft-ring"):
        assert up[name] == pytest.approx([0, 1, 0], abs=1e-12)
    for name in ("holder", "retainer"):
        own = ports[0].frame[:3, :3] @ np.array(holder.print_up[name])
        assert up[name] == pytest.approx(own, abs=1e-12)
    assert up["valve-seat"] == pytest.approx([-1, 0, 0], abs=1e-12)
    assert up["valve-cover"] == pytest.approx([-1, 0, 0], abs=1e-12)


def test_parts_of_a_valve_and_a_ring_need_no_support_that_way_up() -> None:
    ports, recipe = two_ports()
    up, parts = print_up(ports, [None, None]), hardware_parts(recipe, ports, [None, None])
    for name in ("soft-ring", "valve-seat", "valve-cover"):
        plan = plan_print(parts[name], "petg", PRINTER, up[name])
        assert plan.support_free, name


def test_ring_is_known_by_its_port() -> None:
    ports, _ = two_ports()
    assert ring_port(ports, "soft-ring") == 0
    assert ring_port((*ports, ports[0]), "soft-ring-3") == 2
    assert ring_port(ports[:1], "soft-ring") == 0
    assert [ring_port(ports, name) for name in ("body", "valve-cover", "soft-ring-2")] == [None] * 3
