"""Which way up the body prints, as the recipe chooses it, and what that lets its wall do."""

from __future__ import annotations

import numpy as np

from ..errors import BadRecipe, Where
from ..facepiece.contact_band import ContactBand, grid_normals
from ..mesh import Floats
from ..printing.printer import PORT_DOWN
from ..printing.staircase import slope_of
from ..recipe import Recipe

_TILTS_DEG = np.arange(-90.0, 91.0, 5.0)
_SHARE = 95.0


def way_of(recipe: Recipe) -> str:
    """The way up of the body; automatic is port down, the only one that needs neither ribs nor supports."""
    return recipe.printer.way_up or PORT_DOWN


def require_way(recipe: Recipe) -> None:
    """Refuse a way up in which a soft ring could not be printed in its groove.

    Raises
    ------
    BadRecipe : a soft ring, and a body that does not print port down.
    """
    soft = any(
        port.connection.kind == "printed" and port.connection.seal == "soft_ring" for port in recipe.ports
    )
    if soft and way_of(recipe) != PORT_DOWN:
        raise BadRecipe(
            "A soft ring is printed in its groove only while the port lies on the bed.",
            Where("recipe", key="recipe.printer.way_up"),
            "Set way_up to port_down, or take an O-ring.",
        )


def keeps_limit(recipe: Recipe) -> bool:
    """Whether the wall keeps the overhang limit: port down it must, on ribs it need not."""
    return recipe.chamber.overhang == "limit" and way_of(recipe) == PORT_DOWN


def body_up(way: str, port: Floats, band: ContactBand) -> Floats:
    """Direction (3,) in the face frame that points up when the body prints.

    Parameters
    ----------
    way : port_down, tilted or band_down.
    port : (4, 4) frame of the first port.
    band : for the tilt at which the steps on its contact face are lowest: of the directions between straight
        up and straight forward or back the one whose 95 % step is least, on the side nearer to port down.
    """
    down = port[:3, 2]
    if way == "band_down":
        return np.asarray(down)
    if way == PORT_DOWN:
        return np.asarray(-down)
    tilts = np.radians(_TILTS_DEG)
    ups = np.stack([np.zeros_like(tilts), np.cos(tilts), np.sin(tilts)], axis=1)
    normals = grid_normals(band.grid[:, band.contact]).reshape(-1, 3)
    steps = [round(float(np.percentile(slope_of(normals, up), _SHARE)), 6) for up in ups]
    best = ups[int(np.argmin(steps))]
    return np.asarray(best if best @ -down >= 0.0 else -best)
