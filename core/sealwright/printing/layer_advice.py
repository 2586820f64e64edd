"""Which layers, over which heights, keep the steps of a face within a limit."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy import ndimage

from ..limits import limit
from ..mesh import Floats
from .layer_ranges import LayerAdvice, LayerRange
from .plan import minutes_of
from .printer import PrinterSettings
from .staircase import cusp_mm

STEP_MM = 0.04  # a full step of a usual lead screw (8 mm in 200 steps): common practice, no source
LEAST_SHARE = 0.2  # of the nozzle's bore: thinner layers do not flow evenly; common practice, no source
_BIN_MM = 1.0
_LEAST_BINS = 5  # a range is no lower than 5 mm
_SHARE = 95.0  # per cent of the face within a range that keep the limit
_ROUNDING = 1e-9


def layer_advice(
    heights_mm: Floats, slopes: Floats, top_mm: float, layer_mm3: Floats, printer: PrinterSettings
) -> LayerAdvice:
    """Layers that keep the steps of a face within the limit where they are not too thin to print.

    No layer is thicker than the printer's own, so that overhangs stay as planned.

    Parameters
    ----------
    heights_mm : (m,) places spread evenly over the face, over the bed.
    slopes : (m,) how level the face lies there, see `staircase.slope_of`.
    top_mm : height of the part.
    layer_mm3 : (layers,) volume of each of its layers of the printer's height.
    printer : its layers and nozzle.
    """
    count = max(int(np.ceil(top_mm / _BIN_MM)), 1)
    bins = np.clip((heights_mm / _BIN_MM).astype(np.int64), 0, count - 1)
    wanted = np.full(count, printer.layer_mm)
    for number in np.unique(bins):
        wanted[number] = _thin_enough(float(np.percentile(slopes[bins == number], _SHARE)), printer)
    chosen = _in_long_ranges(ndimage.minimum_filter1d(wanted, _LEAST_BINS, mode="nearest"))
    ranges = []
    for start, stop in _runs(chosen):
        low, high = start * _BIN_MM, min(stop * _BIN_MM, top_mm)
        inside = slopes[(bins >= start) & (bins < stop)]
        layer = float(chosen[start])
        worst = float(np.percentile(cusp_mm(inside, layer), _SHARE)) if len(inside) else None
        layers = max(int(np.ceil((high - low) / layer - 1e-6)), 1)
        ranges.append(LayerRange(from_mm=low, to_mm=high, layer_mm=layer, layers=layers, cusp_mm=worst))
    steps = cusp_mm(slopes, chosen[bins])
    return LayerAdvice(
        ranges=tuple(ranges),
        layers=sum(r.layers for r in ranges),
        time_min=_minutes(ranges, layer_mm3, printer),
        cusp_p95_mm=float(np.percentile(steps, _SHARE)),
        even_layers=len(layer_mm3),
        even_time_min=minutes_of(float(layer_mm3.sum()), len(layer_mm3), printer.layer_mm, printer)
        + printer.warm_up_min,
        over_share=float(np.mean(steps > limit("contact_cusp").value + _ROUNDING)),
    )


def _thin_enough(slope: float, printer: PrinterSettings) -> float:
    """The thickest layer, in steps below the printer's, whose cusp keeps the limit; the thinnest if none."""
    most = limit("contact_cusp").value / max(slope, 1e-6)
    fewer = np.ceil((printer.layer_mm - most) / STEP_MM - _ROUNDING)
    thinnest = np.floor((printer.layer_mm - LEAST_SHARE * printer.nozzle_mm) / STEP_MM + _ROUNDING)
    return float(round(printer.layer_mm - STEP_MM * max(min(fewer, thinnest), 0.0), 6))


def _in_long_ranges(layers: Floats) -> Floats:
    """The same, with ranges that are too low given to the thinner of their neighbours."""
    layers = layers.copy()
    while True:
        short = [(a, b) for a, b in _runs(layers) if b - a < _LEAST_BINS]
        for start, stop in short:
            beside = [layers[k] for k in (start - 1, stop) if 0 <= k < len(layers)]
            thinner = [layer for layer in beside if layer < layers[start]]
            if thinner:
                layers[start:stop] = max(thinner)
                break
        else:
            return layers


def _runs(values: Floats) -> list[tuple[int, int]]:
    """Stretches (start, stop) of equal values."""
    cuts = np.flatnonzero(np.diff(values) != 0.0) + 1
    edges = [0, *cuts.tolist(), len(values)]
    return list(pairwise(edges))


def _minutes(ranges: list[LayerRange], layer_mm3: Floats, printer: PrinterSettings) -> float:
    """Printing time with the ranges: what lies in each, in its layers."""
    middle = (np.arange(len(layer_mm3)) + 0.5) * printer.layer_mm
    middle = np.minimum(middle, ranges[-1].to_mm - _ROUNDING)  # the last layer may be cut
    total = 0.0
    for one in ranges:
        inside = (middle >= one.from_mm) & (middle < one.to_mm)
        total += minutes_of(float(layer_mm3[inside].sum()), one.layers, one.layer_mm, printer)
    return total + printer.warm_up_min
