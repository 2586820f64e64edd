"""The elastic foundation under the band: skin, and a soft layer on the mask in series with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import BadRecipe, Where
from ..mesh import Floats
from ..settings import check_settings, given, quantity, section
from .layer_kernel import layer_factor
from .loop import band_width_mm
from .patch import ContactPatch
from .skin import SkinSettings
from .skin_map import tissue_of

KPA = 1e-3
"""One kPa in N/mm2."""


@dataclass(frozen=True)
class GasketSettings:
    """An optional soft layer on the face side of the band, see `cushion.settings`."""

    thickness_mm: float = quantity(0.0, "mm", 0.0, 15.0, "Thickness of the soft layer; 0 is none.")
    modulus_kpa: float = quantity(
        200.0,
        "kPa",
        5.0,
        50000.0,
        "Young's modulus of the soft layer.",
    )
    poisson: float = quantity(
        0.30,
        "1",
        0.0,
        0.47,
        "Effective Poisson ratio of the layer: foam about 0.1 to 0.3, a solid strip 0.4.",
    )


@dataclass(frozen=True)
class FoundationSettings:
    """Skin and soft layer together."""

    skin: SkinSettings = section(SkinSettings, "The wearer's skin.")
    gasket: GasketSettings = given(GasketSettings, "The cushion on the band, from the section cushion.")


@dataclass(frozen=True, eq=False)
class Foundation:
    """Springs under the band.

    Attributes
    ----------
    normal : (n,) N/mm3, pressure per millimetre of closing (skin and soft layer in series).
    shear : (n,) N/mm3, traction per millimetre of sliding along the skin.
    skin : (n,) N/mm3, the skin alone: pressure over it is the indentation of the skin.
    """

    normal: Floats
    shear: Floats
    skin: Floats


def in_series(*stiffness: Floats | float) -> Floats:
    """Stiffness of layers on top of each other: 1 / sum(1 / k), any one unit.

    Springs in series, any mechanics text.

    Raises
    ------
    BadRecipe : a stiffness that is not above zero.
    """
    total = np.zeros(())
    for layer in stiffness:
        values = np.asarray(layer, dtype=np.float64)
        if not np.all(np.isfinite(values)) or np.any(values <= 0.0):
            raise BadRecipe(
                f"A layer has stiffness {float(np.min(values))!r}; it must be above 0 kPa/mm.",
                Where("physics", key="stiffness"),
                "Give every layer a stiffness above 0 kPa/mm.",
            )
        total = total + 1.0 / values
    return np.asarray(1.0 / total)


def gasket_stiffness(settings: GasketSettings, width_mm: float = 15.0) -> float:
    """Stiffness of the soft layer under a strip of some width, kPa/mm; infinite where there is none."""
    if settings.thickness_mm <= 0.0:
        return float("inf")
    factor = float(layer_factor(settings.poisson, width_mm / settings.thickness_mm))
    return factor * settings.modulus_kpa / settings.thickness_mm


def foundation_of(patch: ContactPatch, settings: FoundationSettings | None = None) -> Foundation:
    """Springs under every point of a band.

    Parameters
    ----------
    patch : the contact band.
    settings : skin and soft layer.

    Raises
    ------
    BadRecipe : a setting out of range.
    """
    chosen = settings or FoundationSettings()
    check_settings(chosen, "foundation")
    tissue = tissue_of(patch, chosen.skin)
    width = band_width_mm(patch)
    factor = layer_factor(chosen.skin.poisson, width / tissue.thickness_mm)
    skin = factor * tissue.modulus_kpa / tissue.thickness_mm * KPA
    layer = gasket_stiffness(chosen.gasket, width) * KPA
    normal = skin if np.isinf(layer) else in_series(skin, layer)
    return Foundation(normal, chosen.skin.shear_share * normal, skin)
