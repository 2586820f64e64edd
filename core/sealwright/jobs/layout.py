"""What lies in a design's folder: parts to be made, the report on them, pictures; name -> bytes."""

from __future__ import annotations

from collections.abc import Mapping

from ..designing.design import Design
from ..export.identity import Identity
from ..export.stl import stl_bytes
from ..export.threemf import About, plates_of, threemf_bytes
from ..printing.in_place import schedule_text
from ..recipe import recipe_to_json
from ..report.fit_report import report_json
from ..report.model3d import model_of
from ..report.page.html import html_report
from ..report.shape import FitReport
from ..verdicts.measure import Examined
from .cushion_files import cushion_files
from .print_job import RIBS, print_parts, print_settings, settings_text


def part_files(
    design: Design, examined: Examined, identity: Identity | None, thumbnail: bytes | None = None
) -> dict[str, bytes]:
    """Everything that is printed, cut or cast, and the recipe it was made by.

    Parameters
    ----------
    examined : with the print plans.
    identity : stands in the print files.
    thumbnail : PNG for the print files.

    Raises
    ------
    BadSolid : half of a mould is not sound.
    """
    files = {f"{name}.stl": stl_bytes(solid.mesh, name) for name, solid in design.parts.items()}
    ribs = examined.plans[design.main].ribs if design.main in examined.plans else None
    if ribs is not None:
        files[f"{RIBS}.stl"] = stl_bytes(ribs, RIBS)
    files |= cushion_files(design)
    if examined.rings:
        files["material-changes.txt"] = schedule_text(examined.rings).encode()
    files |= _print_files(design, examined, identity, thumbnail)
    files["recipe.json"] = recipe_to_json(design.recipe).encode()
    return files


def report_files(
    design: Design, examined: Examined, report: FitReport, pictures: Mapping[str, bytes]
) -> dict[str, bytes]:
    """The fit report as data and as a page, which shows the pictures."""
    page = html_report(report, pictures, model_of(design, examined.prediction))
    return {"fit-report.json": report_json(report).encode(), "fit-report.html": page.encode()}


def picture_files(pictures: Mapping[str, bytes]) -> dict[str, bytes]:
    """The pictures in their folder."""
    return {f"pictures/{name}": data for name, data in pictures.items()}


def _print_files(
    design: Design, examined: Examined, identity: Identity | None, thumbnail: bytes | None
) -> dict[str, bytes]:
    """One 3MF for each plate."""
    parts, files = print_parts(examined.plans, examined.rings), dict[str, bytes]()
    said = identity.metadata() if identity is not None else {}
    title, whose = design.recipe.title, identity.line() if identity else ""
    printer = design.recipe.printer
    plates = plates_of(parts, (printer.bed_x_mm, printer.bed_y_mm))
    for number, plate in enumerate(plates, start=1):
        one = len(plates) == 1
        settings = print_settings(
            {part.name: examined.plans[part.name] for part in plate if part.name in examined.plans}
        )
        about = About(
            title if one else f"{title}, plate {number} of {len(plates)}",
            description=" ".join(text for text in (whose, settings_text(settings)) if text),
            more={**said, **settings},
        )
        name = "mask.3mf" if number == 1 else f"mask-plate-{number}.3mf"
        files[name] = threemf_bytes(plate, thumbnail, about, printer.bed_x_mm)
    return files
