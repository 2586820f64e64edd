"""Ways up for the body beside each other: what each costs in print, and how near the port then comes.

The chosen way has its numbers from its print plan. The others are rated on the same body by its faces alone,
turned as they would print. Where their wall may be another (within the overhang limit, or free of it on
ribs), a sketch tells where the port would stand and what hangs on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..designing.contact_face import contact_face_of
from ..designing.design import Design
from ..designing.sketch import sketch
from ..designing.way_up import body_up, way_of
from ..errors import DesignError
from ..facepiece.contact_band import grid_normals
from ..mesh import Floats, TriMesh
from ..physics.statics import hanging_of
from ..printing.orientation import turning_up
from ..printing.plan import PrintPlan, minutes_of
from ..printing.printer import PORT_DOWN, WAYS_UP, PrinterSettings
from ..printing.ribs import clear_mm
from ..printing.staircase import cusp_mm, slope_of
from ..printing.supports import overhang_area
from .hanging import hanging, shell_hung

_ON_BED_MM = 0.05


@dataclass(frozen=True, kw_only=True)
class WayUp:
    """One way up of the body.

    Attributes
    ----------
    way, chosen : its key, and whether the recipe prints it so.
    up : direction in the face frame that points up.
    exact : from the print plan; else rated by faces alone.
    refused : why the body cannot be made so; then there are no numbers of the wall.
    height_mm, layers, overhang_mm2, bed_mm2, time_min, ribs_g : of the print; ribs estimated if not exact.
    supports : "none", "ribs", or "needed" where ribs do not do.
    cusp_median_mm, cusp_p95_mm : steps of the hard contact face.
    scarred_share : share of that face that ribs stand under.
    port_front_mm, chamber_ml, moment_nmm : where the port stands, the chamber's air, moment about the bridge.
    """

    way: str
    chosen: bool
    up: tuple[float, float, float]
    exact: bool
    refused: str
    height_mm: float
    layers: int
    overhang_mm2: float
    bed_mm2: float
    time_min: float
    ribs_g: float
    supports: str
    cusp_median_mm: float
    cusp_p95_mm: float
    scarred_share: float
    port_front_mm: float | None
    chamber_ml: float | None
    moment_nmm: float | None


@dataclass(frozen=True)
class _Hangs:
    """What the wall decides: where the port stands, the chamber's air, the moment about the bridge.

    Of a sketch also the frame of its port, and points (n, 3) of its outline.
    """

    front_mm: float | None = None
    chamber_ml: float | None = None
    moment_nmm: float | None = None
    refused: str = ""
    port: Floats | None = None
    points: Floats | None = None


def ways_up(design: Design, plans: Mapping[str, PrintPlan]) -> tuple[WayUp, ...]:
    """All ways up of a finished body, in the order of the recipe's choice; none without a planned body."""
    plan = plans.get("body")
    if plan is None or design.shape is None or design.band is None or design.own is not None:
        return ()
    chosen = way_of(design.recipe)
    own = _Hangs(design.shape.facts.port_front_mm, design.chamber_ml, hanging(design).moment_nmm)
    other = _other_wall(design, chosen)
    rows = []
    for way in WAYS_UP:
        same = (way == PORT_DOWN) == (chosen == PORT_DOWN) or design.recipe.chamber.overhang == "free"
        row = _rated(design, plan, way, own if same else other)
        rows.append(_as_planned(row, plan) if way == chosen else row)
    return tuple(rows)


def _other_wall(design: Design, chosen: str) -> _Hangs:
    """What a sketch says whose wall keeps the overhang limit where the design's does not, or is free."""
    recipe = design.recipe
    way = "band_down" if chosen == PORT_DOWN else PORT_DOWN
    if recipe.chamber.overhang == "free":
        return _Hangs()
    other = replace(recipe, printer=replace(recipe.printer, way_up=way))
    points = None if design.seal_line is None else design.seal_line.control.tolist()
    try:
        drawn = sketch(design.prepared, other, points, surface=design.surface, form=design.form)
    except DesignError as refusal:
        return _Hangs(refused=refusal.what)
    if drawn.shape is None or drawn.shell is None:
        return _Hangs()
    # What hangs on the port moves with it; of the body the sketched shells differ.
    move = drawn.ports[0].frame @ np.linalg.inv(design.ports[0].frame)
    material = recipe.allowance.material
    parts = [
        part if part.name == "body" else replace(part, centre_mm=move[:3, :3] @ part.centre_mm + move[:3, 3])
        for part in hanging(design).parts
    ]
    parts.append(shell_hung(drawn.shell, material))
    if design.shell is not None:
        own = shell_hung(design.shell, material)
        parts.append(replace(own, mass_g=-own.mass_g))
    moment = hanging_of(parts, design.prepared.landmarks["sellion"]).moment_nmm
    facts = drawn.shape.facts
    return _Hangs(
        facts.port_front_mm, drawn.chamber_ml, moment, port=drawn.ports[0].frame, points=_outline(drawn)
    )


def _outline(drawn: Design) -> Floats:
    """Points (n, 3) of a sketch's shell and of the front of its port."""
    assert drawn.shell is not None
    placed = drawn.ports[0]
    turn = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    radius, length = placed.parts.boss_radius_mm, placed.parts.length_mm
    ring = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.full_like(turn, length)], axis=1)
    front = ring @ placed.frame[:3, :3].T + placed.frame[:3, 3]
    sides = (drawn.shell.outer_side.reshape(-1, 3), drawn.shell.face_side.reshape(-1, 3))
    return np.concatenate([*sides, front])


def _rated(design: Design, plan: PrintPlan, way: str, hangs: _Hangs) -> WayUp:
    """A way up by the faces of the body."""
    printer, band = design.recipe.printer, design.band
    assert band is not None
    up = body_up(way, design.ports[0].frame, band)
    turn = turning_up(up)
    mesh = design.parts["body"].mesh.moved(turn)
    over = overhang_area(mesh, printer.overhang_deg)
    ribs = 0.0 if way == PORT_DOWN else _ribs_mm3(mesh, printer)
    height = float(mesh.extents[2])
    if hangs.port is not None and hangs.points is not None:
        height = float(np.ptp(hangs.points @ body_up(way, hangs.port, band)))
    layers = int(np.ceil(height / printer.layer_mm - 1e-6))
    time = minutes_of(plan.volume_mm3 + ribs, layers, printer.layer_mm, printer) + printer.warm_up_min
    steps, scarred = _face(design, up)
    x, y, z = (float(c) for c in up)
    return WayUp(
        way=way,
        chosen=way == way_of(design.recipe),
        up=(x, y, z),
        exact=False,
        refused=hangs.refused,
        height_mm=height,
        layers=layers,
        overhang_mm2=over,
        bed_mm2=_bed_mm2(mesh),
        time_min=time,
        ribs_g=ribs * plan.mass_g_mm3,
        supports="none" if way == PORT_DOWN else "ribs",
        cusp_median_mm=float(np.median(steps)),
        cusp_p95_mm=float(np.percentile(steps, 95)),
        scarred_share=0.0 if way == PORT_DOWN else scarred,
        port_front_mm=hangs.front_mm,
        chamber_ml=hangs.chamber_ml,
        moment_nmm=hangs.moment_nmm,
    )


def _as_planned(row: WayUp, plan: PrintPlan) -> WayUp:
    """The same with the numbers of its print plan."""
    return replace(
        row,
        exact=True,
        height_mm=plan.size_mm[2],
        layers=plan.layers,
        overhang_mm2=plan.overhang_mm2,
        time_min=plan.time_min,
        ribs_g=plan.ribs_mass_g,
        supports="needed" if not plan.support_free else "none" if plan.ribs is None else "ribs",
    )


def _face(design: Design, up: Floats) -> tuple[Floats, float]:
    """Steps (n,) on the contact face of the hard band for a way up, and the share that hangs over."""
    printer, band = design.recipe.printer, design.band
    face = contact_face_of(design)
    if face is not None and face.part == "body":
        normals = face.normals.reshape(-1, 3)
    else:
        assert band is not None
        normals = -grid_normals(band.grid[:, band.contact]).reshape(-1, 3)
    hangs = normals @ up < -np.sin(np.radians(printer.overhang_deg))
    return cusp_mm(slope_of(normals, up), printer.layer_mm), float(hangs.mean())


def _bed_mm2(mesh: TriMesh) -> float:
    """Area that lies on the bed of a part turned as it prints."""
    low = mesh.corners[:, :, 2].max(axis=1) < mesh.bounds[0, 2] + _ON_BED_MM
    return float(mesh.face_areas[low].sum())


def _ribs_mm3(mesh: TriMesh, printer: PrinterSettings) -> float:
    """Volume of ribs down to the bed under all that hangs over: two lines in each cell of the crate."""
    steep = mesh.face_normals[:, 2] < -np.sin(np.radians(printer.overhang_deg))
    high = mesh.corners[:, :, 2].mean(axis=1) - mesh.bounds[0, 2]
    under = float((mesh.face_areas * -mesh.face_normals[:, 2] * high)[steep].sum())
    return float(under * 2.0 * printer.line_mm / (clear_mm(printer) + printer.line_mm))
