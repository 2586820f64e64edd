"""What the printer can do, and what printing costs: settings with units, ranges and defaults."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, degrees, floor, radians, tan

from ..settings import count, optional_choice, optional_quantity, quantity

PORT_DOWN = "port_down"
WAYS_UP = {
    PORT_DOWN: "port down",
    "tilted": "tilted for low steps, on ribs",
    "band_down": "band down, on ribs",
}
"""Ways up of the body and their names for people."""

LIMITS_DEG = (30.0, 70.0)  # overhang that a body can be designed for


@dataclass(frozen=True)
class PrinterSettings:
    """A common desktop printer that lays down molten strands; defaults are common practice."""

    way_up: str | None = optional_choice(
        WAYS_UP,
        "How the body stands in the print. Port down its wall keeps the overhang limit and needs no "
        "supports. On ribs, which print with it and break away, the wall is free of the limit and the port "
        "comes nearer; tilted lays the steps of the layers lowest on the contact face. Automatic: port down.",
    )
    nozzle_mm: float = quantity(0.4, "mm", 0.1, 1.2, "Bore of the nozzle.")
    layer_mm: float = quantity(0.2, "mm", 0.05, 0.8, "Height of a layer.")
    first_layer_mm: float = quantity(
        0.2, "mm", 0.05, 0.8, "Height of the first layer in the slicer; material changes count from it."
    )
    line_mm: float = quantity(0.45, "mm", 0.1, 1.6, "Width of a printed line.")
    bed_x_mm: float = quantity(220.0, "mm", 50.0, 1000.0, "Usable width of the bed.")
    bed_y_mm: float = quantity(220.0, "mm", 50.0, 1000.0, "Usable depth of the bed.")
    bed_z_mm: float = quantity(250.0, "mm", 50.0, 1000.0, "Usable height.")
    overhang_limit_deg: float | None = optional_quantity(
        "deg",
        30.0,
        70.0,
        45.0,
        "Steepest overhang that prints without supports, from the vertical, as a test print showed it: the "
        "body is designed for it and every print judged by it. Automatic: from layer, line and overlap.",
    )
    overlap_percent: float = quantity(
        25.0,
        "%",
        10.0,
        80.0,
        "Share of a line's width that must lie on the line below, where the overhang limit is automatic.",
    )
    bridge_mm: float = quantity(5.0, "mm", 0.0, 60.0, "Longest bridge that comes out clean.")
    bridge_limit_mm: float = quantity(
        20.0, "mm", 0.0, 100.0, "Longest bridge that holds at all, with cooling."
    )
    ledge_mm: float = quantity(
        0.4,
        "mm",
        0.0,
        2.0,
        "How far a layer may reach over the one below, held on one side only, before its outer line falls.",
    )
    wall_speed_mm_s: float = quantity(40.0, "mm/s", 5.0, 500.0, "Mean speed while laying lines.")
    flow_limit_mm3_s: float = quantity(8.0, "mm3/s", 0.5, 60.0, "Most plastic the hot end melts.")
    layer_change_s: float = quantity(3.0, "s", 0.0, 60.0, "Time lost at each change of layer.")
    travel_percent: float = quantity(
        15.0, "%", 0.0, 200.0, "Moves without printing, as share of printing time."
    )
    warm_up_min: float = quantity(5.0, "min", 0.0, 60.0, "Heating up and levelling.")
    price_per_kg: float = quantity(25.0, "money/kg", 0.0, 1000.0, "Price of the material, in your money.")
    power_w: float = quantity(120.0, "W", 0.0, 3000.0, "Mean electric power while printing.")
    price_per_kwh: float = quantity(0.3, "money/kWh", 0.0, 5.0, "Price of electricity, in your money.")
    flare_mm: float = quantity(0.2, "mm", 0.0, 0.6, "Flare of the first layer on each side.")
    candidates: int = count(240, 20, 2000, "Directions tried in the search for the best way up.")

    @property
    def overhang_deg(self) -> float:
        """The overhang limit: as measured, or the whole degrees at which a line still overlaps enough.

        A wall that leans by the angle a moves layer x tan(a) a layer; of its line the share 1 - layer x
        tan(a) / line lies on the one below.
        """
        if self.overhang_limit_deg is not None:
            return self.overhang_limit_deg
        moves = (1.0 - 0.01 * self.overlap_percent) * self.line_mm / self.layer_mm
        low, high = LIMITS_DEG
        return float(min(max(floor(degrees(atan(moves))), low), high))

    @property
    def reach_mm(self) -> float:
        """How far a layer may reach beyond the one below at the overhang limit, mm."""
        return self.layer_mm * tan(radians(self.overhang_deg))
