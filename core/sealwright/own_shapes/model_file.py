"""A model from a file: read like a scan, told of as a model."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ..errors import DesignError
from ..mesh import TriMesh
from ..scan.read.mesh_file import read_scan


def read_model(path: str | Path, role: str = "model") -> TriMesh:
    """The mesh in a file, in the file's own units; whether it is a solid is not looked at yet.

    Parameters
    ----------
    role : what it is, for messages.

    Raises
    ------
    DesignError : as for `read_scan`.
    """
    try:
        return read_scan(path).mesh
    except DesignError as refusal:
        refusal.where = replace(refusal.where, role=role)
        refusal.args = (refusal.paragraph(),)
        raise
