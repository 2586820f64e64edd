"""Closed forms and plain sums that the physics is held against."""

from __future__ import annotations

import numpy as np
from scipy.special import j1
from sealwright.mesh import Floats
from sealwright.physics.foundation import KPA, Foundation
from sealwright.physics.layer_kernel import layer_factor, layer_symbol
from sealwright.physics.patch import REGIONS, ContactPatch
from sealwright.physics.skin import SkinSettings, skin_sites
from sealwright.physics.slot import L_PER_MIN, VISCOSITY_PA_S
from sealwright.tables import table

_WAVE_STEP = 0.01
_WAVES = np.arange(0.5 * _WAVE_STEP, 24.0, _WAVE_STEP)  # 1 - L has died out (below 1e-18) at the end


def uniform_foundation(patch: ContactPatch, stiffness_kpa_mm: float, shear_share: float = 0.0) -> Foundation:
    """One stiffness everywhere: for closed forms."""
    normal = np.full(len(patch.points), KPA * stiffness_kpa_mm)
    return Foundation(normal, shear_share * normal, normal)


def modulus_from_shore_a(shore_a: float) -> float:
    """Young's modulus of a solid elastomer from its Shore A hardness, kPa.

    Gent (1958): E = 0.0981 (56 + 7.62336 S) / (0.137505 (254 - 2.54 S)) MPa, from memory; good to about
    a third between 20 and 80 Shore A.
    """
    return 1000.0 * 0.0981 * (56.0 + 7.62336 * shore_a) / (0.137505 * (254.0 - 2.54 * shore_a))


def confined_modulus(modulus_kpa: float, poisson: float) -> float:
    """Modulus of an elastic layer pressed on bone that cannot spread sideways, kPa.

    E (1 - v) / ((1 + v) (1 - 2 v)); K. L. Johnson, Contact Mechanics (1985), section 4.3 (from memory).
    """
    return modulus_kpa * (1.0 - poisson) / ((1.0 + poisson) * (1.0 - 2.0 * poisson))


def disc_sinking(poisson: float, radius_over_thickness: float) -> float:
    """Sinking in the middle of an evenly pressed disc, times E / (p h): by the layer's own integral.

    u = 2 (1 - v^2) R / h * integral of L(w) J1(w R / h) / w dw, in units p h / E (Johnson 1985, from memory).
    """
    # The half-space answers exactly (the integral of J1(w R) / w is 1); only what the layer lacks is summed.
    lacking = ((1.0 - layer_symbol(_WAVES, poisson)) * j1(_WAVES * radius_over_thickness) / _WAVES).sum()
    return float(2.0 * (1.0 - poisson**2) * radius_over_thickness * (1.0 - lacking * _WAVE_STEP))


def slot_flow_l_min(width_mm: float, depth_mm: float, gap_mm: float, pressure_pa: float) -> float:
    """Laminar flow through a plane slot, Q = w h^3 dp / (12 mu L), L/min: plane Poiseuille flow, any text.

    ``width_mm`` is open, ``depth_mm`` the way of the air through it.
    """
    return 1e-9 * width_mm * gap_mm**3 * pressure_pa / (12.0 * VISCOSITY_PA_S * depth_mm) / L_PER_MIN


def region_stiffness(width_mm: float = 15.0) -> Floats:
    """Foundation modulus of the six regions (6,), kPa per mm of indentation, under a strip of some width.

    Factor of the bonded layer times modulus over thickness of the site that stands for each region.
    """
    by_name = {site.site: site for site in skin_sites()}
    stand_ins = [by_name[table("skin")["region_site"][name]] for name in REGIONS]
    modulus = np.array([site.modulus_kpa[0] for site in stand_ins])
    thickness = np.array([site.thickness_mm[0] for site in stand_ins])
    return np.asarray(layer_factor(SkinSettings().poisson, width_mm / thickness) * modulus / thickness)
