"""A design as the physics sees it: band, straps, weight, filter, printed surface, noise of its scan."""

from __future__ import annotations

import numpy as np

from ..cushion.lip import draw_direction
from ..cushion.settings import cushion_of
from ..designing.contact_face import contact_face_of
from ..designing.design import Design
from ..designing.way_up import body_up, way_of
from ..mesh import Floats
from ..physics.ensemble import WornCase
from ..physics.prediction_settings import PredictionSettings
from ..physics.relief import Surface
from ..physics.statics import Hanging
from ..trust.measures import noise_along
from .air import filter_case_of
from .assumed import assumed_of
from .band import BandOnSkin, band_on_skin, require_line
from .hanging import hanging
from .straps import strap_pulls

_MAP_RANGE = (
    0.5,
    3.0,
)  # a place is trusted no more than twice, and no less than a third, as much as the whole


def worn_case(
    design: Design,
    settings: PredictionSettings | None = None,
    band: BandOnSkin | None = None,
    weight: Hanging | None = None,
) -> WornCase:
    """What the draws need to know of a design.

    Parameters
    ----------
    design : finished, preview or sketch.
    settings : what is assumed; None takes the recipe's own, with its cushion.
    band : its band on the skin where that is known already.
    weight : likewise what hangs on it.

    Raises
    ------
    DoesNotFit : a tube, or a design without lugs or ports.
    LandmarkMissing : a landmark that the skin is mapped by is missing.
    """
    chosen = settings or assumed_of(design.recipe)
    laid = band or band_on_skin(design)
    noise, over = noise_under_band(design, laid)
    return WornCase(
        laid.patch,
        tuple(strap_pulls(design, chosen.straps)),
        filter_case_of(design, chosen.filter),
        weight or hanging(design),
        surface_of(design, laid),
        noise,
        over,
    )


def surface_of(design: Design, band: BandOnSkin) -> Surface:
    """What the skin feels of the layers: of the finished face where there is one, else from the skin."""
    face, recipe = contact_face_of(design), design.recipe
    if face is not None and face.points.shape == band.places.shape:
        normals = face.normals[:, ::-1].reshape(-1, 3)
        return Surface(face.layer_mm, face.coating_mm, face.up, normals, face.part != "body")
    kind = cushion_of(recipe.cushion).kind
    up = None
    if kind == "none" and design.ports and design.band is not None:
        up = body_up(way_of(recipe), design.ports[0].frame, design.band)
    if kind == "lip":
        up = draw_direction(band.patch.normals)  # a mould prints as it opens
    soft = kind in ("lip", "liner")
    return Surface(recipe.printer.layer_mm, recipe.allowance.coating_mm, up, on_cushion=soft)


def noise_under_band(design: Design, band: BandOnSkin) -> tuple[float, Floats]:
    """White noise of the scan under the band, mm, and at every station over that (s,).

    Where a station has no scanned skin near it the noise of the whole mask region is taken.
    """
    line, prepared = require_line(design), design.prepared
    stations = band.patch.station_count
    found = noise_along(prepared.skin, line.points)
    found = np.where(np.isfinite(found) & (found > 0.0), found, max(prepared.face.noise_mm, 1e-6))
    typical = float(np.median(found))
    if len(found) != stations:
        place = np.arange(stations) * len(found) / stations
        found = np.interp(place, np.arange(len(found) + 1), np.append(found, found[0]))
    # A worse scan never gets a smaller error: the larger of both measures.
    return max(typical, prepared.face.noise_mm), np.clip(found / typical, *_MAP_RANGE)
