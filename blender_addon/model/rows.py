# SPDX-License-Identifier: GPL-3.0-or-later
"""Rows of the lists that a wearer keeps in the file: checks, remarks, sectors of the seal line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import bpy
from bpy.props import BoolProperty, FloatProperty, FloatVectorProperty, PointerProperty, StringProperty

from . import cache


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


class SEALWRIGHT_PG_choice(bpy.types.PropertyGroup):
    """A design that a search found; its name is its number in the trade-off."""

    if TYPE_CHECKING:
        given: str
        pressure_kpa: float
        working: float
        mass_g: float
        change: str
        picks: str
        verdict: str
        told: str
        is_start: bool
    else:
        given: StringProperty(description="Recipe key -> value, as JSON")
        pressure_kpa: FloatProperty(description="Median of what 95 % of the touching skin stay below")
        working: FloatProperty(description="Share of the draws that hold and reach the fit factor")
        mass_g: FloatProperty(description="Of everything that hangs on the face")
        change: StringProperty(description="The values that are not those of the start")
        picks: StringProperty(description="What it was picked out for")
        verdict: StringProperty(description="Of its report: pass, warn or fail; empty for a sketch")
        told: StringProperty(description="What its report says of it")
        is_start: BoolProperty()


def another_shape(_self: Any, _context: bpy.types.Context) -> None:
    """The maker linked another object: what was made of the old one is out of date."""
    cache.touch()


class SEALWRIGHT_PG_cutter(bpy.types.PropertyGroup):
    """A closed mesh that is cut out of a shape of the maker's own."""

    if TYPE_CHECKING:
        cutter: bpy.types.Object | None
    else:
        cutter: PointerProperty(
            name="Cutter",
            description="A closed mesh that is cut out of the shape; it is never changed",
            type=bpy.types.Object,
            poll=lambda _self, obj: obj.type == "MESH",
            update=another_shape,
        )


CLASSES = (
    SEALWRIGHT_PG_cutter,
    SEALWRIGHT_PG_check,
    SEALWRIGHT_PG_remark,
    SEALWRIGHT_PG_sector,
    SEALWRIGHT_PG_place,
    SEALWRIGHT_PG_choice,
)
