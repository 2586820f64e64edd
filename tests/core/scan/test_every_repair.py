"""Every repair of a scan: the test in which it fires, and the one in which it must not.

Where one test holds both, it is named twice. The table is data, so that a test that is renamed or dropped is
missed here.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
CLEAN, SPIKES, ORIENT, SCALE = (f"scan/test_{name}.py" for name in ("clean", "spikes", "orient", "scale"))
HOLES, DENOISE, SURFACE, SOLID = (
    f"face/test_{name}.py" for name in ("holes", "denoise", "surface", "face_solid")
)
READ, OTHER, RASTER, TRUST = (
    "scan/test_read.py",
    "scan/test_loose_pieces.py",
    "face/test_rasterise.py",
    "checks/test_trust.py",
)

REPAIRS = {
    "weld of equal vertices": (
        (CLEAN, "test_equal_vertices_are_merged"),
        (CLEAN, "test_clean_heads_come_back_as_they_are"),
    ),
    "weld along seams": (
        (CLEAN, "test_open_seam_is_closed_and_a_wider_gap_is_not"),
        (CLEAN, "test_fine_triangles_at_a_border_do_not_collapse"),
    ),
    "corners that are no numbers": (
        (READ, "test_few_corners_that_are_no_numbers_are_dropped_and_said"),
        (READ, "test_unused_points_that_are_no_numbers_do_no_harm"),
    ),
    "degenerate triangles": (
        (CLEAN, "test_degenerate_triangles_are_dropped_and_needles_stay"),
        (CLEAN, "test_degenerate_triangles_are_dropped_and_needles_stay"),
    ),
    "double triangles": (
        (CLEAN, "test_double_triangles_are_dropped"),
        (CLEAN, "test_second_layer_close_by_is_no_double"),
    ),
    "non-manifold edges": (
        (CLEAN, "test_fins_are_dropped_and_what_ends_nowhere_stays"),
        (CLEAN, "test_fins_are_dropped_and_what_ends_nowhere_stays"),
    ),
    "flipped patches": (
        (CLEAN, "test_turned_patches_are_turned_back"),
        (CLEAN, "test_clean_heads_come_back_as_they_are"),
    ),
    "islands": (
        (CLEAN, "test_islands_are_dropped_by_size_and_the_largest_never"),
        (CLEAN, "test_islands_are_dropped_by_size_and_the_largest_never"),
    ),
    "spikes": (
        (SPIKES, "test_spikes_are_pulled_back"),
        (SPIKES, "test_bumps_and_borders_are_no_spikes"),
    ),
    "other things before the face": (
        (OTHER, "test_a_ball_before_the_face_is_left_out_and_said"),
        (OTHER, "test_loose_pieces_of_the_skin_stay"),
    ),
    "self-overlap: the outermost layer": (
        (RASTER, "test_outermost_of_two_layers_is_taken"),
        (RASTER, "test_every_pixel_agrees_with_embree"),
    ),
    "self-overlap: said under the seal": (
        (TRUST, "test_double_skin_in_one_sector"),
        (TRUST, "test_clean_head_is_good_everywhere"),
    ),
    "hole filling": (
        (HOLES, "test_hole_in_a_sphere_is_filled_with_the_sphere"),
        (HOLES, "test_nothing_is_filled_where_nothing_is_missing"),
    ),
    "guessed skin marked": (
        (TRUST, "test_hole_in_one_sector"),
        (TRUST, "test_hole_beside_the_band_harms_nothing"),
    ),
    "smoothing with a bound": (
        (DENOISE, "test_smoothing_never_exceeds_its_bound"),
        (SURFACE, "test_scan_without_noise_is_not_smoothed"),
    ),
    "decimation with a bound": (
        (SOLID, "test_ridge_between_pixels_is_followed"),
        (SOLID, "test_only_rough_squares_are_split"),
    ),
    "unit guess": (
        (SCALE, "test_unit_is_guessed"),
        (SCALE, "test_unit_of_the_file_is_kept_unless_the_size_denies_it"),
    ),
    "inward winding": (
        (ORIENT, "test_inside_out_scan_is_seen_and_said"),
        (ORIENT, "test_moves_and_mirrors_with_the_scan"),
    ),
    "mirrored winding": (
        (ORIENT, "test_axes_mirrored_on_export_face_outward_again_and_are_said"),
        (ORIENT, "test_axes_mirrored_on_export_face_outward_again_and_are_said"),
    ),
    "thickened shells refused": (
        (CLEAN, "test_thickened_face_is_refused_and_a_closed_head_is_not"),
        (CLEAN, "test_thickened_face_is_refused_and_a_closed_head_is_not"),
    ),
}


@pytest.mark.parametrize("repair", REPAIRS)
def test_every_repair_has_its_two_tests(repair: str) -> None:
    for file, name in REPAIRS[repair]:
        tree = ast.parse((TESTS / file).read_text(encoding="utf-8"))
        assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, (
            f"{file}: {name}"
        )
