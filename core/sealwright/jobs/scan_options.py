"""The options that say how a scan is read, as a source; contradictions are refused."""

from __future__ import annotations

import argparse
import math

from ..errors import BadRecipe, Where
from ..export.identity import checked_label
from .source import Point, Source, checked_day


def source_of(arguments: argparse.Namespace) -> Source:
    """The source of the parsed options.

    Raises
    ------
    BadRecipe : options that contradict each other or say too little.
    """
    length = arguments.known_length
    if (length is not None) != (arguments.between is not None):
        raise BadRecipe(
            "A known length needs both its value and the two points it was measured between.",
            Where("command line", key="--known-length, --between"),
            "Give --known-length MM --between x,y,z x,y,z.",
        )
    if length is not None and not (math.isfinite(length) and length > 0.0):
        raise BadRecipe(
            f"A known length of {length:g} mm gives no scale.",
            Where("command line", key="--known-length"),
            "Give the true distance of the two points in mm, above 0.",
        )
    if bool(arguments.reference) != bool(arguments.reference_patch):
        raise BadRecipe(
            "A reference object needs both its name and its place in the scan.",
            Where("command line", key="--reference, --reference-patch"),
            "Give --reference card --reference-patch x,y,z,radius.",
        )
    if arguments.reference and arguments.between:
        raise BadRecipe(
            "A known length and a reference object both give the scale.",
            Where("command line", key="--known-length, --reference"),
            "Give one of them.",
        )
    return Source(
        arguments.scan,
        arguments.unit,
        length or 0.0,
        points_of(*arguments.between) if arguments.between else None,
        arguments.landmarks,
        getattr(arguments, "second_pose", None),
        arguments.reference,
        arguments.reference_patch.strip(),
        checked_label(getattr(arguments, "wearer", "")),
        checked_day(day) if (day := getattr(arguments, "date", "")) else "",
        arguments.adult,
        getattr(arguments, "outline", None),
        getattr(arguments, "mesh", None),
        tuple(getattr(arguments, "cutter", ())),
        getattr(arguments, "frame", "scan"),
        getattr(arguments, "chamber", None),
    )


def points_of(first: str, second: str) -> tuple[Point, Point]:
    """Two points from words such as "12.5,0,-3".

    Raises
    ------
    BadRecipe : no three finite numbers with commas between.
    """
    return _point(first), _point(second)


def _point(text: str) -> Point:
    try:
        x, y, z = (float(c) for c in text.split(","))
        if not all(math.isfinite(c) for c in (x, y, z)):
            raise ValueError("not finite")
    except ValueError as error:
        raise BadRecipe(
            f"{text.strip()[:60]!r} is not a point.",
            Where("command line", key="--between"),
            "Give three numbers with commas between, such as 12.5,0,-3.",
        ) from error
    return (x, y, z)
