"""The picture of what a scan covers: shares by hand, and colours in the picture."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from sealwright.recipe import Recipe
from sealwright.report import coverage
from sealwright.report.coverage import coverage_pictures, coverage_shares

from . import samples


def test_whole_skin_is_measured_and_a_guessed_half_is_said() -> None:
    """All pixels left of the midline marked as guessed: half of the line, by symmetry."""
    whole = samples.prepared()
    assert coverage_shares(whole, Recipe()) == {"measured": 1.0, "guessed": 0.0, "missing": 0.0}
    left = whole.face.known & (whole.face.points[..., 0] > 0.0)
    half = replace(whole, face=replace(whole.face, guessed=left, measured=whole.face.known & ~left))
    shares = coverage_shares(half, Recipe())
    assert shares is not None
    assert shares["guessed"] == pytest.approx(0.5, abs=0.03)  # stations at the midline: 3 of 160
    assert shares["measured"] + shares["guessed"] == pytest.approx(1.0)


def test_guessed_skin_is_orange_in_the_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coverage, "SIZE", (160, 120))
    whole = samples.prepared()
    left = whole.face.known & (whole.face.points[..., 0] > 0.0)
    half = replace(whole, face=replace(whole.face, guessed=left, measured=whole.face.known & ~left))

    def orange(prepared: object) -> int:
        data = coverage_pictures(prepared, Recipe())["coverage-front.png"]
        red, green, blue = np.moveaxis(np.asarray(Image.open(io.BytesIO(data)), dtype=float), -1, 0)
        return int(((red > 1.25 * green) & (green > 1.5 * blue)).sum())

    assert orange(whole) == 0
    assert orange(half) > 500
