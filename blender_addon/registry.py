# SPDX-License-Identifier: GPL-3.0-or-later
"""What Blender is told about when the extension is switched on, in order; off is the exact reverse."""

from __future__ import annotations

import bpy
from bpy.props import PointerProperty

from .jobs import folds, greeting, live, refresh
from .model import cache, props, rows, wearers
from .operators import (
    body,
    checks,
    choices,
    clicks,
    export,
    fittings,
    handles,
    landmarks,
    openings,
    own_shapes,
    problem,
    recipe,
    scale,
    scan,
    scan_files,
    seal_line,
    share,
    trust,
)
from .ui import choices as chooser
from .ui import handles as gizmos
from .ui import header, keys, languages, menu, panels, preferences, results, steps
from .view import choices as plot
from .view import line_marks, messages, overlay

FIXED: tuple[type, ...] = (
    messages.SEALWRIGHT_PG_problem,
    messages.SEALWRIGHT_PG_window,
    *folds.CLASSES,
    *rows.CLASSES,
    wearers.SEALWRIGHT_PG_wearer,
    wearers.SEALWRIGHT_PG_scene,
    *problem.CLASSES,
    *scan.CLASSES,
    *scale.CLASSES,
    *scan_files.CLASSES,
    *landmarks.CLASSES,
    *clicks.CLASSES,
    *seal_line.CLASSES,
    *trust.CLASSES,
    *body.CLASSES,
    *own_shapes.CLASSES,
    *openings.CLASSES,
    *fittings.CLASSES,
    *handles.CLASSES,
    *checks.CLASSES,
    *choices.CLASSES,
    *export.CLASSES,
    *share.CLASSES,
    *recipe.CLASSES,
    *menu.CLASSES,
    *header.CLASSES,
    *panels.CLASSES,
    *results.CLASSES,
    *steps.CLASSES,
    *gizmos.CLASSES,
    *chooser.CLASSES,
)
_recipe: list[type] = []
_preferences: list[type] = []


def register() -> None:
    """Register classes, properties, handlers and drawing."""
    _recipe[:] = props.recipe_classes(live.value_changed)
    _preferences[:] = [preferences.preferences_class()]
    for cls in (*_preferences, *_recipe, *FIXED):
        bpy.utils.register_class(cls)
    wearers.SEALWRIGHT_PG_wearer.recipe = PointerProperty(type=_recipe[-1])  # type: ignore[func-returns-value]
    bpy.types.Scene.sealwright = PointerProperty(type=wearers.SEALWRIGHT_PG_scene)  # type: ignore
    bpy.types.WindowManager.sealwright = PointerProperty(type=messages.SEALWRIGHT_PG_window)  # type: ignore
    bpy.types.WindowManager.sealwright_folds = PointerProperty(type=folds.SEALWRIGHT_PG_folds)  # type: ignore
    bpy.types.TOPBAR_MT_file_import.append(scan_files.draw_import)
    for place in menu.PLACES:
        getattr(bpy.types, place).append(menu.draw_menu)
    languages.start()
    keys.start()
    refresh.start()
    overlay.start()
    plot.start()


def unregister() -> None:
    """Undo `register`, in reverse."""
    plot.stop()
    overlay.stop()
    refresh.stop()
    greeting.stop()
    line_marks.stop()
    live.stop()
    keys.stop()
    languages.stop()
    for place in menu.PLACES:
        getattr(bpy.types, place).remove(menu.draw_menu)
    bpy.types.TOPBAR_MT_file_import.remove(scan_files.draw_import)
    cache.clear()
    del bpy.types.WindowManager.sealwright_folds  # type: ignore[attr-defined]
    del bpy.types.WindowManager.sealwright  # type: ignore[attr-defined]
    del bpy.types.Scene.sealwright  # type: ignore[attr-defined]
    for cls in reversed((*_preferences, *_recipe, *FIXED)):
        bpy.utils.unregister_class(cls)
    _recipe.clear()
