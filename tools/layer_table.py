#!/usr/bin/env python3
"""Make the factors of shared/layer.json: how stiff a bonded elastic layer is under a flat strip.

PYTHONPATH=core python tools/layer_table.py [--check]
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from sealwright.physics.layer_kernel import layer_symbol

TABLE = Path(__file__).resolve().parents[1] / "shared" / "layer.json"
_CELLS = 40  # across half a strip, for its mean stiffness
_DIGITS = 6


def strip_factor(poisson: float, width_over_thickness: float) -> float:
    """Mean pressure under a flat, rigid, frictionless strip over its sinking, times h / E.

    Plane strain; the strip is cut into cells of even pressure. Grows from a half-space's answer (narrow
    strip) to the confined modulus (wide strip), which a nearly incompressible layer reaches only very wide.
    """
    cells = _CELLS
    cell = width_over_thickness / (2 * cells)
    # Waves up to where a cell's own width has smoothed them away.
    top = max(40.0, 40.0 / cell)
    wave = (np.arange(6000) + 0.5) * (top / 6000)
    spread = layer_symbol(np.minimum(wave, 24.0), poisson) / wave * np.sinc(wave * cell / (2 * np.pi)) ** 2
    number = np.arange(2 * cells)
    kernel = np.cos(np.outer(number * cell, wave)) @ spread * (top / 6000)
    kernel *= 2.0 * (1.0 - poisson**2) / np.pi * cell
    index = np.arange(cells)
    # Two halves, mirror images of each other.
    matrix = kernel[np.abs(index[:, None] - index)] + kernel[index[:, None] + index + 1]
    pressure = cho_solve(cho_factor(matrix), np.ones(cells))
    return float(pressure.mean())


def factors(poisson: list[float], ratios: list[float]) -> list[list[float]]:
    """The rows of the table."""
    return [[float(f"{strip_factor(v, ratio):.{_DIGITS}g}") for ratio in ratios] for v in poisson]


def main() -> int:
    """Write the table, or with --check say whether it is what would be written."""
    text = TABLE.read_text(encoding="utf-8")
    stored = json.loads(text)
    made = factors(stored["poisson"], stored["width_over_thickness"])
    if "--check" in sys.argv:
        same = np.allclose(made, stored["factor"], rtol=10.0 ** (1 - _DIGITS))
        print("as made" if same else "not as made")
        return 0 if same else 1
    rows = ",\n".join("  " + json.dumps(row) for row in made)
    TABLE.write_text(text[: text.index(' "factor": [')] + f' "factor": [\n{rows}\n ]\n}}\n', encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
