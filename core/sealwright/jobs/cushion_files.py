"""The files of a cushion: cut pattern as PDF, SVG and DXF, and the moulds."""

from __future__ import annotations

from ..designing.design import Design
from ..export.drawing import stacked
from ..export.dxf import dxf_bytes
from ..export.foam_sheets import foam_sheets
from ..export.pdf import pdf_bytes
from ..export.stl import stl_bytes
from ..export.svg import svg_bytes
from ..export.threemf import About, PrintPart, threemf_bytes
from ..solids.soundness import require_sound

PATTERN = "cushion-pattern"


def cushion_files(design: Design) -> dict[str, bytes]:
    """File name -> bytes of what is made for a design's cushion; nothing without one.

    A liner is a part of the design and is written with the others.

    Raises
    ------
    BadSolid : half of a mould is not sound.
    """
    made = design.cushion
    if made is None:
        return {}
    files: dict[str, bytes] = {}
    material = design.recipe.allowance.material
    if made.tools:
        for name, solid in made.tools.items():
            require_sound(solid.mesh, name)
            files[f"{name}.stl"] = stl_bytes(solid.mesh, name)
        parts = [PrintPart(name, solid.mesh, material) for name, solid in made.tools.items()]
        files["mould.3mf"] = threemf_bytes(parts, None, About(f"{design.recipe.title}: mould"))
    if made.pattern is not None:
        title, foam = design.recipe.title, str(made.cushion.row["name"])
        pages = foam_sheets(made.pattern, title, foam, made.cushion.thickness_mm)
        sheet = stacked(pages)
        files[f"{PATTERN}.pdf"] = pdf_bytes(pages, title)
        files[f"{PATTERN}.svg"] = svg_bytes(sheet, title)
        files[f"{PATTERN}.dxf"] = dxf_bytes(sheet)
    return files
