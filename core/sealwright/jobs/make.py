"""From a scan file to a folder of parts, 3MF, pictures and the fit report: all of it or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from pathlib import Path
from typing import TypeVar

import numpy as np

from ..designing.context import OwnShape
from ..designing.design import Design
from ..designing.own import shell_design, trim_design
from ..designing.prepare import prepare
from ..designing.prepared import Prepared
from ..errors import DesignError, LandmarkMissing, NotAFace, Remark, Where
from ..export.folder import write_folder
from ..export.identity import Identity
from ..mesh import Floats, TriMesh
from ..own_shapes.cage_file import read_form
from ..own_shapes.model_file import read_model
from ..own_shapes.outline_file import read_outline
from ..predict.designed import design as design_job
from ..progress import Job, Step, run_to_end
from ..recipe import Recipe, RecipeFile
from ..report.fit_report import fit_report
from ..report.gallery import design_pictures, thumbnail
from ..report.print_pictures import print_pictures
from ..report.refusal_picture import picture_on_face, picture_on_scan
from ..report.shape import FitReport
from ..scan.landmarks.landmark_file import read_landmark_file
from ..scan.read.mesh_file import ScanFile, read_scan
from ..scan.reference.reference_patch import reference_in_scan
from ..scan.reference.scale import Scale, far_points, in_millimetres, scale_from_length, scale_of
from ..verdicts.judge import judge
from ..verdicts.measure import Examined, measured_of
from ..verdicts.verdict import Verdict
from .clock import Clock, scaled
from .examining import examined_steps, with_tried
from .layout import part_files, picture_files, report_files
from .source import Source, identity_of
from .table_facts import table_facts

T = TypeVar("T")


@dataclass(frozen=True, eq=False, kw_only=True)
class Made:
    """A finished folder.

    Attributes
    ----------
    design, examined : what it holds, and what was worked out for it.
    verdicts : as the report has them.
    identity : whose it is; None inside a window that keeps it itself.
    report : the fit report as plain data.
    pictures : file name -> bytes.
    more : files of others that lie in the same folder, name -> bytes.
    """

    design: Design
    examined: Examined
    verdicts: tuple[Verdict, ...]
    report: FitReport
    identity: Identity | None = None
    pictures: Mapping[str, bytes] = field(default_factory=dict)
    more: Mapping[str, bytes] = field(default_factory=dict)

    @cached_property
    def files(self) -> Mapping[str, bytes]:
        """File name -> bytes, not yet written; laid out when first asked, which takes as long as a check."""
        small = thumbnail(self.design) if self.pictures else None
        return {
            **part_files(self.design, self.examined, self.identity, small),
            **report_files(self.design, self.examined, self.report, self.pictures),
            **picture_files(self.pictures),
            **self.more,
        }


def prepare_source(source: Source, recipe: Recipe) -> Job[Prepared]:
    """Read and prepare a scan file, as a job of steps.

    Raises
    ------
    DesignError : the file, its scale, the face in it or a landmark is refused.
    """
    yield Step(0.0, f"Reading {source.path.name}")
    return (yield from _prepared(read_scan(source.path), source, recipe))


def _prepared(scan: ScanFile, source: Source, recipe: Recipe) -> Job[Prepared]:
    """Prepare a scan that was read."""
    scale: Scale | None = None
    reference = None
    told: tuple[Remark, ...] = ()
    if source.reference:
        reference = reference_in_scan(scan.mesh, source.reference, source.reference_patch)
        scale = reference.scale
    elif source.known_length_mm > 0 and source.between is not None:
        scale = scale_from_length(scan.mesh, *source.between, source.known_length_mm)
        told = far_points(scan.mesh, source.between)
    elif source.unit or scan.stated_unit:
        scale = scale_of(scan.mesh, source.unit or recipe.scan.unit, scan.stated_unit)
    if source.unit and (source.reference or source.between is not None):
        told = (*told, _unit_not_used(source.unit))
    marks = read_landmark_file(source.landmarks) if source.landmarks else None
    try:
        prepared = yield from prepare(scan.mesh, recipe, marks, scale, adult=source.adult)
    except (NotAFace, LandmarkMissing) as refusal:
        in_mm = in_millimetres(scan.mesh, scale or scale_of(scan.mesh, recipe.scan.unit))
        refusal.picture = partial(picture_on_scan, in_mm, refusal)
        raise
    remarks = (*scan.remarks, *told, *prepared.remarks)
    return replace(prepared, remarks=remarks, reference=reference)


def _unit_not_used(unit: str) -> Remark:
    text = f"The unit {unit} was said and not used: the scale was measured on the scan."
    return Remark("warning", text, Where("scan", key="unit"))


def make(source: Source, recipe: Recipe | RecipeFile, pictures: bool = True) -> Job[Made]:
    """Design a mask for a scan and lay out every file of its folder, as a job of steps; nothing is written.

    Parameters
    ----------
    recipe : the decisions; remarks on the reading of their file go into the report.

    Raises
    ------
    DesignError : any refusal; also BadSolid when a part would not be sound.
    """
    clock = Clock()
    drafted = yield from drafted_steps(source, recipe, clock)
    return (yield from finish(drafted.design, pictures, clock, drafted.second, drafted.identity))


@dataclass(frozen=True, eq=False)
class Drafted:
    """A design for a scan, not yet examined.

    Attributes
    ----------
    design, identity : what was designed, and whose it is.
    second : a second pose of the wearer, prepared like the first; None without one.
    """

    design: Design
    identity: Identity
    second: Prepared | None


def drafted_steps(source: Source, recipe: Recipe | RecipeFile, clock: Clock) -> Job[Drafted]:
    """Read, prepare and design, as a job of steps; parameters and errors as `make`."""
    read = recipe if isinstance(recipe, RecipeFile) else RecipeFile(recipe)
    recipe = read.recipe
    yield clock.step(0.0, f"Reading {source.path.name}")
    scan = read_scan(source.path)
    identity = identity_of(source, recipe, scan.sha256)
    prepared = yield from scaled(_prepared(scan, source, recipe), 0.01, 0.15, clock)
    del scan
    prepared = replace(prepared, remarks=(*read.remarks, *prepared.remarks))
    try:
        design = yield from scaled(_designed(prepared, recipe, source), 0.15, 0.35, clock)
    except DesignError as refusal:
        refusal.picture = partial(picture_on_face, prepared, refusal)
        raise
    second = None
    if source.second_pose is not None and recipe.kind == "body":
        other = replace(source, path=source.second_pose, landmarks=None, second_pose=None, reference="")
        second = yield from scaled(prepare_source(other, recipe), 0.35, 0.38, clock)
    return Drafted(design, identity, second)


def _designed(prepared: Prepared, recipe: Recipe, source: Source) -> Job[Design]:
    """The design of the recipe's kind."""
    to_face = prepared.scan_to_design if source.model_frame == "scan" else np.eye(4)
    if recipe.kind == "shell" and source.outline is not None:
        return (
            yield from shell_design(prepared, recipe, read_outline(source.outline), _cutters(source, to_face))
        )
    if recipe.kind == "trim" and source.model is not None:
        model = read_model(source.model).moved(to_face)
        return (yield from trim_design(prepared, recipe, model, _cutters(source, to_face)))
    form = None if source.chamber is None else read_form(source.chamber)
    own = OwnShape(form, _cutters(source, to_face))
    return (yield from design_job(prepared, recipe, own=own))


def _cutters(source: Source, to_face: Floats) -> list[TriMesh]:
    """The maker's cutters in the face frame."""
    return [read_model(path, f"cutter {n}").moved(to_face) for n, path in enumerate(source.cutters, start=1)]


def finish(
    design: Design,
    pictures: bool = True,
    clock: Clock | None = None,
    second: Prepared | None = None,
    identity: Identity | None = None,
    tries: bool = True,
) -> Job[Made]:
    """Examine a finished design and lay out every file of its folder, as a job of steps; nothing is written.

    Parameters
    ----------
    second : a second pose of the wearer, prepared like the first, to check the design in.
    tries : wear remedies and the bare band too; a few seconds.

    Raises
    ------
    BadSolid : a part would not be sound.
    """
    clock = clock or Clock()
    examined = yield from examined_steps(design, second, clock)
    if tries:
        examined = yield from with_tried(design, examined, clock)
    shown: dict[str, bytes] = {}
    if pictures:
        shown = yield from pictures_steps(design, examined, clock)
    yield clock.step(0.95, "Writing the report")
    return _laid_out(design, examined, shown, clock, identity)


def pictures_steps(design: Design, examined: Examined, clock: Clock) -> Job[dict[str, bytes]]:
    """All pictures of a design by name.

    Raises
    ------
    BackendUnavailable : the ray caster or the picture library is missing.
    """
    shown = yield from scaled(design_pictures(design), 0.7, 0.9, clock)
    return shown | (
        yield from scaled(print_pictures(design, examined.plans, examined.ways), 0.9, 0.95, clock)
    )


def with_remedies(made: Made) -> Job[Made]:
    """The same with what would change it, as a job of steps; what was examined is not examined again.

    Parameters
    ----------
    made : without pictures.
    """
    if made.examined.prediction is None or made.examined.tried is not None:
        return made
    clock = Clock()
    clock.seconds.update(made.report["timings"]["steps_s"])
    examined = yield from with_tried(made.design, made.examined, clock, (0.0, 0.95))
    yield clock.step(0.95, "Writing the report")
    return _laid_out(made.design, examined, {}, clock, made.identity)


def _laid_out(
    design: Design,
    examined: Examined,
    shown: Mapping[str, bytes],
    clock: Clock,
    identity: Identity | None,
) -> Made:
    """Verdicts and report of a folder."""
    measured = measured_of(design, examined)
    report = fit_report(design, examined, measured, clock.seconds, identity=identity)
    return Made(
        design=design,
        examined=examined,
        verdicts=judge(measured),
        report=report,
        identity=identity,
        pictures=shown,
    )


def write_made(made: Made, folder: Path, replace_other: bool = False, scan: Path | None = None) -> list[Path]:
    """Write a finished folder: all of its files, or none; see `export.folder.write_folder`.

    Raises
    ------
    UnwritableFile : the folder cannot be written to, or holds another design or changed files.
    """
    return write_folder(folder, made.files, made.identity or Identity(), replace_other, scan)


def make_one(source: Source, recipe: Recipe, out_dir: Path, pictures: bool = True) -> dict[str, object]:
    """Make one folder without showing progress, for many scans in a row.

    Returns
    -------
    The report's identity, summary, and the numbers of a refit's table; remarks.

    Raises
    ------
    DesignError : a refusal; nothing is written.
    """
    made = run_to_end(make(source, recipe, pictures))
    write_made(made, out_dir)
    return {
        "identity": made.report["identity"],
        "summary": made.report["summary"],
        "facts": table_facts(made.report),
        "remarks": [r.text for r in made.design.remarks],
    }


__all__ = ["Made", "Source", "finish", "make", "make_one", "prepare_source", "with_remedies", "write_made"]
