"""The print plan of one part: way up, layers, places to look after, mass, time, cost, allowances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..hardware.allowance import AllowanceSettings, material_row
from ..mesh import Floats, TriMesh
from ..solids.boolean import Solid, solid_of
from ..tables import MaterialRow
from .allowances import Allowances, allowances_of, print_copy
from .layer_ranges import LayerAdvice
from .orientation import Orientation, best_orientations, turning_up
from .printer import PrinterSettings
from .slices import on_bed, slices_of
from .supports import Unsupported, overhang_area, unsupported_regions
from .touchup import TouchUp, touch_ups
from .walls import ThinWall, thinnest_wall


@dataclass(frozen=True, eq=False)
class PrintPlan:
    """Everything about printing one part; numbers are of the print copy.

    Attributes
    ----------
    role, material : the part and the key of its material.
    mesh : the print copy in the part's own frame, allowances applied.
    orientation : 4x4 that turns it as it prints.
    placement : 4x4 from its own frame to the middle of the bed.
    up : direction of the part that points up.
    allowances : what was applied.
    layers, layer_mm : number and height.
    layer_mm3 : (layers,) volume of each.
    size_mm : along the bed's axes.
    fits_bed : whether it fits, turned about the vertical by ``turn_on_bed_deg``.
    volume_mm3, sliced_mm3, slice_error_percent : of the solid, of the slices, their difference.
    mass_g, time_min, cost_money : estimates; see ``assumptions``.
    overhang_mm2 : faces past the overhang limit that are not on the bed.
    found : unsupported regions, bed coordinates.
    wall : the thinnest wall.
    touch_up : what to do by hand, in the part's own frame.
    support_free : nothing needs a support.
    assumptions : what the estimates stand on.
    smooth : layers by height that keep the steps of a contact face low; None of parts without one.
    ribs, ribs_mass_g : what prints with it and breaks away, in the part's own frame; in mass and time above.
    """

    role: str
    material: str
    mesh: TriMesh
    orientation: Floats
    placement: Floats
    up: tuple[float, float, float]
    allowances: Allowances
    layers: int
    layer_mm: float
    layer_mm3: Floats
    size_mm: tuple[float, float, float]
    fits_bed: bool
    turn_on_bed_deg: float
    volume_mm3: float
    sliced_mm3: float
    slice_error_percent: float
    mass_g: float
    time_min: float
    cost_money: float
    overhang_mm2: float
    found: tuple[Unsupported, ...]
    wall: ThinWall
    touch_up: tuple[TouchUp, ...]
    support_free: bool
    assumptions: tuple[str, ...]
    smooth: LayerAdvice | None = None
    ribs: TriMesh | None = None
    ribs_mass_g: float = 0.0

    @property
    def mass_g_mm3(self) -> float:
        """Mass of a cubic millimetre of the material."""
        return (self.mass_g - self.ribs_mass_g) / self.volume_mm3

    def count(self, kind: str) -> int:
        """How many unsupported regions of a kind: "island", "bridge" or "ledge"."""
        return sum(u.kind == kind for u in self.found)

    def longest(self, kind: str) -> float:
        """Longest span of a kind, mm; 0 when there is none."""
        return max((u.span_mm for u in self.found if u.kind == kind), default=0.0)

    def heights_mm(self, points: Floats) -> Floats:
        """Heights (...) over the bed in the print file of points (..., 3) of the part as designed."""
        turn = self.orientation[:3, :3]
        copied = turn.T @ np.diag(self.allowances.scale) @ turn
        return np.asarray(points @ (self.placement[:3, :3] @ copied)[2] + self.placement[2, 3])


def plan_print(
    solid: Solid,
    material: str,
    printer: PrinterSettings,
    up: Floats | None = None,
    preferred: Sequence[Floats] = (),
    allowances: Allowances | None = None,
) -> PrintPlan:
    """Plan the print of a part.

    Parameters
    ----------
    solid : the part as designed.
    material : key of the materials table.
    up : (3,) direction that must point up; by default the best one is searched.
    preferred : directions to look at in the search in any case.
    allowances : what to apply; by default the usual ones of the material.

    Raises
    ------
    BadRecipe : the material is unknown.
    DoesNotFit : the coating is too thick for details, or the part is far too large.
    """
    row = material_row(material)
    chosen = best_orientations(solid, printer, preferred)[0] if up is None else _given(up)
    allowances = allowances or allowances_of(material, AllowanceSettings())
    mesh = print_copy(solid.mesh, chosen.matrix, allowances, solid.role)
    placed, placement = on_bed(solid_of(mesh, solid.role), chosen.matrix)
    layers = slices_of(placed, printer.layer_mm)
    found = unsupported_regions(layers, printer)
    layer_mm3, volume = np.array([layer.volume_mm3 for layer in layers]), placed.volume
    back, (turn, fits) = np.linalg.inv(placement).astype(np.float64), _on_this_bed(placed.mesh, printer)
    mass, minutes = volume * 1e-3 * row["density_g_cm3"]["value"], _minutes(volume, len(layers), printer)
    return PrintPlan(
        role=solid.role,
        material=material,
        mesh=mesh,
        orientation=chosen.matrix,
        placement=placement,
        up=_triple(chosen.up),
        allowances=allowances,
        layers=len(layers),
        layer_mm=printer.layer_mm,
        layer_mm3=layer_mm3,
        size_mm=_triple(placed.mesh.extents),
        fits_bed=fits,
        turn_on_bed_deg=turn,
        volume_mm3=volume,
        sliced_mm3=float(layer_mm3.sum()),
        slice_error_percent=100.0 * (float(layer_mm3.sum()) / volume - 1.0),
        mass_g=mass,
        time_min=minutes,
        cost_money=money_of(mass, minutes, printer),
        overhang_mm2=overhang_area(placed.mesh, printer.overhang_deg),
        found=tuple(found),
        wall=thinnest_wall(layers, printer),
        touch_up=tuple(touch_ups(found, printer, back, layers[0].area_mm2, lowest_of(placed.mesh))),
        support_free=not any(u.needs_support(printer) for u in found),
        assumptions=_assumptions(row, printer),
    )


def _triple(values: Floats) -> tuple[float, float, float]:
    x, y, z = values
    return (float(x), float(y), float(z))


def _given(up: Floats) -> Orientation:
    unit = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    return Orientation(unit, turning_up(unit), 0.0, 0.0, 0.0)


def lowest_of(mesh: TriMesh) -> tuple[float, float, float]:
    """A point of the part that touches the bed."""
    x, y, _ = mesh.vertices[mesh.vertices[:, 2].argmin()]
    return (float(x), float(y), 0.0)


def _on_this_bed(mesh: TriMesh, printer: PrinterSettings) -> tuple[float, bool]:
    """Smallest turn about the vertical, in degrees, at which the part fits the bed, and whether it does."""
    size_z = mesh.extents[2]
    for turn in np.arange(0.0, 180.0, 5.0):
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        x, y = np.ptp(mesh.vertices[:, :2] @ np.array([[c, s], [-s, c]]), axis=0)
        if x <= printer.bed_x_mm and y <= printer.bed_y_mm and size_z <= printer.bed_z_mm:
            return float(turn), True
    return 0.0, False


def minutes_of(volume_mm3: float, layers: int, layer_mm: float, printer: PrinterSettings) -> float:
    """Time to lay a volume down in layers: lines of constant cross-section, travel, layer changes."""
    flow = min(printer.wall_speed_mm_s * printer.line_mm * layer_mm, printer.flow_limit_mm3_s)
    laying = volume_mm3 / flow * (1.0 + printer.travel_percent / 100.0)
    return (laying + layers * printer.layer_change_s) / 60.0


def _minutes(volume_mm3: float, layers: int, printer: PrinterSettings) -> float:
    return minutes_of(volume_mm3, layers, printer.layer_mm, printer) + printer.warm_up_min


def money_of(mass_g: float, minutes: float, printer: PrinterSettings) -> float:
    """Material and electricity."""
    power = minutes / 60.0 * printer.power_w / 1000.0
    return mass_g / 1000.0 * printer.price_per_kg + power * printer.price_per_kwh


def _assumptions(row: MaterialRow, printer: PrinterSettings) -> tuple[str, ...]:
    density = row["density_g_cm3"]
    return (
        f"Solid inside (100 % infill), {density['value']} g/cm3 (confidence {density['confidence']}).",
        f"Lines {printer.line_mm:g} x {printer.layer_mm:g} mm at {printer.wall_speed_mm_s:g} mm/s, at most "
        f"{printer.flow_limit_mm3_s:g} mm3/s; travel {printer.travel_percent:g} %, "
        f"{printer.layer_change_s:g} s a layer, {printer.warm_up_min:g} min to warm up.",
        f"Material {printer.price_per_kg:g} and electricity {printer.price_per_kwh:g} per kWh at "
        f"{printer.power_w:g} W; no wear, no labour, no failed prints.",
        f"Heights snap to whole layers: level faces may end up to {0.5 * printer.layer_mm:g} mm high or low.",
        "Time and cost are estimates to about a third; the slicer's own figures are better.",
        f"Support-free means: nothing starts in the air, single ledges reach at most {printer.ledge_mm:g} mm "
        f"over the layer below, slopes keep to {printer.overhang_deg:g} degrees, bridges are at most "
        f"{printer.bridge_limit_mm:g} mm long (clean to {printer.bridge_mm:g}).",
    )
