"""Errors of the gap along and across the band: of the scan (in patches) and of the print (bending)."""

from __future__ import annotations

import numpy as np

from ..mesh import Floats
from .draws import ACROSS, PRINT_WAVES, WAVES, Draws, factor_within
from .fit_settings import FitSettings
from .loop import Loop
from .patch import ContactPatch

_PRINT_LENGTH_MM = 80.0

CLEAR_NOISE_MM, ROUGH_NOISE_MM = 0.1, 0.5
CLEAR_ERROR_MM, ROUGH_ERROR_MM = (0.1, 0.9), (0.5, 1.4)
"""Published ranges of the error of whole faces (docs/standards 8, V57): stereophotogrammetry and phone
depth scanners. That a sensor with white noise of 0.1 or 0.5 mm belongs to the one or the other is an
assignment of
ours; between them is interpolated in logarithms, and a scan with more noise never gets a smaller error."""


def scan_error_range(noise_mm: float) -> tuple[float, float]:
    """5th and 95th percentile, mm, of the error of a scan with a measured white noise."""
    span = np.log(ROUGH_NOISE_MM / CLEAR_NOISE_MM)
    part = float(np.clip(np.log(max(noise_mm, 1e-6) / CLEAR_NOISE_MM) / span, 0.0, 1.0))
    low, high = (
        float(np.exp((1.0 - part) * np.log(a) + part * np.log(b)))
        for a, b in zip(CLEAR_ERROR_MM, ROUGH_ERROR_MM, strict=True)
    )
    # Noise beyond that of both kinds: the whole range moves up with it.
    beyond = max(1.0, noise_mm / ROUGH_NOISE_MM)
    return beyond * low, beyond * high


def scan_error_mm(settings: FitSettings, draws: Draws, noise_mm: float) -> Floats:
    """Drawn standard deviation (m,) of the scan's error, mm."""
    if not settings.scan_error_from_scan:
        return np.full(draws.count, settings.scan_noise_mm)
    # The range of a rough scan is narrower: its far upper tail alone would lie below that of a clear one.
    return np.maximum(_drawn_in(noise_mm, draws), _drawn_in(0.0, draws))


def _drawn_in(noise_mm: float, draws: Draws) -> Floats:
    low, high = scan_error_range(noise_mm)
    middle = float(np.sqrt(low * high))
    return middle * factor_within(draws.scan_size, high / middle)


def scan_gap_error(patch: ContactPatch, loop: Loop, settings: FitSettings, draws: Draws) -> Floats:
    """Scan errors of the gap (m, n) with standard deviation 1, alike over a drawn length along and across.

    Bell-curve likeness exp(-d^2 / 2 l^2) along the loop by waves, and across the band by its own series,
    exp(-(a - b)^2 / 2 l^2) = sum over j of f_j(a) f_j(b), f_j(a) = exp(-a^2 / 2 l^2) (a / l)^j / sqrt(j!).
    """
    length = settings.noise_length_mm * factor_within(draws.scan_length, settings.length_spread)
    round_mm = float(loop.width_mm.sum())
    waves = _wave_weights(length, round_mm, WAVES)
    basis = _wave_basis(loop, WAVES)
    # Beyond half the band the series would need more terms than are kept.
    ratio = patch.across_mm[None, :] / np.maximum(length, 0.5 * np.abs(patch.across_mm).max())[:, None]
    term = np.exp(-0.5 * ratio**2)
    field, square = np.zeros_like(term), np.zeros_like(term)
    for number in range(ACROSS):
        if number:
            term = term * ratio / np.sqrt(number)
        field += term * ((draws.scan_field[number] * waves) @ basis)[:, patch.station]
        square += term**2
    return np.asarray(field / np.sqrt(square))


def print_gap_error(patch: ContactPatch, loop: Loop, draws: Draws) -> Floats:
    """Print errors of the gap (m, n) with standard deviation 1: the band bends as a whole, not across."""
    length = np.full(draws.count, _PRINT_LENGTH_MM)
    waves = _wave_weights(length, float(loop.width_mm.sum()), PRINT_WAVES)
    return np.asarray(((draws.print_field * waves) @ _wave_basis(loop, PRINT_WAVES))[:, patch.station])


def _wave_weights(length: Floats, round_mm: float, waves: int) -> Floats:
    """Amplitudes (m, 2 waves) of cosines and sines round the loop, of unit variance together."""
    number = np.arange(waves)
    # Fourier transform of exp(-s^2 / (2 l^2)) at the loop's own wave numbers.
    weight = np.exp(-0.5 * (2.0 * np.pi * number * length[:, None] / round_mm) ** 2)
    weight = np.sqrt(weight * np.where(number == 0, 1.0, 2.0))
    weight /= np.linalg.norm(weight, axis=1, keepdims=True)
    return np.concatenate([weight, weight], axis=1)


def _wave_basis(loop: Loop, waves: int) -> Floats:
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(loop.line, axis=0), axis=1))])
    angle = 2.0 * np.pi * np.outer(np.arange(waves), along / float(loop.width_mm.sum()))
    return np.concatenate([np.cos(angle), np.sin(angle)])
