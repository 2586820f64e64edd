"""The picture of what a scan covers: shares by hand, and colours in the picture."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from bare import bare_recipe
from PIL import Image
from sealwright.report import coverage
from sealwright.report.coverage import coverage_pictures

from . import samples


def test_guessed_skin_is_orange_in_the_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coverage, "SIZE", (160, 120))
    whole = samples.prepared()
    left = whole.face.known & (whole.face.points[..., 0] > 0.0)
    half = replace(whole, face=replace(whole.face, guessed=left, measured=whole.face.known & ~left))

    def orange(prepared: object) -> int:
        data = coverage_pictures(prepared, bare_recipe())["coverage-front.png"]
        red, green, blue = np.moveaxis(np.asarray(Image.open(io.BytesIO(data)), dtype=float), -1, 0)
        return int(((red > 1.25 * green) & (green > 1.5 * blue)).sum())

    assert orange(whole) == 0
    assert orange(half) > 500
