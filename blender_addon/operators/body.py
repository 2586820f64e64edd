# SPDX-License-Identifier: GPL-3.0-or-later
"""Body: coarse preview while values change, all parts in full quality on demand, ports added and removed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy

from ..core.errors import BadRecipe, Where
from ..jobs.job import JobStep
from ..jobs.output import built_steps, commit_design, commit_shape
from ..jobs.stages import design_steps, shape_steps
from ..jobs.state import need_mask, need_scan, need_wearer
from ..model import cache
from ..model.props import defaults, from_data, read_fields
from ..model.quiet import quiet
from ..model.trust_rows import judge
from ..model.wearers import gather_wearer
from ..view.messages import Step

if TYPE_CHECKING:
    from ..jobs.job import Steps


class SEALWRIGHT_OT_preview_body(JobStep, bpy.types.Operator):
    """Lay out the coarse body to look at; with Live Preview on it follows every value"""

    bl_idname = "sealwright.preview_body"
    bl_label = "Preview Body"
    bl_options = {"REGISTER", "UNDO"}
    title = "Preview"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed; face and seal line are found on the way."""
        return need_mask(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Gather and lay out."""
        return shape_steps(context, gather_wearer(context))

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Show the shape."""
        wearer, (prepared, made) = gather_wearer(context), result
        commit_shape(context, wearer, prepared, made)
        judge(context, wearer, prepared)
        return "This is a preview; build all parts before you print."


class SEALWRIGHT_OT_build_parts(JobStep, bpy.types.Operator):
    """Build all parts in full quality and measure them"""

    bl_idname = "sealwright.build_parts"
    bl_label = "Build All Parts"
    bl_options = {"REGISTER", "UNDO"}
    title = "Building"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A scan is needed; face and seal line are found on the way."""
        return need_scan(context)

    def steps(self, context: bpy.types.Context) -> Steps:
        """Gather and build."""
        return built_steps(design_steps(context, gather_wearer(context)))

    def commit(self, context: bpy.types.Context, result: Any) -> str:
        """Write the parts; what was edited by hand is kept beside them."""
        wearer = gather_wearer(context)
        kept = commit_design(context, wearer, result)
        failed = sum(row.verdict == "fail" for row in wearer.checks)
        said = f"{len(result.design.parts)} parts were built; "
        checks = "1 check fails" if failed == 1 else f"{failed} checks fail"
        said += f"{checks}, see the Checks panel." if failed else "all checks passed."
        return said + (f" Edited by hand and kept: {', '.join(kept)}." if kept else "")


def port_defaults() -> dict[str, Any]:
    """One port with every value at its default."""
    (row,) = (field for field in read_fields() if field["name"] == "ports")
    return defaults(row["fields"])


class SEALWRIGHT_OT_add_port(Step, bpy.types.Operator):
    """Add a port to the body; the chamber wall runs into the first one"""

    bl_idname = "sealwright.add_port"
    bl_label = "Add Port"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A wearer is needed."""
        return need_wearer(context)

    def run(self, context: bpy.types.Context) -> str:
        """Append a port turned to the side, so that it does not lie in the first."""
        wearer = gather_wearer(context)
        (row,) = (field for field in read_fields() if field["name"] == "ports")
        values = port_defaults()
        values["turn_deg"] = 0.0 if len(wearer.recipe.ports) == 0 else 50.0
        with quiet():
            from_data(wearer.recipe.ports.add(), values, row["fields"])
        cache.touch()
        return f"The body has {len(wearer.recipe.ports)} ports."


class SEALWRIGHT_OT_remove_port(Step, bpy.types.Operator):
    """Remove the last port"""

    bl_idname = "sealwright.remove_port"
    bl_label = "Remove Port"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """A wearer is needed."""
        return need_wearer(context)

    def run(self, context: bpy.types.Context) -> str:
        """Remove one; the last one stays."""
        wearer = gather_wearer(context)
        count = len(wearer.recipe.ports)
        if count < 2:
            raise BadRecipe(
                f"The body has {count} port.",
                Where("recipe", key="recipe.ports"),
                "Keep at least one port: the wearer breathes through it.",
            )
        wearer.recipe.ports.remove(count - 1)
        cache.touch()
        return f"The body has {count - 1} ports."


CLASSES = (
    SEALWRIGHT_OT_preview_body,
    SEALWRIGHT_OT_build_parts,
    SEALWRIGHT_OT_add_port,
    SEALWRIGHT_OT_remove_port,
)
