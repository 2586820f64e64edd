"""A plain offset along vertex normals folds on real faces; the body does not."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree
from sealwright.facepiece.shell import shell_mesh, side_mesh

from .cases import Case, case_of
from .oracles import crossings, crossings_by_meshlab

OFFSET_MM = 3.0
NAMES = ("face-m36",)  # head-mean's line runs clear of the creases beside the nose


@pytest.fixture(scope="module", params=NAMES)
def preview(request, tmp_path_factory) -> Case:
    return case_of(request.param, tmp_path_factory.mktemp("scan"), quality="preview")


def plain_offset(case: Case) -> trimesh.Trimesh:
    """The scan's own triangles within the band, moved 3 mm along the scan's vertex normals."""
    rows = case.design.band.grid[:, case.design.band.contact].reshape(-1, 3)
    scan = case.scan
    near = cKDTree(rows).query(scan.triangles_center)[0] < 2.5
    moved = scan.vertices + OFFSET_MM * scan.vertex_normals
    return trimesh.Trimesh(moved, scan.faces[near], process=False)


def test_plain_offset_of_the_band_folds_into_itself(preview: Case) -> None:
    naive = plain_offset(preview)
    assert crossings_by_meshlab(naive) > 0
    assert crossings(naive) > 0


def test_our_band_and_wall_do_not(preview: Case) -> None:
    shell = preview.design.shell
    for side in (shell.face_side, shell.outer_side):
        assert crossings_by_meshlab(side_mesh(side)) == 0
        assert crossings(side_mesh(side)) == 0
    assert crossings(shell_mesh(shell)) == 0


def test_oracle_finds_what_was_put_in(preview: Case) -> None:
    """The check can fail: a corner of our shell pulled through the other side is found by both libraries."""
    whole = shell_mesh(preview.design.shell)
    moved = np.array(whole.vertices)
    moved[300] = moved[300] - 12.0 * whole.vertex_normals[300]
    pulled = trimesh.Trimesh(moved, whole.faces, process=False)
    assert crossings_by_meshlab(pulled) > 0
    assert crossings(pulled) > 0
