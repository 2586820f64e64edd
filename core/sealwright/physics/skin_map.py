"""The soft tissue under the seal as a continuous map: sites of the skin table, blended over the face."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..mesh import Floats
from ..tables import table
from .patch import REGIONS, ContactPatch
from .regions import place_of
from .skin import SkinSettings, skin_sites

_FACE_MM = 115.0  # sellion to menton of the face that the offsets of the table are given for


@dataclass(frozen=True, eq=False)
class Tissue:
    """Soft tissue under every point of a band.

    Attributes
    ----------
    modulus_kpa, thickness_mm : (n,) typical values.
    mix : (n, t) share of every site.
    """

    modulus_kpa: Floats
    thickness_mm: Floats
    mix: Floats


def site_places(landmarks: Mapping[str, ArrayLike]) -> list[tuple[int, Floats]]:
    """Where the sites of the table lie on a face: (number of the site, (3,) mm), side sites on both sides.

    Raises
    ------
    LandmarkMissing : sellion, a nostril wing, a mouth corner or menton is not there.
    """
    size = float(np.linalg.norm(place_of(landmarks, "sellion") - place_of(landmarks, "menton"))) / _FACE_MM
    found = []
    for number, site in enumerate(skin_sites()):
        sides = (1.0, -1.0) if any(name.endswith("_side") for name in site.at) else (1.0,)
        for side in sides:
            at = sum(
                (share * _mark(landmarks, name, side) for name, share in site.at.items()), start=np.zeros(3)
            )
            offset = size * np.array(site.offset_mm) * np.array([side, 1.0, 1.0])
            found.append((number, np.asarray(at + offset)))
    return found


def _mark(landmarks: Mapping[str, ArrayLike], name: str, side: float) -> Floats:
    """A landmark, the one of a side (``..._side``), or the middle of a pair (``alare``)."""
    if name.endswith("_side"):
        return place_of(landmarks, name.removesuffix("side") + ("left" if side > 0 else "right"))
    if name in ("alare", "cheilion"):
        return 0.5 * (place_of(landmarks, f"{name}_left") + place_of(landmarks, f"{name}_right"))
    return place_of(landmarks, name)


def site_mix(points: Floats, landmarks: Mapping[str, ArrayLike]) -> Floats:
    """Share (n, t) of every site of the skin table in the tissue under points (n, 3) in the face frame.

    Weights fall off as a bell curve with the distance (kernel regression, Nadaraya and Watson 1964): smooth
    everywhere, so that a small move of the band changes its springs a little.

    Raises
    ------
    LandmarkMissing : see `site_places`.
    """
    size = float(np.linalg.norm(place_of(landmarks, "sellion") - place_of(landmarks, "menton"))) / _FACE_MM
    reach = size * float(table("skin")["blend_mm"]["value"])
    places = site_places(landmarks)
    square = np.stack([((points - at) ** 2).sum(axis=1) for _, at in places], axis=1) / (2.0 * reach**2)
    # The nearest site keeps weight 1, so that far from all of them nothing divides by zero.
    weight = np.exp(square.min(axis=1, keepdims=True) - square)
    mix = np.zeros((len(points), len(skin_sites())))
    for column, (number, _) in enumerate(places):
        mix[:, number] += weight[:, column]
    return np.asarray(mix / mix.sum(axis=1, keepdims=True))


def mix_of(patch: ContactPatch) -> Floats:
    """The shares (n, t) of a patch; without them the site that stands for each point's region."""
    if patch.mix is not None:
        return patch.mix
    sites = [site.site for site in skin_sites()]
    stands = table("skin")["region_site"]
    column = np.array([sites.index(stands[name]) for name in REGIONS])
    return np.asarray(np.eye(len(sites))[column[patch.region]])


def tissue_of(patch: ContactPatch, settings: SkinSettings | None = None) -> Tissue:
    """Modulus and thickness under every point: the sites' values, blended in their logarithms."""
    chosen, mix = settings or SkinSettings(), mix_of(patch)
    sites = skin_sites()
    modulus = [site.modulus_kpa[0] * getattr(chosen, f"{site.region}_factor") for site in sites]
    thickness = [site.thickness_mm[0] for site in sites]
    return Tissue(np.exp(mix @ np.log(modulus)), np.exp(mix @ np.log(thickness)), mix)
