# SPDX-License-Identifier: GPL-3.0-or-later
"""The menu with every step of the job, so that search (F3) finds them and keys can be given to them."""

from __future__ import annotations

import bpy

STEPS = (
    ("import_scan", "take_scan", "use_fitting_unit", "add_ruler", "use_ruler", "use_reference"),
    ("find_face", "three_clicks", "forget_clicks", "reset_landmarks"),
    (
        "lay_seal_line",
        "edit_seal_line",
        "draw_seal_line",
        "smooth_seal_line",
        "add_seal_point",
        "remove_seal_point",
    ),
    ("draw_outline", "edit_outline", "use_model", "take_cage", "use_cage", "cut_here"),
    ("preview_body", "build_parts", "add_port", "remove_port"),
    ("examine", "try_remedies", "search_designs", "use_design"),
    ("load_recipe", "save_recipe", "keep_preset", "export_parts", "share_scene"),
    ("show_place", "dismiss_problem"),
    ("add_wearer", "add_design", "remove_wearer"),
)
CHOICES = (
    ("set_landmark", "name"),
    ("mirror_seal_line", "keep"),
    ("outline_from", "source"),
    ("add_opening", "kind"),
    ("stand_fitting", "kind"),
    ("show_map", "kind"),
    ("apply_preset", "preset"),
    ("take_recipe", "wearer"),
)
PLACES = ("VIEW3D_MT_object", "VIEW3D_MT_edit_curve")  # the seal line is a curve, and edited as one


class SEALWRIGHT_MT_steps(bpy.types.Menu):
    """Every step of the job, in its order"""

    bl_idname = "SEALWRIGHT_MT_steps"
    bl_label = "Sealwright"

    def draw(self, context: bpy.types.Context) -> None:
        """The steps, then those that ask for a choice."""
        layout = self.layout
        assert layout is not None
        for group in STEPS:
            for name in group:
                layout.operator(f"sealwright.{name}")
            layout.separator()
        for name, choice in CHOICES:
            layout.operator_menu_enum(f"sealwright.{name}", choice)


def draw_menu(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """The menu's place in the 3D view, in Object and in the Curve of edit mode."""
    assert menu.layout is not None
    menu.layout.menu(SEALWRIGHT_MT_steps.bl_idname)


CLASSES = (SEALWRIGHT_MT_steps,)
