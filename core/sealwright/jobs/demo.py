"""The demo scan: a procedural head of an invented wearer, captured by a simulated phone sensor."""

from __future__ import annotations

import importlib
import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

from ..errors import BackendUnavailable, BadRecipe, Where
from ..export.atomic import write_files

BY_HAND = ("cheilion_left", "cheilion_right")
"""Landmarks that the demo's maker sets by hand: a phone blurs the corners of a closed mouth."""


def write_demo_scan(wearer: str, folder: Path) -> tuple[Path, Path]:
    """Write the scan of an invented wearer as PLY, and the landmarks set by hand as JSON; give both paths.

    Raises
    ------
    BadRecipe : no such wearer.
    BackendUnavailable : the demo scenes are not installed.
    UnwritableFile : the folder cannot be written to.
    """
    import trimesh

    demo_scenes()
    wearers = importlib.import_module("demo_scenes.wearers").WEARERS
    known = {person.name: person for person in wearers}
    if wearer not in known:
        raise BadRecipe(
            f"There is no invented wearer called {wearer!r}.",
            Where("command line", key="--wearer"),
            "Use one of: " + ", ".join(known) + ".",
        )
    head = importlib.import_module("demo_scenes.procedural_head").make_head(known[wearer])
    capture = importlib.import_module("demo_scenes.sensor").capture(head)
    scan = trimesh.Trimesh(capture.mesh.vertices, capture.mesh.faces, process=False)
    marks = {name: [round(float(c), 2) for c in capture.landmarks[name]] for name in BY_HAND}
    files = {
        folder / f"scan-{wearer.lower()}.ply": bytes(trimesh.exchange.ply.export_ply(scan)),
        folder / f"landmarks-{wearer.lower()}.json": (json.dumps(marks, indent=2) + "\n").encode(),
    }
    first, second = write_files(files)
    return first, second


def demo_scenes() -> ModuleType:
    """The demo scenes package, from beside the installed core or from the checkout.

    Raises
    ------
    BackendUnavailable : it is in neither place.
    """
    if "demo_scenes" in sys.modules:
        return sys.modules["demo_scenes"]
    here = Path(__file__).resolve().parents[1]
    for folder in (here / "demo_scenes", here.parent.parent / "demo_scenes"):
        start = folder / "__init__.py"
        if start.is_file():
            spec = importlib.util.spec_from_file_location(
                "demo_scenes", start, submodule_search_locations=[str(folder)]
            )
            if spec is not None and spec.loader is not None:
                module = importlib.util.module_from_spec(spec)
                sys.modules["demo_scenes"] = module
                spec.loader.exec_module(module)
                return module
    raise BackendUnavailable(
        "The demo scenes are not installed.",
        Where("installation", key=str(here)),
        "Run from a checkout, or reinstall the package.",
    )
