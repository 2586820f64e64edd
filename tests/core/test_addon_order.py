"""The add-on's folders import downwards only, and no module of it takes part in a circle of imports.

Read from the source, so that imports hidden inside functions count as well.
"""

from __future__ import annotations

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ADDON = Path(__file__).resolve().parents[2] / "blender_addon"
# From the bottom up; operators and panels stand beside each other and do not import one another.
FLOORS = {"model": 0, "view": 1, "jobs": 2, "operators": 3, "ui": 3, "": 4}


def modules_of(root: Path) -> dict[str, Path]:
    """Dotted name within the add-on -> file; a folder is the name of its ``__init__``."""
    found = {}
    for path in sorted(root.rglob("*.py")):
        parts = path.relative_to(root).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def arrows_of(root: Path) -> dict[str, set[str]]:
    """Module -> modules of the add-on that it imports, anywhere in its text."""
    known = modules_of(root)
    arrows: dict[str, set[str]] = {}
    for name, path in known.items():
        package = path.relative_to(root).parent.parts
        arrows[name] = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.ImportFrom) or not node.level:
                continue
            base = [*package[: len(package) - node.level + 1], *(node.module or "").split(".")]
            whole = ".".join(part for part in base if part)
            for alias in node.names:
                target = f"{whole}.{alias.name}".lstrip(".")
                arrows[name] |= {t for t in (target, whole) if t in known and t != name and t}
    return arrows


def upward(arrows: dict[str, set[str]]) -> list[tuple[str, str]]:
    """Imports that do not go down: to a higher floor, or to the other folder of the same one."""
    bad = []
    for name, targets in arrows.items():
        here = name.rpartition(".")[0] or (name if name in FLOORS else "")
        for target in targets:
            there = target.rpartition(".")[0] or (target if target in FLOORS else "")
            if here != there and FLOORS[there] >= FLOORS[here]:
                bad.append((name, target))
    return bad


def circle(arrows: dict[str, set[str]]) -> list[str]:
    """The modules of a circle of imports, or nothing."""
    try:
        TopologicalSorter(arrows).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_every_folder_has_a_floor() -> None:
    folders = {name.rpartition(".")[0] for name in modules_of(ADDON) if "." in name}
    assert folders == set(FLOORS) - {""}


def test_no_import_upwards() -> None:
    assert upward(arrows_of(ADDON)) == []


def test_no_circle() -> None:
    arrows = arrows_of(ADDON)
    assert sum(map(len, arrows.values())) > 100  # the imports were found at all
    assert circle(arrows) == []


@pytest.mark.parametrize("inner", ["from ..jobs.b import x", "def f():\n    from ..jobs import b"])
def test_probe_notices_an_import_upwards_and_a_circle(tmp_path: Path, inner: str) -> None:
    """The check itself can fail, also on an import inside a function."""
    for folder, text in (("model/a.py", inner), ("jobs/b.py", "from ..model import a")):
        (tmp_path / folder).parent.mkdir()
        (tmp_path / folder).write_text(text)
    arrows = arrows_of(tmp_path)
    assert upward(arrows) == [("model.a", "jobs.b")]
    assert set(circle(arrows)) == {"model.a", "jobs.b"}
