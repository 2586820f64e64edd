# SPDX-License-Identifier: GPL-3.0-or-later
"""The panel with all steps of the job, each a part of it that folds."""

from __future__ import annotations

import bpy

from .header import Panel, StepPanel
from .panels import (
    SEALWRIGHT_PT_body,
    SEALWRIGHT_PT_landmarks,
    SEALWRIGHT_PT_scan,
    SEALWRIGHT_PT_seal_line,
    SEALWRIGHT_PT_straps,
)
from .ports import SEALWRIGHT_PT_ports
from .results import SEALWRIGHT_PT_checks, SEALWRIGHT_PT_print

PARTS: list[type[StepPanel]] = [
    SEALWRIGHT_PT_scan,
    SEALWRIGHT_PT_landmarks,
    SEALWRIGHT_PT_seal_line,
    SEALWRIGHT_PT_body,
    SEALWRIGHT_PT_ports,
    SEALWRIGHT_PT_straps,
    SEALWRIGHT_PT_checks,
    SEALWRIGHT_PT_print,
]
"""In the order of the job, as `jobs.state.STEPS` names them."""


class SEALWRIGHT_PT_steps(Panel):
    """The steps of the job; Blender puts panels without a header before those of every other tab."""

    bl_idname = "SEALWRIGHT_PT_steps"
    bl_label = "Steps"
    bl_order = 1

    def content(self, layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
        """Each step that is there by now."""
        for part in PARTS:
            if part.poll(context):
                part().draw(layout, context)


CLASSES = (SEALWRIGHT_PT_steps,)
