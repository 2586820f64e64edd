"""From a scan file to a folder of parts, 3MF, pictures and the fit report: all of it or nothing."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from pathlib import Path
from typing import TypeVar

import numpy as np

from ..designing.assembly import assembly_of, require_assembled
from ..designing.design import Design
from ..designing.own import shell_design, trim_design
from ..designing.prepare import design as design_job
from ..designing.prepare import prepare
from ..designing.prepared import Prepared
from ..errors import DesignError, LandmarkMissing, NotAFace, Remark, Where
from ..export.folder import write_folder
from ..export.identity import Identity
from ..export.stl import stl_bytes
from ..export.threemf import About, plates_of, threemf_bytes
from ..own_shapes.model_file import read_model
from ..own_shapes.outline_file import read_outline
from ..predict.prediction import predict_steps
from ..predict.result import Prediction
from ..predict.second_pose import second_pose_steps
from ..predict.second_pose_result import SecondPoseCheck
from ..predict.tried import tried_steps
from ..printing.in_place import schedule_text
from ..printing.plan import PrintPlan
from ..progress import Job, Step, run_to_end, with_steps
from ..recipe import Recipe, RecipeFile, recipe_to_json
from ..report.fit_report import expected_genus, fit_report, report_json
from ..report.gallery import design_pictures
from ..report.model3d import model_of
from ..report.page.html import html_report
from ..report.print_pictures import print_pictures
from ..report.refusal_picture import picture_on_face, picture_on_scan
from ..report.shape import FitReport
from ..scan.landmarks.landmark_file import read_landmark_file
from ..scan.read.mesh_file import ScanFile, read_scan
from ..scan.reference.reference_patch import reference_in_scan
from ..scan.reference.scale import Scale, far_points, in_millimetres, scale_from_length, scale_of
from ..solids.soundness import require_sound
from ..verdicts.judge import judge
from ..verdicts.measure import Examined, measured_of
from ..verdicts.verdict import Verdict
from .cushion_files import cushion_files
from .print_job import plan_part, print_parts, print_settings, rings_in_place, settings_text
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
        return {**_files(self.design, self.examined, self.report, self.pictures, self.identity), **self.more}


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
    clock, read = _Clock(), recipe if isinstance(recipe, RecipeFile) else RecipeFile(recipe)
    recipe = read.recipe
    yield Step(0.0, f"Reading {source.path.name}")
    scan = read_scan(source.path)
    identity = identity_of(source, recipe, scan.sha256)
    prepared = yield from _scaled(_prepared(scan, source, recipe), 0.01, 0.15, clock)
    del scan
    prepared = replace(prepared, remarks=(*read.remarks, *prepared.remarks))
    try:
        design = yield from _scaled(_designed(prepared, recipe, source), 0.15, 0.35, clock)
    except DesignError as refusal:
        refusal.picture = partial(picture_on_face, prepared, refusal)
        raise
    second = None
    if source.second_pose is not None and recipe.kind == "body":
        other = replace(source, path=source.second_pose, landmarks=None, second_pose=None, reference="")
        second = yield from _scaled(prepare_source(other, recipe), 0.35, 0.38, clock)
    return (yield from finish(design, pictures, clock, second, identity))


def _designed(prepared: Prepared, recipe: Recipe, source: Source) -> Job[Design]:
    """The design of the recipe's kind."""
    if recipe.kind == "shell" and source.outline is not None:
        return (yield from shell_design(prepared, recipe, read_outline(source.outline)))
    if recipe.kind == "trim" and source.model is not None:
        to_face = prepared.scan_to_design if source.model_frame == "scan" else np.eye(4)
        return (yield from trim_design(prepared, recipe, read_model(source.model), to_face))
    return (yield from design_job(prepared, recipe))


def finish(
    design: Design,
    pictures: bool = True,
    clock: _Clock | None = None,
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
    clock = clock or _Clock()
    examined = yield from _examined(design, second, clock)
    if tries and examined.prediction is not None:
        tried = yield from _scaled(tried_steps(design, examined.prediction), 0.65, 0.7, clock)
        examined = replace(examined, tried=tried)
    shown: dict[str, bytes] = {}
    if pictures:
        shown = yield from _scaled(design_pictures(design), 0.7, 0.9, clock)
        shown |= yield from _scaled(print_pictures(design, examined.plans), 0.9, 0.95, clock)
    yield clock.step(0.95, "Writing the report")
    return _laid_out(design, examined, shown, clock, identity)


def with_remedies(made: Made) -> Job[Made]:
    """The same with what would change it, as a job of steps; what was examined is not examined again.

    Parameters
    ----------
    made : without pictures.
    """
    prediction = made.examined.prediction
    if prediction is None or made.examined.tried is not None:
        return made
    clock = _Clock()
    clock.seconds.update(made.report["timings"]["steps_s"])
    tried = yield from _scaled(tried_steps(made.design, prediction), 0.0, 0.95, clock)
    yield clock.step(0.95, "Writing the report")
    return _laid_out(made.design, replace(made.examined, tried=tried), {}, clock, made.identity)


def _laid_out(
    design: Design,
    examined: Examined,
    shown: Mapping[str, bytes],
    clock: _Clock,
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


def _examined(design: Design, second: Prepared | None, clock: _Clock) -> Job[Examined]:
    """Look at the parts and their print, and predict a body."""
    yield clock.step(0.38, "Examining the parts")
    sound = {
        name: require_sound(solid.mesh, name, expected_genus(design, name))
        for name, solid in design.parts.items()
    }
    yield clock.step(0.39, "Putting the parts together")
    assembly = assembly_of(design)
    if not design.edited:  # what a hand changed is written as it is; the verdict says that it does not fit
        require_assembled(assembly)
    plans: dict[str, PrintPlan] = {}
    for name in design.parts:
        yield clock.step(0.4, f"Planning the print of the {name}")
        plans[name] = plan_part(design, name, plans.get("body"))
    found = Examined(assembly=assembly, plans=plans, soundness=sound, rings=rings_in_place(design, plans))
    if design.recipe.kind != "body":
        return found
    prediction = yield from _scaled(predict_steps(design), 0.5, 0.62, clock)
    moved: SecondPoseCheck | None = None
    if second is not None:
        moved = yield from _scaled(second_pose_steps(design, second, prediction), 0.62, 0.65, clock)
    return replace(found, prediction=prediction, second_pose=moved)


def examination(design: Design) -> tuple[tuple[Verdict, ...], Prediction | None]:
    """All verdicts of a design as its report has them, and its prediction; nothing is laid out.

    Raises
    ------
    BadSolid : a part would not be sound.
    """
    examined = run_to_end(_examined(design, None, _Clock()))
    return judge(measured_of(design, examined)), examined.prediction


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


class _Clock:
    """Seconds by step label."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._label, self._since = "", time.perf_counter()

    def step(self, fraction: float, label: str) -> Step:
        """The next step; the time since the last one is booked on that one."""
        now = time.perf_counter()
        if self._label:
            self.seconds[self._label] = self.seconds.get(self._label, 0.0) + now - self._since
        self._label, self._since = label, now
        return Step(fraction, label)


def _scaled(job: Job[T], low: float, high: float, clock: _Clock) -> Job[T]:
    """A job whose fractions run from ``low`` to ``high`` of a longer one."""
    return with_steps(job, lambda step: clock.step(low + (high - low) * step.fraction, step.label))


def _files(
    design: Design,
    examined: Examined,
    report: FitReport,
    pictures: Mapping[str, bytes],
    identity: Identity | None,
) -> dict[str, bytes]:
    files = {f"{name}.stl": stl_bytes(solid.mesh, name) for name, solid in design.parts.items()}
    parts = print_parts(examined.plans, examined.rings)
    files |= cushion_files(design)
    if examined.rings:
        files["material-changes.txt"] = schedule_text(examined.rings).encode()
    said = identity.metadata() if identity is not None else {}
    title, whose = design.recipe.title, identity.line() if identity else ""
    thumbnail = pictures.get("worn-three-quarter.png")
    printer = design.recipe.printer
    plates = plates_of(parts, (printer.bed_x_mm, printer.bed_y_mm))
    for number, plate in enumerate(plates, start=1):
        one = len(plates) == 1
        settings = print_settings({part.name: examined.plans[part.name] for part in plate})
        about = About(
            title if one else f"{title}, plate {number} of {len(plates)}",
            description=" ".join(text for text in (whose, settings_text(settings)) if text),
            more={**said, **settings},
        )
        name = "mask.3mf" if number == 1 else f"mask-plate-{number}.3mf"
        files[name] = threemf_bytes(plate, thumbnail, about, printer.bed_x_mm)
    files["fit-report.json"] = report_json(report).encode()
    files["fit-report.html"] = html_report(report, pictures, model_of(design, examined.prediction)).encode()
    files["recipe.json"] = recipe_to_json(design.recipe).encode()
    files |= {f"pictures/{name}": data for name, data in pictures.items()}
    return files


__all__ = ["Made", "Source", "finish", "make", "make_one", "prepare_source", "with_remedies", "write_made"]
