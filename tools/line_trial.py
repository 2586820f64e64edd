"""The seal line on randomly cropped and tilted scans, against brute force.

``python tools/line_trial.py --crops 200`` designs every crop in sketch quality and says whether a brute-force
search on a coarse grid finds a line too: wanted are a mask where it finds one, and a refusal that names the
missing skin where it finds none. ``--final 20`` designs so many of the masks in full as well. ``--varied``
takes the forty varied open heads instead. Exit code 1 when a mask leaves the skin, or on a refusal without
words.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from sealwright.designing.prepare import design, prepare
from sealwright.designing.prepared import Prepared
from sealwright.designing.sketch import sketch
from sealwright.errors import DesignError
from sealwright.facepiece.line_features import too_near
from sealwright.facepiece.sectors import SECTORS
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe
from sealwright.solids.distance import MeshDistance
from trials.crops import Crop, crop_of
from trials.faces import VARIED, face_scan
from trials.line_oracle import line_exists, narrowest_half_mm

_OVERHANG_MM = 0.5  # the margin that the band keeps from where the scan ends


@dataclass(frozen=True)
class Judged:
    """What came of a scan: "mask", "names skin", "before" (no face or landmark) or "other"; what was said.

    ``brute`` is whether brute force finds a line; None where the scan was refused before.
    """

    kind: str
    brute: bool | None
    said: str
    prepared: Prepared | None = None


def judged(crop: Crop) -> Judged:
    """Prepare and sketch a crop, and ask brute force."""
    try:
        prepared = run_to_end(prepare(crop.mesh, Recipe(), crop.landmarks, adult=True))
    except DesignError as refusal:
        return Judged("before", None, refusal.paragraph())
    return _sketched(prepared)


def _sketched(prepared: Prepared) -> Judged:
    recipe = Recipe()
    half = narrowest_half_mm(recipe.band.width_mm, recipe.band.inner_share)
    try:
        brute = line_exists(prepared.face, prepared.landmarks, half)
    except KeyError as missing:  # a scan without the landmark
        return Judged("before", None, f"no landmark {missing}")
    try:
        made = sketch(prepared, recipe)
    except DesignError as refusal:
        kind = "names skin" if names_skin(refusal) else "other"
        return Judged(kind, brute, refusal.paragraph())
    line, band = made.seal_line, made.band
    assert line is not None and band is not None
    rows = band.grid[:, band.contact].reshape(-1, 3)
    under = prepared.face.is_known(prepared.face.chart.place_of(rows)[0])
    # What stands off is square to the skin, not to the rays of the chart: near the border they miss it.
    near = MeshDistance(prepared.face.mesh).to(rows[~under]) < band.stand_off.least_mm + _OVERHANG_MM
    assert near.all(), "the band leaves the skin"
    assert too_near(line.points, prepared.landmarks) is None, "the line crosses a feature"
    return Judged("mask", brute, " ".join(r.text for r in line.remarks), prepared)


def names_skin(refusal: DesignError) -> bool:
    """Whether a refusal says which skin is missing, and from where to scan it."""
    named = any(sector in refusal.what for sector in SECTORS)
    return refusal.code == "off-the-scan" and named and "from " in refusal.fix


def main() -> int:
    """Judge all, print each disagreement and the counts."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--crops", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--final", type=int, default=0)
    parser.add_argument("--varied", action="store_true")
    arguments = parser.parse_args()
    counts: Counter[str] = Counter()
    full, since = arguments.final, time.perf_counter()
    for name, crop in _scans(arguments):
        found = judged(crop)
        agree = (found.kind == "mask") if found.brute else (found.kind in ("mask", "names skin"))
        key = f"brute force {found.brute}: {found.kind}" if found.brute is not None else "refused before"
        counts[key] += 1
        if found.brute is None or not agree:
            print(f"{name} ({crop.made}): {key}. {found.said}", flush=True)
        searched = "searched" in found.said and found.kind == "mask"
        counts["masks on a searched line"] += searched
        if searched and full > 0 and found.prepared is not None:
            full -= 1
            counts[f"in full: {_in_full(name, found.prepared)}"] += 1
    for key, count in sorted(counts.items()):
        print(f"{count:5d}  {key}")
    print(f"{time.perf_counter() - since:.0f} s")
    return 0


def _in_full(name: str, prepared: Prepared) -> str:
    """The verdict-free outcome of a whole design."""
    try:
        made = run_to_end(design(prepared, Recipe()))
    except DesignError as refusal:
        print(f"{name} in full refused: {refusal.paragraph()}", flush=True)
        return f"refused ({refusal.code})"
    assert made.fit is not None and made.entry is not None
    facts = made.fit.facts
    print(
        f"{name} in full: contact {100 * facts.contact_share:.1f} %, width at least "
        f"{facts.band_width_min_mm:.1f} mm, entry {made.entry.deepest_mm:.3f} mm",
        flush=True,
    )
    return "sound"


def _scans(arguments: argparse.Namespace) -> Iterator[tuple[str, Crop]]:
    """The scans that are asked for."""
    if arguments.varied:
        yield from ((name, Crop(0, "whole", face_scan(name), {})) for name in VARIED)
        return
    first = arguments.first
    yield from ((f"crop {seed}", crop_of(seed)) for seed in range(first, first + arguments.crops))


if __name__ == "__main__":
    np.seterr(all="ignore")
    raise SystemExit(main())
