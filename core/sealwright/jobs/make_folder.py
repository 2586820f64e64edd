"""A folder from a scan, what is wanted of it: the parts first and whole, then the report and the pictures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from ..designing.design import Design
from ..export.folder import Share, holds, write_folder
from ..export.identity import Identity
from ..parallel import beside
from ..progress import Job
from ..recipe import RecipeFile
from ..report.fit_report import fit_report
from ..report.gallery import thumbnail
from ..report.shape import FitReport
from ..verdicts.measure import Examined, measured_of
from .clock import Clock
from .examining import examined_parts, predicted_steps, with_tried
from .layout import part_files, picture_files, report_files
from .make import Drafted, drafted_steps, pictures_steps
from .options import GROUPS
from .source import Source

_FIRST = Share(state="parts")


@dataclass(frozen=True)
class Wanted:
    """What is asked of a folder.

    Attributes
    ----------
    groups : of `GROUPS`.
    small : whether print files carry a small picture.
    """

    groups: frozenset[str] = frozenset(GROUPS)
    small: bool = True

    def __contains__(self, group: str) -> bool:
        """Whether a group is asked for."""
        return group in self.groups

    @property
    def share(self) -> Share:
        """What a writing of them is of the folder."""
        return Share(keep=len(self.groups) < len(GROUPS))


@dataclass(frozen=True)
class Place:
    """Where a folder is written.

    Attributes
    ----------
    folder : the folder.
    replace : another design that this program made there may be replaced.
    scan : the scan file, which may lie in it.
    told : hears how many files are written when the parts are whole on disk and more follows.
    """

    folder: Path
    replace: bool
    scan: Path
    told: Callable[[int], None]


@dataclass(frozen=True, eq=False)
class Written:
    """What was written.

    Attributes
    ----------
    files : how many.
    identity : whose design it is.
    report : the fit report as plain data; None where none was asked for.
    seconds : by stage.
    """

    files: int
    identity: Identity
    report: FitReport | None
    seconds: Mapping[str, float] = field(default_factory=dict)


def folder_steps(source: Source, recipe: RecipeFile, wanted: Wanted, place: Place) -> Job[Written]:
    """Design a mask for a scan and write what is wanted of its folder, as a job of steps.

    The parts are written whole as soon as they are examined; report and pictures join them at the end, and
    until then the list of files says "parts". Where less than everything is wanted, what is there of the very
    same design stays.

    Raises
    ------
    DesignError : any refusal; also BadSolid when a part would not be sound. What was told as written stays.
    """
    clock = Clock()
    drafted = yield from drafted_steps(source, recipe, clock)
    design, whole = drafted.design, "parts" in wanted or "report" in wanted
    plans = None if whole else [name for name in ("body",) if name in design.parts]
    examined = yield from examined_parts(design, clock, plans)
    parts: dict[str, bytes] = {}
    if "parts" in wanted:
        yield clock.step(0.4, "Writing the parts")
        parts = part_files(design, examined, drafted.identity, thumbnail(design) if wanted.small else None)
        if len(wanted.groups) > 1:
            _write_first(parts, drafted.identity, place)
    report, shown = yield from _told_and_shown(drafted, examined, wanted, clock)
    yield clock.step(0.97, "Writing the report")
    files = {**parts, **picture_files(shown)}
    if report is not None:
        files |= report_files(design, report.examined, report.report, shown)
    paths = write_folder(place.folder, files, drafted.identity, place.replace, place.scan, wanted.share)
    clock.stop()
    return Written(
        len(paths), drafted.identity, None if report is None else report.report, dict(clock.seconds)
    )


@dataclass(frozen=True, eq=False)
class _Told:
    """A report and what it tells of."""

    report: FitReport
    examined: Examined


def _told_and_shown(
    drafted: Drafted, examined: Examined, wanted: Wanted, clock: Clock
) -> Job[tuple[_Told | None, dict[str, bytes]]]:
    """The report, and beside it the pictures, as far as they are wanted."""
    design = drafted.design
    if "report" not in wanted:
        shown = (yield from pictures_steps(design, examined, clock)) if "pictures" in wanted else {}
        return None, shown
    if "pictures" not in wanted:
        return (yield from _told(drafted, examined, clock)), {}
    with beside(pictures_steps(design, examined, clock.another())) as pictures:
        told = yield from _told(drafted, examined, clock)
        yield clock.step(0.9, "Drawing the pictures")
        return told, pictures()


def _told(drafted: Drafted, examined: Examined, clock: Clock) -> Job[_Told]:
    """Prediction, remedies, verdicts and the report on them."""
    design: Design = drafted.design
    predicted = yield from predicted_steps(design, drafted.second, clock)
    examined = replace(examined, prediction=predicted.prediction, second_pose=predicted.second_pose)
    examined = yield from with_tried(design, examined, clock)
    clock.stop()
    measured = measured_of(design, examined)
    report = fit_report(design, examined, measured, dict(clock.seconds), identity=drafted.identity)
    return _Told(report, examined)


def _write_first(parts: Mapping[str, bytes], identity: Identity, place: Place) -> None:
    """Write the parts, and say so; those that are there already are left alone with what lies beside them."""
    if not holds(place.folder, parts, identity):
        write_folder(place.folder, parts, identity, place.replace, place.scan, _FIRST)
    place.told(len(parts))
