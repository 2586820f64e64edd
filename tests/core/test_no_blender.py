"""The core knows no Blender, and loads heavy libraries only where they are used."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest
import sealwright

CORE = Path(sealwright.__file__).parent
FILES = sorted(CORE.rglob("*.py"))
BLENDER = {"bpy", "bmesh", "mathutils", "gpu", "gpu_extras", "blf", "bl_ui", "addon_utils", "bpy_extras"}
HEADLESS = {"trimesh", "lib3mf", "embreex", "PIL", "tqdm"}

# Every module of the core is imported in a process in which any import of Blender's modules is an error.
PROBE = """
import importlib, pkgutil, sys
class Refuse:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {blender!r}:
            raise ImportError("the core imports " + name)
sys.meta_path.insert(0, Refuse())
import sealwright
found = pkgutil.walk_packages(sealwright.__path__, "sealwright.")
names = [module.name for module in found if not module.name.endswith("__main__")]
for name in names:
    importlib.import_module(name)
print(len(names), *sorted(set(sys.modules) & {headless!r}))
"""


def imports_of(path: Path) -> list[tuple[str, bool, int]]:
    """Imported top packages, whether at the top of the module, and lines; relative imports as "."."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    top = {id(node) for node in tree.body}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name.split(".")[0], id(node) in top, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            name = "." if node.level else (node.module or "").split(".")[0]
            found.append((name, id(node) in top, node.lineno))
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(CORE)))
def test_imports_of_every_file(path: Path) -> None:
    for name, at_top, line in imports_of(path):
        assert name not in BLENDER, line
        assert name != "sealwright", (
            f"line {line}: only relative imports, the core is staged inside an extension"
        )
        assert not (at_top and name in HEADLESS), (
            f"line {line}: {name} belongs inside the function that uses it"
        )


def test_all_of_the_core_loads_without_blender_and_without_headless_libraries() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROBE.format(blender=BLENDER, headless=HEADLESS)],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    count, *loaded = done.stdout.split()
    assert int(count) >= 100
    assert loaded == []


def test_probe_notices_an_import() -> None:
    """The check itself can fail: the same finder refuses a module that asks for Blender."""
    code = PROBE.format(blender=BLENDER, headless=HEADLESS).split("import sealwright")[0] + "import bpy"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert "the core imports bpy" in done.stderr
