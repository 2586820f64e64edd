"""Options of the command line that say which scan is read, and how its size is known."""

from __future__ import annotations

import argparse
from pathlib import Path

from ..errors import BadRecipe, Where
from .make import Source


def scan_arguments(command: argparse.ArgumentParser) -> None:
    """Add the options that say which scan and how it is to be read."""
    command.add_argument("scan", type=Path, help="STL, PLY, OBJ or GLB")
    command.add_argument("--recipe", type=Path, help="recipe file; the default recipe without it")
    command.add_argument("--unit", choices=("mm", "cm", "m", "in"), default="", help="unit of the scan")
    command.add_argument(
        "--known-length", type=float, default=0.0, metavar="MM", help="true distance of --between"
    )
    command.add_argument(
        "--between", nargs=2, metavar=("P", "Q"), help="two points x,y,z in scan coordinates"
    )
    command.add_argument(
        "--reference", default="", metavar="NAME", help="flat object in the scan: card, or LONGxSHORT in mm"
    )
    command.add_argument(
        "--reference-patch",
        default="",
        metavar="PATCH",
        help="its place: x,y,z,radius in scan coordinates, or a JSON file of triangle numbers",
    )
    command.add_argument("--landmarks", type=Path, help="JSON file, name -> [x, y, z] in scan coordinates")


def source_of(arguments: argparse.Namespace) -> Source:
    """The source of the parsed options.

    Raises
    ------
    BadRecipe : options that contradict each other or say too little.
    """
    between = None
    if (arguments.known_length > 0) != (arguments.between is not None):
        raise BadRecipe(
            "A known length needs both its value and the two points it was measured between.",
            Where("command line", key="--known-length, --between"),
            "Give --known-length MM --between x,y,z x,y,z.",
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
    if arguments.between:
        between = (_point(arguments.between[0]), _point(arguments.between[1]))
    second = getattr(arguments, "second_pose", None)
    return Source(
        arguments.scan,
        arguments.unit,
        arguments.known_length,
        between,
        arguments.landmarks,
        second,
        arguments.reference,
        arguments.reference_patch,
    )


def _point(text: str) -> tuple[float, float, float]:
    try:
        x, y, z = (float(c) for c in text.split(","))
    except ValueError as error:
        raise BadRecipe(
            f"{text!r} is not a point.",
            Where("command line", key="--between"),
            "Give three numbers with commas between, such as 12.5,0,-3.",
        ) from error
    return (x, y, z)
