"""The picture of the ways up: one standing body for each, ribs under the one that is made so."""

from __future__ import annotations

import numpy as np
from sealwright.predict.ways import WayUp
from sealwright.printing.plan import plan_print
from sealwright.printing.printer import WAYS_UP, PrinterSettings
from sealwright.printing.ribs import on_ribs
from sealwright.report.print_pictures import ways_picture
from sealwright.solids.boolean import union
from sealwright.solids.primitives import cuboid

UPS = {"port_down": (0.0, 0.0, -1.0), "tilted": (0.0, 1.0, 0.0), "band_down": (0.0, 0.0, 1.0)}


def row(way: str, chosen: bool) -> WayUp:
    return WayUp(
        way=way, chosen=chosen, up=UPS[way], exact=chosen, refused="", height_mm=24.0, layers=120,
        overhang_mm2=0.0, bed_mm2=0.0, time_min=1.0, ribs_g=0.0, supports="none", cusp_median_mm=0.1,
        cusp_p95_mm=0.1, scarred_share=0.0, port_front_mm=None, chamber_ml=None, moment_nmm=None,
    )  # fmt: skip


def test_each_way_stands_in_its_own_picture() -> None:
    plate = cuboid((-30.0, -20.0, 20.0), (30.0, 20.0, 24.0), "plate")
    part = union("table", plate, cuboid((-5.0, -5.0, 0.0), (5.0, 5.0, 21.0), "column"))
    printer = PrinterSettings()
    bare = plan_print(part, "petg", printer, np.array([0.0, 0.0, 1.0]))
    borne = on_ribs(bare, printer)
    rows = [row(way, way == "band_down") for way in WAYS_UP]
    plain, ribbed = (ways_picture(plan, rows, printer.overhang_deg) for plan in (bare, borne))
    assert plain.shape == ribbed.shape == (480, 3 * 480, 3)
    changed = (plain != ribbed).any(axis=2)
    # The chosen way is the third; the others show no ribs.
    assert changed[:, 960:].mean() > 0.05 and not changed[:, :960].any()
