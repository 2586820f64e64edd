"""Finished designs with a cushion, each built once."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from bare import bare_recipe
from predict.wearers import invented
from sealwright.cushion.settings import CushionSettings
from sealwright.designing.design import Design, make_design
from sealwright.designing.prepared import Prepared
from sealwright.jobs.make import Source, prepare_source
from sealwright.progress import run_to_end
from trials.places import open_data

SCANS = ("head-a", "face-f26", "raw-scan-a")
NARROW = "sensor-scan-a"  # ends under the chin: no skin there for more than a narrow band


@cache
def wearer(name: str) -> Prepared:
    """The invented wearer, or one of the open scans."""
    if name == "invented":
        return invented()
    return run_to_end(prepare_source(Source(open_data(f"{name}.ply")), bare_recipe()))


def cushioned(
    name: str = "invented", kind: str = "foam", thickness_mm: float = 6.0, width_mm: float = 15.0
) -> Design:
    """A finished design with a cushion."""
    return _made(name, kind, thickness_mm, width_mm)


@cache
def _made(name: str, kind: str, thickness_mm: float, width_mm: float) -> Design:
    recipe = bare_recipe(cushion=CushionSettings(kind=kind, thickness_mm=thickness_mm))
    recipe = replace(recipe, band=replace(recipe.band, width_mm=width_mm))
    return run_to_end(make_design(wearer(name), recipe))
