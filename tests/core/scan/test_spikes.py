"""Spikes are pulled back, and what only looks like one is not."""

from __future__ import annotations

import numpy as np
import pytest
from sealwright.mesh import trimesh_of
from sealwright.scan.repair.clean import clean
from trials.faces import SENSORS, face_scan
from trials.shapes import changes, sheet


def test_spikes_are_pulled_back() -> None:
    mesh = sheet()
    v = mesh.vertices.copy()
    spots = [500, 700, 900]
    v[spots] += np.array([[0, 0, 4.0], [0.3, 0, -2.5], [0, 0, 1.6]])
    cleaned, report = clean(trimesh_of(v, mesh.faces))
    assert changes(report) == {"spikes": 3}
    assert report.largest_spike_mm == pytest.approx(4.0, abs=0.1)
    # 0.05 mm: the wave of the sheet within one edge length.
    assert cleaned.vertices[spots] == pytest.approx(mesh.vertices[spots], abs=0.05)
    others = np.delete(np.arange(len(v)), spots)
    assert (cleaned.vertices[others] == v[others]).all()


def test_bumps_and_borders_are_no_spikes() -> None:
    mesh = sheet()
    v = mesh.vertices.copy()
    off = np.linalg.norm(v[:, :2] - [40, 30], axis=1)
    v[:, 2] += 8.0 * np.exp(-0.5 * (off / 4.0) ** 2)  # a wart 8 mm high
    v[0] += [0, 0, 3.0]  # a ragged corner
    cleaned, report = clean(trimesh_of(v, mesh.faces))
    assert changes(report) == {}
    assert (cleaned.vertices == v).all()


def test_what_slid_out_of_its_ring_is_pulled_back() -> None:
    """It folds the surface however little it stands up; the sheet itself is the truth."""
    mesh = sheet()
    v = mesh.vertices.copy()
    v[500] += [9.0, 4.0, 0.3]  # edges are 2 mm: four squares away
    v[900] += [1.2, 0.6, 0.0]  # still within the ring of its neighbours
    cleaned, report = clean(trimesh_of(v, mesh.faces))
    assert changes(report) == {"spikes": 1}
    # 0.05 mm: the wave of the sheet within one edge length.
    assert cleaned.vertices[500] == pytest.approx(mesh.vertices[500], abs=0.05)
    assert (cleaned.vertices[900] == v[900]).all()
    c = cleaned.corners
    assert (np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])[:, 2] > 0).all()  # seen from above none is turned


@pytest.mark.scans
@pytest.mark.parametrize("name", SENSORS)
def test_spikes_of_the_sensor_scans(name: str) -> None:
    """Their notes speak of sparse spikes; few vertices move, and those far."""
    mesh = face_scan(name)
    _, report = clean(mesh)
    assert 5 <= report.spikes <= 40
    assert 2.0 < report.largest_spike_mm < 6.0
    assert report.turned_faces == report.fin_faces == report.duplicate_faces == 0
