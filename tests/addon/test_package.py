"""What is installed: where the libraries come from, which NumPy they use, what Blender's policy says."""

from __future__ import annotations

import importlib
import subprocess
import sys
from pathlib import Path

import addon_utils
import bpy
import numpy as np
from conftest import NAME

LIBRARIES = ("manifold3d", "igl", "scipy", "lib3mf", "threadpoolctl")


def test_libraries_come_out_of_the_zip():
    version = "python{}.{}".format(*sys.version_info[:2])
    wanted = Path(bpy.utils.user_resource("EXTENSIONS")) / ".local" / "lib" / version / "site-packages"
    for name in LIBRARIES:
        module = importlib.import_module(name)
        assert wanted in Path(module.__file__).parents, f"{name} is from {module.__file__}"


def test_numpy_is_blenders_own():
    assert ".local" not in np.__file__


def test_scipy_and_igl_work_with_blenders_numpy():
    import igl
    from scipy.spatial import cKDTree

    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    assert cKDTree(points).query([0.9, 0, 0])[1] == 1
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    squared = igl.point_mesh_squared_distance(np.array([[0.2, 0.2, -1.0]]), points, faces)[0]
    assert abs(float(np.ravel(squared)[0]) - 1.0) < 1e-12


def test_blender_policy_has_no_complaint():
    # private, but it is the very check Blender shows to users
    found = addon_utils._extensions_warnings_get()
    assert NAME not in found, found[NAME]


def traces() -> set[str]:
    """What of ours Blender knows at the moment: classes, properties, handlers."""
    kinds = {name for name in dir(bpy.types) if "sealwright" in name.lower()}
    owners = (bpy.types.Scene, bpy.types.WindowManager, bpy.types.Object)
    properties = {name for owner in owners for name in dir(owner) if "sealwright" in name.lower()}
    lists = [getattr(bpy.app.handlers, name) for name in dir(bpy.app.handlers)]
    handlers = {f.__name__ for found in lists if isinstance(found, list) for f in found if of_ours(f)}
    return kinds | properties | handlers


def of_ours(function) -> bool:
    return getattr(function, "__module__", "").startswith(NAME)


def test_enable_disable_three_times_leaves_nothing():
    before = traces()
    assert len(before) > 10
    for _ in range(3):
        addon_utils.disable(NAME)
        assert traces() == set()
        addon_utils.enable(NAME)
        assert traces() == before


def test_registering_loads_no_compiled_library():
    """A fresh process: only Blender's own NumPy may be loaded; libraries stay unlocked until first use."""
    script = (
        "import sys, bpy, addon_utils; addon_utils.enable('" + NAME + "');"
        "print('FOUND', sorted(set(sys.modules) & {'scipy', 'igl', 'manifold3d', 'lib3mf', 'trimesh'}),"
        " '" + NAME + "' in sys.modules, hasattr(bpy.types.Scene, 'sealwright'))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert "FOUND [] True True" in done.stdout, done.stdout + done.stderr
