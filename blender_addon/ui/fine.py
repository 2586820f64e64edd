# SPDX-License-Identifier: GPL-3.0-or-later
"""Which values of the recipe only an expert changes: each section shows them closed, under Fine Values."""

from __future__ import annotations

FINE: dict[str, tuple[str, ...]] = {
    "seal_line": ("follow_size", "off_creases", "smoothing_mm"),
    "band": ("edge_radius_mm", "edge_roll_deg", "stand_off_mm"),
    "cushion": ("seating_percent", "modulus_kpa", "poisson"),
    "contact_surface": ("most_mm", "waves"),
    "chamber": ("fillet_mm", "leave_deg", "overhang"),
    "holder": (
        "land_mm",
        "squeeze_percent",
        "preload_mm",
        "glue_width_mm",
        "glue_depth_mm",
        "grid_mm",
        "bar_mm",
        "opening_mm",
        "plenum_mm",
        "plenum_rise_mm",
        "roof_mm",
        "wall_mm",
        "neck_mm",
    ),
    "lug": ("slot_play_mm", "bar_mm", "sink_mm", "pull_n"),
    "valve": ("seat_width_mm", "overlap_mm", "spokes", "spoke_mm", "button_mm", "dome_mm", "lift_mm"),
    "allowance": ("coating_room", "shrink_x_percent", "shrink_y_percent", "shrink_z_percent"),
    "connection": ("wall_mm", "overlap_mm", "segments"),
}
"""Section -> names; a value that stands nowhere here is shown at once."""
