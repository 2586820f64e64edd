"""The main job on every scan, each prepared and designed once: contact, entry, wall and parts.

All in one file, so that parallel test runs do not build the same masks twice.
"""

from __future__ import annotations

import pytest

from .contact import (
    test_body_touches_the_scan_across_the_whole_band,
    test_body_touches_the_scan_along_the_whole_seal_line,
    test_contact_is_as_wide_as_asked,
    test_report_says_what_another_library_measures,
    test_seal_line_lies_on_the_scan,
)
from .doors import test_every_door_says_the_same, test_the_panel_after_a_build_shows_the_cheap_ones
from .entry import test_no_part_enters_the_scanned_face, test_nose_and_lips_keep_the_clearance
from .parts import (
    test_every_part_is_one_watertight_outward_manifold,
    test_holes_through_the_body_are_the_port_and_the_lug_slots,
    test_lugs_do_not_stand_in_each_other_s_way,
    test_no_part_crosses_itself,
)
from .wall import (
    test_report_says_what_the_solid_is,
    test_wall_is_as_thick_as_asked,
    test_wall_is_nowhere_under_80_percent,
)

pytestmark = pytest.mark.heavy

__all__ = [
    "test_body_touches_the_scan_across_the_whole_band",
    "test_body_touches_the_scan_along_the_whole_seal_line",
    "test_contact_is_as_wide_as_asked",
    "test_every_door_says_the_same",
    "test_every_part_is_one_watertight_outward_manifold",
    "test_holes_through_the_body_are_the_port_and_the_lug_slots",
    "test_lugs_do_not_stand_in_each_other_s_way",
    "test_no_part_crosses_itself",
    "test_no_part_enters_the_scanned_face",
    "test_nose_and_lips_keep_the_clearance",
    "test_report_says_what_another_library_measures",
    "test_report_says_what_the_solid_is",
    "test_seal_line_lies_on_the_scan",
    "test_the_panel_after_a_build_shows_the_cheap_ones",
    "test_wall_is_as_thick_as_asked",
    "test_wall_is_nowhere_under_80_percent",
]
