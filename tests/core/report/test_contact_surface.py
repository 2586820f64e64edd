"""The shaped contact surface in the report: what it says, and that it is on the page and among the maps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.designing.shaped_surface import ShapedSurface, SurfaceNumbers
from sealwright.report.fit_report import fit_report
from sealwright.report.keys import glossary_entry
from sealwright.report.model3d import model_of
from sealwright.report.page.expected import surface_block
from sealwright.report.sections.contact_surface import surface_section
from sealwright.verdicts.surface_words import told_of_surface

from . import samples

pytestmark = pytest.mark.heavy

EVEN = SurfaceNumbers(16.0, 14.0, 0.25, 8.9, 0.2, 0.49, 0.03, 0.08, 0.02, 1.15, 11.8)
BEST = SurfaceNumbers(15.0, 12.5, 0.3, 6.8, 0.2, 0.54, 0.03, 0.13, 0.02, 1.0, 12.4)


def kept() -> ShapedSurface:
    """Offsets that rise by 1 mm over the height of the chart."""
    side = samples.design().prepared.face.chart.side
    rising = np.linspace(-0.5, 0.5, side)
    return ShapedSurface("kept", np.repeat(rising[:, None], side, axis=1), 256, EVEN, BEST)


def test_offsets_by_sector_are_those_of_the_image() -> None:
    design = replace(samples.design(), surface=kept())
    section = surface_section(design)
    chart, line = design.prepared.face.chart, design.seal_line
    rows = chart.pixels_of(line.pq)[:, 0]
    at_line = rows / (chart.side - 1) - 0.5  # by hand: straight from -0.5 to 0.5
    by_name = {row["sector"]: row for row in section["sectors"]}
    assert len(by_name) == 10 and all(r["least_mm"] <= r["mean_mm"] <= r["most_mm"] for r in by_name.values())
    assert min(r["least_mm"] for r in by_name.values()) <= at_line.min() + 1e-6
    assert max(r["most_mm"] for r in by_name.values()) >= at_line.max() - 1e-6
    bridge, chin = by_name["nose bridge"]["mean_mm"], by_name["chin"]["mean_mm"]
    assert abs(bridge - chin) > 0.5 * np.ptp(at_line)
    # 1 mm over the side of the chart, on skin that may lean: at least as steep as the ray's arc.
    arc_mm = chart.side * design.prepared.face.pitch_mm
    assert 0.5 * 10.0 / arc_mm < section["steepest_mm_per_cm"] < 3.0 * 10.0 / arc_mm


def test_it_is_told_with_its_numbers() -> None:
    told = told_of_surface(kept())
    for number in (
        "256",
        "14.0 to 12.5",
        "8.9 to 6.8",
        "49 to 54",
        "8 to 13",
        "16.0 to 15.0",
        "11.8 to 12.4",
    ):
        assert number in told
    for outcome in ("nothing", "not_sure", "no_room"):
        assert "stays even" in told_of_surface(ShapedSurface(outcome, None, 256, EVEN, BEST))
    assert told_of_surface(ShapedSurface("no_hold", why="It slides.")).endswith("It slides.")


def test_the_bound_that_held_it_back_is_told() -> None:
    """With the numbers of the table of limits: 1.2 times the springs, 1.1 times the even surface."""
    bounds = {"layer_over_springs": "1.2 times", "layer_peak_over_even": "1.1 times"}
    for name, words in bounds.items():
        even = told_of_surface(ShapedSurface("layer", None, 256, EVEN, None, name))
        assert "stays even" in even and words in even
        half = told_of_surface(replace(kept(), held_back=name, part=0.5))
        assert "is shaped" in half and "Only 50 %" in half and words in half
    assert "Only" not in told_of_surface(replace(kept(), part=1.0))
    section = surface_section(replace(samples.design(), surface=replace(kept(), held_back="", part=1.0)))
    assert section["part"] == 1.0 and section["held_back"] is None


def test_report_page_and_maps_have_it() -> None:
    design = replace(samples.design(), surface=kept())
    report = fit_report(design, samples.examined())
    assert report["contact_surface"]["best"]["share_holding"] == 0.13
    assert glossary_entry("contact_surface.best.share_holding") is not None
    page = surface_block(report)
    assert 'data-key="contact_surface.best.layer_peak_kpa"' in page and "12.4" in page
    assert (
        "12.5" in page and "nose bridge" in page and 'data-key="contact_surface.even.worst_cm2_kpa"' in page
    )
    found = next(one for one in model_of(design).maps if one.key == "offset")
    assert found.values.shape == design.fit.gap.shape and np.abs(found.values).max() <= 0.5


def test_an_even_surface_that_was_not_asked_is_not_told() -> None:
    report = samples.report()
    assert report["contact_surface"] is None and surface_block(report) == ""
    assert all(one.key != "offset" for one in model_of(samples.design()).maps)
