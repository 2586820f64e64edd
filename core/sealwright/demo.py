"""The demo scan: a procedural head of an invented wearer, captured by a simulated phone sensor."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from pathlib import Path
from types import ModuleType

from .errors import BackendUnavailable, BadRecipe, Where
from .export.atomic import write_file


def write_demo_scan(wearer: str, folder: Path) -> Path:
    """Write the scan of an invented wearer as PLY and give its path.

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
    scan = importlib.import_module("demo_scenes.sensor").capture(head).mesh
    data = trimesh.exchange.ply.export_ply(trimesh.Trimesh(scan.vertices, scan.faces, process=False))
    return write_file(folder / f"scan-{wearer.lower()}.ply", bytes(data))


def demo_scenes() -> ModuleType:
    """The demo scenes package, from beside the installed core or from the checkout.

    Raises
    ------
    BackendUnavailable : it is in neither place.
    """
    if "demo_scenes" in sys.modules:
        return sys.modules["demo_scenes"]
    here = Path(__file__).resolve().parent
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
