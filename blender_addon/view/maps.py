# SPDX-License-Identifier: GPL-3.0-or-later
"""Measurements as coloured surfaces: gap to the skin, wall thickness, overhang; each with its legend."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .commit import Part
from .legend import MapLegend

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ..core.designing.design import Design
    from ..core.jobs.make import Made

    Floats = NDArray[np.float64]


LIFT_MM = 0.6  # over the skin; the scan and the resampled skin differ by less


def map_parts(made: Design) -> list[Part]:
    """The maps of a finished design, as parts with values and colours (empty for a plain tube)."""
    if made.fit is None or made.wall is None or made.shell is None:
        return []
    wanted = made.recipe.chamber.wall_mm
    gap = MapLegend("gap", "Gap to the skin", "mm", -0.1, 0.1, 0.05, "in contact up to 0.05 mm")
    wall = MapLegend(
        "wall",
        "Wall thickness",
        "mm",
        0.7 * wanted,
        1.3 * wanted,
        0.8 * wanted,
        f"at least {0.8 * wanted:.2f} mm",
    )
    rows = int(made.shell.wall.sum())
    limit = made.recipe.printer.overhang_deg
    over = MapLegend(
        "overhang", "Overhang in the print", "deg", 0.0, 90.0, limit, f"supports above {limit:.0f} deg"
    )
    body = next(iter(made.parts.values())).mesh
    return [
        *offset_map(made),
        *staircase_map(made),
        _grid_part(gap, lifted(made, made.fit.places), made.fit.gap),
        _grid_part(wall, made.wall.places.reshape(-1, rows, 3), made.wall.thickness.reshape(-1, rows)),
        Part(
            "map:overhang",
            over.title,
            body.vertices,
            body.faces,
            overhang_of(body.vertex_normals, made.print_up[made.main]),
            over,
        ),
    ]


def offset_map(made: Design) -> list[Part]:
    """The offsets of a shaped contact surface; none for an even one."""
    if made.fit is None or made.band is None or made.band.stand_off.is_even:
        return []
    most = made.recipe.contact_surface.most_mm
    text = f"even at 0, away from the skin above, at most {most:g} mm"
    legend = MapLegend("offset", "Offset of the contact surface", "mm", -most, most, 0.0, text)
    chart = made.prepared.face.chart
    values = made.band.stand_off.shaped_at(chart, chart.place_of(made.fit.places)[0])
    return [_grid_part(legend, lifted(made, made.fit.places), values)]


def staircase_map(made: Design) -> list[Part]:
    """The steps of the layers on the contact face; none where no way up is known."""
    from ..core.designing.contact_face import contact_face_of
    from ..core.limits import limit

    face = contact_face_of(made)
    if face is None or made.fit is None:
        return []
    most = limit("contact_cusp").value
    text = "covered by the foam strip" if face.covered else f"at most {most:g} mm where skin touches"
    legend = MapLegend("staircase", "Steps of the layers", "mm", 0.0, face.layer_mm, most, text)
    return [_grid_part(legend, lifted(made, made.fit.places), face.cusp_mm)]


def pressure_map(made: Made) -> list[Part]:
    """The predicted pressure on the skin, when the mask finds hold."""
    from ..core.physics.contact_result import CAPILLARY_KPA

    found = made.examined.prediction
    if found is None or found.contact is None or made.design.fit is None:
        return []
    limit = CAPILLARY_KPA
    text = f"blood flow in the skin is hindered above {limit:.2f} kPa (32 mmHg)"
    legend = MapLegend("pressure", "Predicted pressure on the skin", "kPa", 0.0, 2.0 * limit, limit, text)
    # the physics counts rows from the inner side, the check from the outer
    values = np.asarray(found.contact.pressure_kpa).reshape(made.design.fit.gap.shape)[:, ::-1]
    return [_grid_part(legend, lifted(made.design, made.design.fit.places), values)]


def lifted(made: Design, places: Floats) -> Floats:
    """Skin points (n, k, 3) lifted off the skin, so that the scan does not hide them."""
    face = made.prepared.face
    return places + LIFT_MM * face.normal_at(face.chart.place_of(places)[0])


def overhang_of(normals: Floats, up: Floats) -> Floats:
    """Degrees (n,) that a surface leans out from the vertical: 0 for walls and what faces up, 90 at most."""
    return np.degrees(np.arcsin(np.clip(-normals @ up, 0.0, 1.0)))


def _grid_part(legend: MapLegend, places: Floats, values: Floats) -> Part:
    """A grid (n, k, 3) closed round its first axis, values (n, k), as quads seen from outside the face."""
    count, rows = values.shape
    index = np.arange(count * rows).reshape(count, rows)
    after = np.roll(index, -1, axis=0)
    quads = np.stack([index[:, :-1], index[:, 1:], after[:, 1:], after[:, :-1]], axis=-1).reshape(-1, 4)
    return Part(f"map:{legend.key}", legend.title, places.reshape(-1, 3), quads, values.ravel(), legend)
