"""The demo scan: a procedural head of an invented wearer, captured by a simulated phone sensor."""

from __future__ import annotations

import importlib
import importlib.util
import json
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from types import ModuleType

from ..errors import BackendUnavailable, BadRecipe, UnwritableFile, Where
from ..export.atomic import write_files
from ..export.folder import require_free_folder
from ..progress import Job, Step
from ..recipe import Recipe
from .make import Made, make, write_made
from .source import Source, identity_of

BY_HAND = ("cheilion_left", "cheilion_right")
"""Landmarks that the demo's maker sets by hand: a phone blurs the corners of a closed mouth."""


def demo_files(wearer: str) -> dict[str, bytes]:
    """The scan of an invented wearer as PLY and the landmarks set by hand as JSON, by file name.

    Raises
    ------
    BadRecipe : no such wearer.
    BackendUnavailable : the demo scenes are not installed.
    """
    import trimesh

    demo_scenes()
    wearers = importlib.import_module("demo_scenes.wearers").WEARERS
    known = {person.name: person for person in wearers}
    if wearer not in known:
        raise BadRecipe(
            f"There is no invented wearer called {wearer[:40]!r}.",
            Where("command line", key="--wearer"),
            "Use one of: " + ", ".join(known) + ".",
        )
    head = importlib.import_module("demo_scenes.procedural_head").make_head(known[wearer])
    capture = importlib.import_module("demo_scenes.sensor").capture(head)
    scan = trimesh.Trimesh(capture.mesh.vertices, capture.mesh.faces, process=False)
    marks = {name: [round(float(c), 2) for c in capture.landmarks[name]] for name in BY_HAND}
    return {
        f"scan-{wearer.lower()}.ply": bytes(trimesh.exchange.ply.export_ply(scan)),
        f"landmarks-{wearer.lower()}.json": (json.dumps(marks, indent=2) + "\n").encode(),
    }


def demo_steps(
    wearer: str, folder: Path, replace_other: bool = False, pictures: bool = True
) -> Job[tuple[Made, Path]]:
    """Make the mask of an invented wearer and write its folder, scan and landmarks included.

    Raises
    ------
    DesignError : see `demo_files`; the folder cannot be written to, or holds another design.
    """
    yield Step(0.0, "Scanning an invented wearer")
    files = demo_files(wearer)
    scan, _ = files
    with _place_for_a_moment() as place:
        first, second = write_files({Path(place) / name: data for name, data in files.items()})
        source = Source(first, landmarks=second, wearer=wearer)
        identity = identity_of(source, Recipe())
        require_free_folder(folder, identity, replace_other)
        made = yield from make(source, Recipe(), pictures)
    made = replace(made, more=files)
    write_made(made, folder, replace_other)
    return made, folder / scan


def _place_for_a_moment() -> tempfile.TemporaryDirectory[str]:
    try:
        return tempfile.TemporaryDirectory()
    except OSError as error:
        raise UnwritableFile(
            f"There is no room for temporary files: {error.strerror or error}.",
            Where("computer", key="temporary files"),
            "Make room, or set TMPDIR to a folder with room.",
        ) from error


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
