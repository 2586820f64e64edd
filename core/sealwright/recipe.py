"""The recipe: everything the maker decided, as one readable JSON file without any geometry of the wearer."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from . import __version__
from .errors import BadRecipe, Where
from .facepiece.chamber_wall import ChamberSettings
from .facepiece.contact_band import BandSettings
from .facepiece.port_place import PortPlaceSettings
from .facepiece.quick_tube import TubeSettings
from .facepiece.seal_line import SealLineSettings
from .facepiece.strap_points import StrapSettings
from .hardware.allowance import AllowanceSettings
from .hardware.options import HolderSettings
from .physics.prediction_settings import PredictionSettings
from .printing.printer import PrinterSettings
from .settings import (
    check_settings,
    choice,
    quantity,
    schema_of,
    section,
    sections,
    settings_from,
    settings_to,
    text,
)

FORMAT = "sealwright-recipe-1"


@dataclass(frozen=True)
class ScanSettings:
    """How the scan is read."""

    unit: str = choice(
        "auto", ("auto", "mm", "cm", "m", "in"), "Unit of the scan file; auto judges by the size."
    )
    wearer_scale: float = quantity(
        1.0, "1", 0.9, 1.1, "Factor on the wearer's face, for a tighter or looser mask; not for shrinkage."
    )
    smoothing_mm: float = quantity(
        -1.0,
        "mm",
        -1.0,
        1.0,
        "Hard bound of the smoothing of the skin; -1 takes 1.5 times the measured noise.",
    )
    fill_mm: float = quantity(
        8.0, "mm", 0.0, 30.0, "Gaps of the scan up to this width are filled as guessed skin."
    )


@dataclass(frozen=True)
class Recipe:
    """All decisions of a design."""

    title: str = text("Dust half mask", "Name of the design, not of the wearer.")
    kind: str = choice(
        "body", ("body", "tube"), "A whole facepiece, or a plain tube trimmed to the face for trials."
    )
    scan: ScanSettings = section(ScanSettings, "How the scan is read.")
    seal_line: SealLineSettings = section(SealLineSettings, "Where the body seals.")
    band: BandSettings = section(BandSettings, "The contact band.")
    chamber: ChamberSettings = section(ChamberSettings, "Chamber and wall.")
    ports: tuple[PortPlaceSettings, ...] = sections(
        PortPlaceSettings, (PortPlaceSettings(),), "Ports; the chamber wall runs into the first."
    )
    holder: HolderSettings = section(HolderSettings, "The screw-on filter holder.")
    straps: StrapSettings = section(StrapSettings, "Strap anchors.")
    tube: TubeSettings = section(TubeSettings, "The plain tube.")
    allowance: AllowanceSettings = section(AllowanceSettings, "Clearance, coating and shrinkage.")
    printer: PrinterSettings = section(PrinterSettings, "The printer and its limits.")
    prediction: PredictionSettings = section(
        PredictionSettings, "What a prediction assumes of straps, skin, filter and breathing."
    )


def recipe_from_json(text_or_data: str | dict[str, Any]) -> Recipe:
    """A recipe from JSON text or plain data.

    Raises
    ------
    BadRecipe : not JSON, another format, an unknown key, a wrong type or a value out of range.
    """
    data = text_or_data
    if isinstance(data, str):
        try:
            data = json.loads(data)
        except (ValueError, RecursionError) as error:  # the latter two: endless digits, endless brackets
            place, reason = "", str(error)
            if isinstance(error, json.JSONDecodeError):
                place, reason = f"line {error.lineno}, column {error.colno}", error.msg
            raise BadRecipe(
                f"The recipe is not valid JSON: {reason}.",
                Where("recipe", key=place),
                "Mend the text there, or save the recipe again from the panel.",
            ) from error
    if not isinstance(data, dict) or data.get("format", FORMAT) != FORMAT:
        raise BadRecipe(
            "This is not a recipe of this version.",
            Where("recipe", key="format"),
            f'Give an object with "format": "{FORMAT}".',
        )
    rest = {key: value for key, value in data.items() if key not in ("format", "made_with", "$schema")}
    recipe = settings_from(Recipe, rest)
    if not recipe.ports and recipe.kind == "body":
        raise BadRecipe(
            "The recipe has no port.", Where("recipe", key="recipe.ports"), "Give at least one port."
        )
    check_settings(recipe)
    return recipe


def recipe_to_json(recipe: Recipe) -> str:
    """A recipe as JSON text, the same text for the same recipe."""
    data = {"format": FORMAT, "made_with": __version__, **settings_to(recipe)}
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def recipe_schema() -> dict[str, Any]:
    """The JSON schema (draft 2020-12) of recipes."""
    schema = schema_of(Recipe)
    extra = {"format": {"const": FORMAT}, "made_with": {"type": "string"}, "$schema": {"type": "string"}}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Sealwright recipe",
        **schema,
        "properties": {**extra, **schema["properties"]},
    }


def read_recipe(path: Path) -> Recipe:
    """The recipe in a file.

    Raises
    ------
    BadRecipe : missing, not text, or not a recipe.
    """
    try:
        return recipe_from_json(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise BadRecipe(
            f"The recipe file cannot be read: {error}.",
            Where("recipe", key=path.name),
            "Give the path of a recipe saved as JSON.",
        ) from error
