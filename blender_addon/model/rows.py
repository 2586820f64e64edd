# SPDX-License-Identifier: GPL-3.0-or-later
"""Rows of the lists that a wearer keeps in the file: checks, remarks, sectors of the seal line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import BoolProperty, FloatVectorProperty, StringProperty


class SEALWRIGHT_PG_check(bpy.types.PropertyGroup):
    """One check of the last full build; its name says what is checked."""

    if TYPE_CHECKING:
        key: str
        value: str
        limit: str
        reason: str
        fix: str
        verdict: str
        map: str
        has_point: bool
        point: Any
    else:
        key: StringProperty(description="Path of the number in the fit report")
        value: StringProperty()
        limit: StringProperty()
        reason: StringProperty()
        fix: StringProperty()
        verdict: StringProperty(description="pass, warn or fail")
        map: StringProperty()
        has_point: BoolProperty()
        point: FloatVectorProperty(size=3, subtype="XYZ")


class SEALWRIGHT_PG_remark(bpy.types.PropertyGroup):
    """Something the maker should know; its name is the sentence."""

    if TYPE_CHECKING:
        level: str
    else:
        level: StringProperty()


class SEALWRIGHT_PG_sector(bpy.types.PropertyGroup):
    """Trust in the scanned skin under one sector of the seal line; its name is the sector's."""

    if TYPE_CHECKING:
        verdict: str
        reason: str
        fix: str
        point: Any
    else:
        verdict: StringProperty(description="good, doubtful or rescan")
        reason: StringProperty()
        fix: StringProperty()
        point: FloatVectorProperty(size=3, subtype="XYZ")


class SEALWRIGHT_PG_place(bpy.types.PropertyGroup):
    """A place that a stroke passed, in the world."""

    if TYPE_CHECKING:
        place: Any
    else:
        place: FloatVectorProperty(size=3, subtype="XYZ")


CLASSES = (SEALWRIGHT_PG_check, SEALWRIGHT_PG_remark, SEALWRIGHT_PG_sector, SEALWRIGHT_PG_place)
