"""What the skin looks like round a landmark, as a Gaussian with few modes, against how it is beside it.

Template matching by the ratio of two likelihoods (common practice): features that are missing because the
scan has no skin there say nothing either way, so nothing has to be filled in. The numbers come from
`tools/fit_landmark_templates.py`; no scan can be made from them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.stats import ncx2

from ...mesh import Floats
from ...tables import table

WITHIN_MM = 5.0
"""Confidence is the chance that a landmark lies within this of the truth."""


@dataclass(frozen=True, eq=False)
class Gaussian:
    """Features of one kind of place: mean, few correlated modes, and noise.

    Attributes
    ----------
    mean, noise : (f,) mean and variance that the modes leave.
    modes : (k, f), each scaled by its standard deviation.
    """

    mean: Floats
    modes: Floats
    noise: Floats

    def log_likelihood(self, features: Floats) -> Floats:
        """Logarithm of the density (n,) of features (n, f), up to a constant each; NaN is unknown.

        By the matrix inversion lemma only systems of the size of the modes are solved.
        """
        known = np.isfinite(features)
        off = np.where(known, features - self.mean, 0.0)
        weight = known / self.noise
        inner = np.einsum("kf,nf,lf->nkl", self.modes, weight, self.modes) + np.eye(len(self.modes))
        along = np.einsum("kf,nf->nk", self.modes, weight * off)
        explained = np.einsum("nk,nk->n", along, np.linalg.solve(inner, along[..., None])[..., 0])
        spread = np.linalg.slogdet(inner)[1] + (known * np.log(self.noise)).sum(axis=1)
        return np.asarray(-0.5 * ((weight * off * off).sum(axis=1) - explained + spread))


@dataclass(frozen=True, eq=False)
class Template:
    """One landmark's look and place.

    Attributes
    ----------
    here, beside : features at the landmark, and 5 to 22 mm beside it.
    place : (p,) usual place over the size of the face, mm: outward and up from the origin of the pose, or
        down from the nose base.
    spread : (p, p) covariance of the place.
    trust : share of the likelihood ratio that counts, since neighbouring features are not independent.
    scatter_mm : how far careful people and face models disagree about this landmark.
    """

    here: Gaussian
    beside: Gaussian
    place: Floats
    spread: Floats
    trust: float
    scatter_mm: float

    def ratio(self, features: Floats) -> Floats:
        """Logarithm of how much likelier the landmark is here than beside it (n,)."""
        return np.asarray(
            self.trust * (self.here.log_likelihood(features) - self.beside.log_likelihood(features))
        )

    def chance_within(self, away_mm: Floats, weight: Floats, dimensions: int) -> float:
        """Chance that the truth lies within 5 mm, from places ``away_mm`` (n,) with weights (n,) of sum 1."""
        variance = self.scatter_mm**2
        share = ncx2.cdf(WITHIN_MM**2 / variance, dimensions, np.maximum(away_mm, 1e-6) ** 2 / variance)
        return float(np.sum(weight * share))


@cache
def template(name: str) -> Template:
    """The template of a landmark, sides together.

    Raises
    ------
    KeyError : there is none of this name.
    """
    data = table("landmark_templates")["templates"][name]
    here, beside = (
        Gaussian(*(np.array(data[kind][part], dtype=np.float64) for part in ("mean", "modes", "noise")))
        for kind in ("here", "beside")
    )
    place, spread = (np.array(data[part], dtype=np.float64) for part in ("place", "spread"))
    return Template(here, beside, place, spread, float(data["trust"]), float(data["scatter_mm"]))
