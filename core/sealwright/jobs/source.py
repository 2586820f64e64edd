"""Which scan, of whom, and how it is to be read; and the identity of a design that follows from it."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from .. import __version__
from ..errors import BadOutline, BadRecipe, LandmarkMissing, Where
from ..export.identity import Identity, checked_label
from ..files import contents
from ..recipe import Recipe, recipe_to_json
from ..scan.read.mesh_file import MAX_BYTES

Point = tuple[float, float, float]


@dataclass(frozen=True)
class Source:
    """Where a scan comes from and how it is to be read.

    Attributes
    ----------
    path : the scan file.
    unit : overrides the recipe's unit; "" keeps it.
    known_length_mm : true distance of ``between``; 0 when not given.
    between : two points in scan coordinates.
    landmarks : a landmark file, or None.
    second_pose : a second scan of the same wearer (mouth open, smile) for the checks, or None.
    reference, reference_patch : an object of known size in the scan, see `scan.reference_patch`; "" for none.
    wearer : label chosen by the maker; "" for none.
    date : day to be written into the report, year-month-day; "" takes `today`.
    adult : the maker says, for this run, that a very small face is an adult's.
    outline : a file of outlines, for a shell; None for all else.
    model : a closed mesh to be trimmed; None for all else.
    chamber : the outer form of a mask's chamber, see `own_shapes.cage_file`; None lets the program choose.
    cutters : closed meshes that are cut out of a shape of the maker's own.
    model_frame : coordinates of model and cutters, "scan" or "design".
    """

    path: Path
    unit: str = ""
    known_length_mm: float = 0.0
    between: tuple[Point, Point] | None = None
    landmarks: Path | None = None
    second_pose: Path | None = None
    reference: str = ""
    reference_patch: str = ""
    wearer: str = ""
    date: str = ""
    adult: bool = False
    outline: Path | None = None
    model: Path | None = None
    cutters: tuple[Path, ...] = ()
    model_frame: str = "scan"
    chamber: Path | None = None


def identity_of(source: Source, recipe: Recipe, scan_sha256: str = "") -> Identity:
    """The identity of the design of a source.

    Parameters
    ----------
    source, recipe : what the design is made of.
    scan_sha256 : of the bytes that were read; "" reads the file for it.

    Raises
    ------
    UnreadableFile, LandmarkMissing : a file that takes part cannot be read.
    BadRecipe : the label or the day cannot be used.
    """
    return Identity(
        checked_label(source.wearer),
        source.path.name,
        scan_sha256 or _hash(contents(source.path, "scan file", MAX_BYTES)),
        options_hash(source),
        recipe_hash(recipe),
        __version__,
        source.date or today(),
    )


def recipe_hash(recipe: Recipe) -> str:
    """SHA-256 of the settings of a recipe, whatever version wrote them."""
    data = json.loads(recipe_to_json(recipe))
    data.pop("made_with", None)
    return _hash(json.dumps(data, sort_keys=True).encode())


def options_hash(source: Source) -> str:
    """SHA-256 of all that says how a scan is read, files by their content."""
    marks = (
        _hash(contents(source.landmarks, "landmark file", refusal=LandmarkMissing))
        if source.landmarks
        else ""
    )
    second = (
        _hash(contents(source.second_pose, "scan of the second pose", MAX_BYTES))
        if source.second_pose
        else ""
    )
    patch = source.reference_patch
    if patch.lower().endswith(".json"):
        patch = _hash(contents(patch, "file of the patch"))
    told: Sequence[object] = (source.unit, source.known_length_mm, source.between, marks, second)
    said = ["adult"] if source.adult else []
    said += [_hash(contents(source.outline, "outline file", refusal=BadOutline))] if source.outline else []
    if source.model:
        said += [source.model_frame, _hash(contents(source.model, "model file", MAX_BYTES))]
    if source.cutters:
        said += ["cut", source.model_frame]
        said += [_hash(contents(path, "cutter file", MAX_BYTES)) for path in source.cutters]
    if source.chamber:
        said += ["chamber", _hash(contents(source.chamber, "cage file", MAX_BYTES))]
    return _hash(json.dumps([*told, source.reference, patch, *said]).encode())


def today() -> str:
    """The day in UTC; SOURCE_DATE_EPOCH (seconds, as in reproducible builds) is taken instead when it is set.

    Raises
    ------
    BadRecipe : it is set to something else.
    """
    told = os.environ.get("SOURCE_DATE_EPOCH")
    try:
        now = datetime.now(UTC) if told is None else datetime.fromtimestamp(int(told), UTC)
    except (ValueError, OverflowError, OSError) as error:
        raise BadRecipe(
            f"SOURCE_DATE_EPOCH is {told!r}; it must be a number of seconds.",
            Where("environment", key="SOURCE_DATE_EPOCH"),
            "Give seconds since 1970, or leave it unset.",
        ) from error
    return now.date().isoformat()


def checked_day(text: str) -> str:
    """A day as year-month-day.

    Raises
    ------
    BadRecipe : it is none.
    """
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError as error:
        raise BadRecipe(
            f"{text!r} is no day.", Where("command line", key="--date"), "Give it as 2025-03-31."
        ) from error


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
