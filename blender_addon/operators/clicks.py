# SPDX-License-Identifier: GPL-3.0-or-later
"""Three clicks on the scan where the face is not found by itself: outer eye corners and nose tip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np
from bpy.props import FloatVectorProperty

from ..jobs.click_step import ClickStep
from ..jobs.state import need_scan, need_wearer
from ..model import cache
from ..model.wearers import gather_wearer, wearer_mm
from ..view.messages import Step
from .scan import gather_scan


class SEALWRIGHT_OT_three_clicks(ClickStep, bpy.types.Operator):
    """Click both outer eye corners and the nose tip on the scan, to say where the face is and which way up"""

    bl_idname = "sealwright.three_clicks"
    bl_label = "Three Clicks"
    bl_options = {"REGISTER", "UNDO"}

    if not TYPE_CHECKING:  # declared in the mixin
        places: FloatVectorProperty(size=9, options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed."""
        return need_scan(context)

    def run(self, context: bpy.types.Context) -> str:
        """Keep the three places; the face is to be found from them."""
        from ..core.scan.pose.three_clicks import NAMES, named_clicks

        wearer, mesh = gather_scan(context)
        mm = wearer_mm(context, wearer)
        named = named_clicks(mesh, *(np.array(self.places, dtype=np.float64).reshape(3, 3) * mm))
        wearer.clicks = np.concatenate([named[name] / mm for name in NAMES]).tolist()
        wearer.clicked = True
        wearer.prepared = False
        cache.touch()
        return "Press Find Face: it begins at your three places."


class SEALWRIGHT_OT_forget_clicks(Step, bpy.types.Operator):
    """Forget the three clicks; the face is looked for by itself again"""

    bl_idname = "sealwright.forget_clicks"
    bl_label = "Forget Clicks"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A wearer is needed."""
        return need_wearer(context)

    def run(self, context: bpy.types.Context) -> str:
        """Forget them; what was found with them is to be found anew."""
        wearer = gather_wearer(context)
        if wearer.clicked:
            wearer.clicked, wearer.prepared = False, False
            cache.touch()
        return "The face is looked for by itself again."


CLASSES = (SEALWRIGHT_OT_three_clicks, SEALWRIGHT_OT_forget_clicks)
