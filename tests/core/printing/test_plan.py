"""The print plan: allowances, mass, time, cost, bed, touch-up list, against arithmetic and tables."""

from __future__ import annotations

import json
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
import trimesh
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.hardware.allowance import AllowanceSettings
from sealwright.printing.allowances import allowances_of, print_copy
from sealwright.printing.orientation import turning_up
from sealwright.printing.plan import PrintPlan, plan_print
from sealwright.printing.printer import PrinterSettings
from sealwright.printing.supports import Unsupported
from sealwright.printing.touchup import touch_ups
from sealwright.settings import check_settings, settings_from, settings_to
from sealwright.solids.boolean import Solid

SLICE_TOLERANCE_PERCENT = 0.5  # slices and solid must agree this well, or the slices are not of this solid

M = manifold3d.Manifold
UP = np.array([0.0, 0.0, 1.0])
NO_SHRINK = AllowanceSettings(shrink_x_percent=0.0, shrink_y_percent=0.0, shrink_z_percent=0.0)
PLAIN = PrinterSettings()


def planned(part: Solid, material: str = "petg", printer: PrinterSettings = PLAIN, **given) -> PrintPlan:
    """The plan of a part that does not shrink."""
    return plan_print(part, material, printer, allowances=allowances_of(material, NO_SHRINK), **given)


@pytest.fixture(scope="module")
def bridge_plan() -> PrintPlan:
    # Two pillars 12 mm apart with a deck, printed lying on its side frame: up is +Y of the part.
    part = (
        M.cube((22, 8, 2)).translate((0, 0, 10))
        + M.cube((5, 8, 10))
        + M.cube((5, 8, 10)).translate((17, 0, 0))
    )
    return planned(Solid("bridge", part.rotate((-90, 0, 0))), "petg", PLAIN, up=np.array([0.0, 1.0, 0.0]))


def test_settings_are_within_their_own_ranges_and_survive_json() -> None:
    check_settings(PrinterSettings())
    data = json.loads(json.dumps(settings_to(PrinterSettings(layer_mm=0.16))))
    assert settings_from(PrinterSettings, data) == PrinterSettings(layer_mm=0.16)


@pytest.mark.parametrize(("percent", "scale"), [(0.8, 1.00806), (1.5, 1.01523), (0.0, 1.0)])
def test_scale_for_shrinkage(percent: float, scale: float) -> None:
    # Worked values of 1 / (1 - s), computed.
    made = allowances_of("petg", replace(NO_SHRINK, shrink_x_percent=percent))
    assert made.scale[0] == pytest.approx(scale, abs=1e-5) and made.scale[1:] == (1.0, 1.0)


def test_shrinkage_from_the_table_names_its_confidence() -> None:
    made = allowances_of("abs", AllowanceSettings())
    # ABS 0.7 to 0.8 % is a practice figure from memory; the table must say so.
    assert made.shrink_percent == (0.75, 0.75, 0.75) and "confidence M" in made.source
    with pytest.raises(BadRecipe, match="my own blend"):
        allowances_of("my own blend", AllowanceSettings())


def test_shrinkage_of_the_recipe_replaces_that_of_the_table() -> None:
    # 0.8 % shrink: factor 1.00806 (docs/standards, check values 7, C).
    own = AllowanceSettings(shrink_x_percent=0.8, shrink_y_percent=0.8, shrink_z_percent=0.8)
    made = allowances_of("petg", own)
    assert made.scale == pytest.approx((1.00806,) * 3, abs=1e-5)
    assert made.source == "the maker's own measurement"
    # Axes that were not measured keep the table's value, and the source says so.
    mixed = allowances_of("petg", AllowanceSettings(shrink_x_percent=0.5))
    assert mixed.shrink_percent == (0.5, 0.3, 0.3)
    assert "along X" in mixed.source
    assert "table" in mixed.source


def test_scales_run_along_the_axes_of_the_bed() -> None:
    mesh = Solid("block", M.cube((10, 20, 30))).mesh
    settings = replace(NO_SHRINK, shrink_z_percent=2.0)
    turn = turning_up(np.array([1.0, 0.0, 0.0]))  # the part's X stands up
    copy = print_copy(mesh, turn, allowances_of("petg", settings), "block")
    assert np.allclose(copy.extents, [10 / 0.98, 20, 30], atol=1e-12)
    on_bed = copy.moved(turn)
    assert on_bed.extents[2] == pytest.approx(10 / 0.98)


def test_coating_takes_its_thickness_off_every_face() -> None:
    block = Solid("block", M.cube((20, 20, 20)) - M.cylinder(60, 5, 5, 128).translate((10, 10, -10)))
    made = allowances_of("petg", replace(NO_SHRINK, coating_mm=0.1, coating_room="everywhere"))
    copy = print_copy(block.mesh, np.eye(4), made, "block")
    # Plane faces move exactly but for the small pull that keeps vertices in place: 1e-4 of the step.
    assert np.allclose(copy.extents, 19.8, atol=2e-4)
    on_bore = np.hypot(*(copy.vertices[:, :2] - 10).T) < 6
    assert np.allclose(np.hypot(*(copy.vertices[on_bore, :2] - 10).T), 5.1, atol=2e-3)
    assert trimesh.Trimesh(copy.vertices, copy.faces, process=False).is_watertight


def test_coating_of_a_ball() -> None:
    ball = Solid("ball", M.sphere(20, 96)).mesh
    made = allowances_of("petg", replace(NO_SHRINK, coating_mm=0.2, coating_room="everywhere"))
    radius = np.linalg.norm(print_copy(ball, np.eye(4), made, "ball").vertices, axis=1)
    assert np.allclose(radius, 19.8, atol=2e-3)


def test_coating_too_thick_for_details_is_refused() -> None:
    blade = Solid("blade", M.cube((20, 0.3, 20)))
    made = allowances_of("petg", AllowanceSettings(coating_mm=0.2, coating_room="everywhere"))
    with pytest.raises(DoesNotFit, match="coating"):
        print_copy(blade.mesh, np.eye(4), made, "blade")


@pytest.mark.parametrize(("material", "grams"), [("petg", 76.2), ("pp", 54.0)])
def test_mass_of_sixty_cubic_centimetres(material: str, grams: float) -> None:
    # Worked values: 60 cm3 at 1.27 and 0.90 g/cm3.
    plan = planned(Solid("block", M.cube((40, 50, 30))), material, PLAIN, up=UP)
    assert plan.mass_g == pytest.approx(grams, abs=1e-6)
    assert plan.volume_mm3 == pytest.approx(60_000)


def test_time_and_cost_by_hand() -> None:
    block = Solid("block", M.cube((20, 20, 10)))
    lines = {"line_mm": 0.5, "layer_mm": 0.2}
    speed = {"wall_speed_mm_s": 50, "flow_limit_mm3_s": 8, "travel_percent": 10, "layer_change_s": 2}
    money = {"warm_up_min": 4, "price_per_kg": 20, "power_w": 100, "price_per_kwh": 0.5}
    plan = planned(block, "petg", PrinterSettings(**lines, **speed, **money), up=UP)
    # 50 x 0.5 x 0.2 = 5 mm3/s; 4000 mm3 / 5 x 1.1 = 880 s; 50 layers x 2 s = 100 s; 980 s + 4 min.
    assert plan.time_min == pytest.approx(980 / 60 + 4)
    assert plan.cost_money == pytest.approx(4 * 1.27 / 1000 * 20 + plan.time_min / 60 * 0.1 * 0.5)
    hot = {"wall_speed_mm_s": 500, "flow_limit_mm3_s": 4, "travel_percent": 0, "layer_change_s": 0}
    slower = planned(block, "petg", PrinterSettings(**lines, **hot, warm_up_min=0), up=UP)
    assert slower.time_min == pytest.approx(1000 / 60)  # the hot end's 4 mm3/s is the limit


def test_slices_agree_with_the_solid() -> None:
    shell = M.sphere(30, 128) - M.sphere(28, 128)
    plan = plan_print(Solid("shell", shell.trim_by_plane((0, 0, 1), 0)), "petg", PrinterSettings(), up=UP)
    assert abs(plan.slice_error_percent) < SLICE_TOLERANCE_PERCENT
    # The print copy is larger by the shrinkage of PETG, 0.3 %, along each axis.
    assert plan.volume_mm3 == pytest.approx(plan_volume(shell) / 0.997**3, rel=1e-6)


def plan_volume(shell: manifold3d.Manifold) -> float:
    return float(shell.trim_by_plane((0, 0, 1), 0).volume())


def test_bridge_is_listed_with_its_place_in_the_part(bridge_plan: PrintPlan) -> None:
    assert bridge_plan.count("bridge") == 1 and bridge_plan.longest("bridge") == pytest.approx(12.0, abs=0.02)
    assert bridge_plan.support_free and bridge_plan.count("island") == 0
    bridge = next(t for t in bridge_plan.touch_up if t.kind == "bridge")
    # In the part's own frame height is +Y; the bridge hangs at y = 10 between x = 5 and 17.
    assert bridge.point_mm[1] == pytest.approx(10.0, abs=1e-6)
    assert 5 - 1e-6 <= bridge.point_mm[0] <= 17 + 1e-6
    assert "12.0 mm" in bridge.what and bridge.layer == 51
    assert any(
        t.kind == "flare" and t.point_mm[1] == pytest.approx(0.0, abs=1e-6) for t in bridge_plan.touch_up
    )


def test_long_part_is_turned_on_the_bed() -> None:
    bar = Solid("bar", M.cube((260, 10, 10)))
    plan = planned(bar, "petg", PLAIN, up=UP)
    # 260 cos(a) + 10 sin(a) <= 220 first holds at 35 degrees in steps of 5.
    assert plan.fits_bed and plan.turn_on_bed_deg == 35.0
    assert not planned(Solid("bar", M.cube((330, 10, 10))), "petg", PLAIN, up=UP).fits_bed


def test_search_is_used_without_a_given_way_up() -> None:
    mushroom = M.cylinder(20, 5, 5, 48) + M.cylinder(4, 15, 15, 48).translate((0, 0, 20))
    plan = plan_print(Solid("mushroom", mushroom), "petg", PrinterSettings())
    assert plan.up[2] == pytest.approx(-1.0, abs=1e-3) and plan.support_free
    assert plan.overhang_mm2 < 1.0


def test_unknown_material_is_refused() -> None:
    with pytest.raises(BadRecipe, match="no material"):
        plan_print(Solid("block", M.cube((5, 5, 5))), "unobtainium", PLAIN, up=UP)


def test_neighbouring_places_are_one_entry() -> None:
    ledges = [Unsupported("ledge", 40 + k, (1.0 * k, 0.0, 8.0), 0.5, 0.35 + 0.01 * k) for k in range(4)]
    island = Unsupported("island", 60, (30.0, 0.0, 12.0), 2.0, 0.0)
    listed = touch_ups([*ledges, island], PLAIN, np.eye(4), 0.0, (0.0, 0.0, 0.0))
    assert [(t.kind, t.layer) for t in listed] == [("ledge", 40), ("support", 60)]
    assert "0.38 mm" in listed[0].what and "layers 40 to 43" in listed[0].what
    assert "Starts in the air" in listed[1].what and listed[1].point_mm == (30.0, 0.0, 12.0)


def test_places_far_apart_stay_apart_and_small_ledges_are_left_out() -> None:
    islands = [Unsupported("island", 60 + k, (30.0 * k, 0.0, 12.0), 2.0, 0.0) for k in range(3)]
    small = Unsupported("ledge", 12, (0.0, 0.0, 2.4), 0.5, 0.26)
    clean = Unsupported("bridge", 30, (0.0, 0.0, 6.0), 0.5, 4.9)
    sagging = Unsupported("bridge", 31, (0.0, 0.0, 6.2), 0.5, 5.1)
    hanging = Unsupported("bridge", 33, (0.0, 0.0, 6.6), 0.5, 20.1)
    listed = touch_ups([*islands, small, clean, sagging, hanging], PLAIN, np.eye(4), 9.0, (1.0, 0.0, 0.0))
    assert [t.kind for t in listed] == ["flare", "bridge", "support", "support", "support", "support"]


def test_slices_agree_where_level_faces_lie_between_layers() -> None:
    plate = Solid("plate", M.cube((80, 80, 2.13)) + M.cube((20, 20, 5.37)))
    plan = planned(plate, "petg", PLAIN, up=UP)
    # Middle sections alone would be wrong by up to half a layer of the plate, 5 %.
    assert abs(plan.slice_error_percent) < 1e-6


def test_part_standing_on_a_point_is_planned_too() -> None:
    top = M.cylinder(10, 0, 8, 32)
    plan = planned(Solid("spinning top", top), "petg", PLAIN, up=UP)
    assert plan.layers == 50 and plan.touch_up[0].point_mm[2] == pytest.approx(0.0, abs=1e-9)
    assert abs(plan.slice_error_percent) < SLICE_TOLERANCE_PERCENT
