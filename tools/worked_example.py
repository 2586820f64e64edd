"""A narrow hard edge against the wide band on one invented face: what docs/worked-example.md tells and shows.

    python tools/worked_example.py

prints the table of the page and writes its pictures to docs/pictures. Same line, same straps, same skin; only
the width differs. Everything is computed by the model of `sealwright.physics`, nothing is measured.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from sealwright.cushion.settings import CushionSettings
from sealwright.designing.filter_air import filter_of
from sealwright.designing.prepare import prepare
from sealwright.designing.prepared import Prepared
from sealwright.designing.sketch import sketch
from sealwright.facepiece.shell import side_mesh
from sealwright.mesh import Floats
from sealwright.physics.comfort import Comfort, comfort_of
from sealwright.physics.contact import solve_contact
from sealwright.physics.contact_result import CAPILLARY_KPA, ContactResult
from sealwright.physics.fit_range import FitRange, predict_fit
from sealwright.physics.loop import narrowed
from sealwright.physics.patch import ContactPatch, StrapPull
from sealwright.physics.tension import TensionFound, tension_at_pressure, tension_to_close
from sealwright.predict.assumed import assumed_of
from sealwright.predict.band import BandOnSkin, band_on_skin
from sealwright.predict.straps import strap_pulls
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.render.pictures import png_bytes, render, view_of
from sealwright.render.scene import SKIN, Legend, Scene, Shown
from sealwright.scan.landmark_names import DEFINITIONS

from demo_scenes.procedural_head import make_head
from demo_scenes.wearers import MARLO

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
NARROW_MM = 3.0
SCALE_KPA = 20.0
SIZE = (560, 520)


@dataclass(frozen=True, eq=False)
class Case:
    """One width on the face."""

    name: str
    patch: ContactPatch
    contact: ContactResult
    comfort: Comfort
    fit: FitRange
    to_close: TensionFound
    at_capillary: TensionFound


def bare() -> Recipe:
    """A rigid band of 15 mm on the skin itself, under four straps of 4 N."""
    recipe = Recipe(cushion=CushionSettings(kind="none"))
    return replace(
        recipe,
        band=replace(recipe.band, width_mm=15.0, thickness_mm=2.4),
        straps=replace(recipe.straps, tension_n=4.0),
        seal_line=replace(recipe.seal_line, smoothing_mm=5.0),
    )


def wearer() -> Prepared:
    """Marlo, an invented wearer, with exact landmarks."""
    head = make_head(MARLO, triangles=30_000)
    marks = {name: point.tolist() for name, point in head.landmarks.items() if name in DEFINITIONS}
    return run_to_end(prepare(head.mesh, Recipe(), marks))


def worked_out(name: str, patch: ContactPatch, pulls: list[StrapPull], recipe: Recipe) -> Case:
    """Contact, comfort, leak and tensions of one width."""
    assumed = assumed_of(recipe)
    contact = solve_contact(patch, pulls, assumed.contact)
    return Case(
        name,
        patch,
        contact,
        comfort_of(patch, contact, assumed.comfort),
        predict_fit(patch, pulls, filter_of(recipe)[0], assumed.contact, assumed.fit),
        tension_to_close(patch, pulls, assumed.contact, assumed.tension),
        tension_at_pressure(patch, pulls, settings=assumed.contact, search=assumed.tension),
    )


def rows(case: Case) -> list[tuple[str, str]]:
    """The lines of the table for one case: what, value with unit."""
    found, fit = case.comfort, case.fit
    close, capillary = (t.total_n for t in (case.to_close, case.at_capillary))
    return [
        ("touching area", f"{found.contact_cm2:.1f} cm2"),
        ("mean pressure", f"{found.mean_kpa:.1f} kPa"),
        ("95 % of the touching skin below", f"{found.high_kpa:.1f} kPa"),
        ("highest pressure", f"{found.peak_kpa:.1f} kPa"),
        (f"touching skin above {CAPILLARY_KPA} kPa", f"{100 * found.over_capillary:.0f} %"),
        ("advised time without a break", f"{found.advised_h:.1f} h"),
        ("strap pull that closes the line, in all", _newtons(close)),
        (
            f"strap pull at which the peak passes {CAPILLARY_KPA} kPa",
            _newtons(capillary),
        ),
        ("share of the seal line that touches", f"{100 * case.contact.share_closed:.0f} %"),
        (
            "fit factor, 9 of 10 drawn cases",
            f"{_two_digits(fit.quantiles[0])} to {_two_digits(fit.quantiles[-1])}",
        ),
        ("drawn cases that reach 100", f"{100 * fit.chance_pass:.0f} %"),
    ]


def _two_digits(value: float) -> str:
    return f"{float(f'{value:.2g}'):g}"


def _newtons(pull: float | None) -> str:
    most = Recipe().prediction.tension.most_total_n
    return f"not up to {most:g} N" if pull is None else f"{pull:.1f} N"


def strip(band: BandOnSkin, patch: ContactPatch, values: Floats, across: Floats) -> tuple[Floats, Floats]:
    """Points (n, k, 3) and values (n, k) of a patch at distances (k,) from the seal line, for drawing."""
    outward = band.across_mm[::-1]
    grid = np.stack(
        [[np.interp(across, outward, axis) for axis in station[::-1].T] for station in band.places]
    )
    shown = []
    for number in range(len(grid)):
        own = patch.station == number
        order = np.argsort(patch.across_mm[own], kind="stable")
        shown.append(np.interp(across, patch.across_mm[own][order], values[own][order]))
    return np.moveaxis(grid, 1, 2), np.array(shown)


def picture(prepared: Prepared, band: BandOnSkin, case: Case, across: Floats, title: str) -> bytes:
    """The pressure on the face, in a three-quarter view and from below, beside each other."""
    grid, values = strip(band, case.patch, case.contact.pressure_kpa, across)
    grid = grid + 0.6 * (grid - prepared.face.chart.centre) / np.linalg.norm(
        grid - prepared.face.chart.centre, axis=2, keepdims=True
    )
    mesh = side_mesh(grid)
    legend = Legend("Pressure", "kPa", 0.0, SCALE_KPA, (("capillary", CAPILLARY_KPA),))
    shown = (
        Shown(prepared.face.thinned(2).mesh, SKIN, solid=False),
        Shown(mesh, SKIN, values=values.ravel(), solid=False),
    )
    scene = Scene(shown, legend=legend, title=title)
    views = [render(scene, view_of(scene, view, SIZE), SIZE) for view in ("three-quarter", "below")]
    return png_bytes(np.hstack(views))


def main() -> int:
    """Print the table and write the pictures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pictures", type=Path, default=PICTURES, help="folder to write to")
    folder = parser.parse_args().pictures
    prepared, recipe = wearer(), bare()
    design = sketch(prepared, recipe)
    band = band_on_skin(design)
    pulls = list(strap_pulls(design, recipe.prediction.straps))
    edge = worked_out(f"{NARROW_MM:g} mm hard edge", narrowed(band.patch, NARROW_MM), pulls, recipe)
    wide = worked_out(f"{recipe.band.width_mm:g} mm band", band.patch, pulls, recipe)
    sys.stdout.write(
        f"| {sum(p.tension_n for p in pulls):g} N of strap pull in all | {edge.name} | {wide.name} |\n"
    )
    sys.stdout.write("| --- | --- | --- |\n")
    for (what, one), (_, other) in zip(rows(edge), rows(wide), strict=True):
        sys.stdout.write(f"| {what} | {one} | {other} |\n")
    half = 0.5 * NARROW_MM
    folder.mkdir(parents=True, exist_ok=True)
    for name, case, across in (
        ("pressure-narrow-edge", edge, np.linspace(-half, half, 5)),
        ("pressure-wide-band", wide, band.across_mm[::-1]),
    ):
        (folder / f"{name}.png").write_bytes(picture(prepared, band, case, across, case.name))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
