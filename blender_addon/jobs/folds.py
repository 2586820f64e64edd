# SPDX-License-Identifier: GPL-3.0-or-later
"""Which panels of the tab are open: that of the step that comes next, and what the maker opened by hand.

Code cannot open a panel of Blender's, but one laid out inside it may take a property of ours for its state.
A panel that is opened by hand stays open while the job stands at its step or goes back from it, as it does
when a value is changed; one that is closed by hand stays closed at that step. The next step opens its own.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import BoolProperty, BoolVectorProperty, IntVectorProperty

from ..view.messages import manager_of
from .state import STEPS, next_step

Fold = Callable[["SEALWRIGHT_PG_folds"], bool]


def standing(folds: SEALWRIGHT_PG_folds, index: int, now: int) -> bool:
    """Whether a panel is open at a step.

    Parameters
    ----------
    index, now : places in `STEPS` of the panel, and of the step that comes next.
    """
    chosen_at = folds.chosen_at[index]
    if folds.opened[index]:
        return index == now or now <= chosen_at
    return index == now and now != chosen_at


def step_now(context: bpy.types.Context) -> int:
    """The place in `STEPS` of the step that comes next."""
    return STEPS.index(next_step(context).panel)


def _getter(index: int) -> Fold:
    def is_open(self: SEALWRIGHT_PG_folds) -> bool:
        return standing(self, index, step_now(bpy.context))

    return is_open


def _setter(index: int) -> Callable[[SEALWRIGHT_PG_folds, bool], None]:
    def choose(self: SEALWRIGHT_PG_folds, value: bool) -> None:
        self.opened[index], self.chosen_at[index] = value, step_now(bpy.context)

    return choose


class SEALWRIGHT_PG_folds(bpy.types.PropertyGroup):
    """For each panel whether it is open, and the maker's own choice; of the session, never of the file."""

    if TYPE_CHECKING:
        opened: Any
        chosen_at: Any
    else:
        __annotations__ = {
            "opened": BoolVectorProperty(size=len(STEPS)),
            "chosen_at": IntVectorProperty(size=len(STEPS), default=(-1,) * len(STEPS)),
            **{
                name: BoolProperty(get=_getter(index), set=_setter(index), options={"SKIP_SAVE"})
                for index, name in enumerate(STEPS)
            },
        }


def folds_of(context: bpy.types.Context) -> SEALWRIGHT_PG_folds:
    """The panels of this session."""
    folds: SEALWRIGHT_PG_folds = manager_of(context).sealwright_folds  # type: ignore[attr-defined]
    return folds


CLASSES = (SEALWRIGHT_PG_folds,)
