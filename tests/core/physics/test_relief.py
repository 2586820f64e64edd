"""Grooves of the layers: from the slopes of the printed face, and what covers or levels them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sealwright.physics.breathing import AirwaySettings
from sealwright.physics.contact_result import ContactSettings
from sealwright.physics.ensemble import Ensemble, WornCase
from sealwright.physics.filter_case import FilterCase
from sealwright.physics.foundation import FoundationSettings, GasketSettings
from sealwright.physics.relief import Surface, grooves_of

from .bands import exact, face_like, flat, yoke

FILTER = FilterCase((1000.0, 500.0, 2500.0), 75.0, (0.05, 0.01, 0.2), 10.0, AirwaySettings(port_loss=0.0))
UP = np.array([0.0, 0.0, 1.0])


def leaning(degrees: float, count: int) -> np.ndarray:
    return np.tile([np.sin(np.radians(degrees)), 0.0, np.cos(np.radians(degrees))], (count, 1))


@pytest.mark.parametrize("degrees", [20.0, 45.0, 70.0])
def test_grooves_have_the_slope_of_the_printed_face(degrees: float) -> None:
    patch = flat(20, 4, 60, 12)
    count = len(patch.points)
    along = np.tile([0.0, 1.0, 0.0], (count, 1))
    found = grooves_of(patch, along, Surface(0.2, 0.0, UP, leaning(degrees, count)))
    assert found is not None
    # Dolenc and Makela 1994: step h cos; along the slope they lie h / sin apart.
    assert 2.0 * found.amplitude_mm == pytest.approx(0.2 * np.cos(np.radians(degrees)), rel=1e-9)
    assert found.distance_mm == pytest.approx(0.2 / np.sin(np.radians(degrees)), rel=1e-9)
    # Contour lines of a face that leans over x run along y, as the seal line: no air crosses along them.
    assert found.across == pytest.approx(0.0, abs=1e-12)
    uphill = np.cross(leaning(degrees, count), along)
    turned = grooves_of(patch, uphill, Surface(0.2, 0.0, UP, leaning(degrees, count)))
    assert turned is not None and turned.across == pytest.approx(1.0, rel=1e-9)


def test_without_normals_the_skin_s_are_taken() -> None:
    patch = face_like()
    along = np.roll(patch.points, -1, axis=0) - patch.points
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    one, two = (grooves_of(patch, along, Surface(0.2, 0.0, UP, n)) for n in (None, patch.normals))
    assert one is not None and two is not None
    assert np.array_equal(one.amplitude_mm, two.amplitude_mm) and np.array_equal(one.across, two.across)


def leak(surface: Surface, thickness_mm: float) -> float:
    patch = face_like()
    soft = GasketSettings(thickness_mm, 500.0, 0.4) if thickness_mm else GasketSettings()
    contact = ContactSettings(foundation=FoundationSettings(gasket=soft))
    case = WornCase(patch, tuple(yoke()), FILTER, surface=surface)
    worn = Ensemble(case, contact, exact(staircase=True, samples=4)).worn(states="seal")
    return float(worn.station_leak_l_min.sum())


def test_a_strip_covers_the_steps_and_a_liner_has_its_own() -> None:
    printed = Surface(0.2)
    smooth = Surface()
    assert leak(printed, 0.0) > 1.02 * leak(smooth, 0.0)
    assert leak(printed, 3.0) == pytest.approx(leak(smooth, 3.0), rel=1e-12)
    own = leak(replace(printed, on_cushion=True), 3.0)
    assert own > 1.01 * leak(smooth, 3.0)
    assert leak(replace(printed, on_cushion=True, coating_mm=0.2), 3.0) < own
