"""Pictures of a real window into docs/pictures: sidebars end below their last button, views are smaller.

``python tools/crop_pictures.py FOLDER`` takes what ``tools/window_pictures.py`` wrote there.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from PIL import Image

OUT = Path(__file__).resolve().parents[1] / "docs" / "pictures"
TABS_PX = 32  # the strip with the names of the tabs
PROBLEM_HEIGHT = 320
VIEW_WIDTH = 640  # of a picture of the 3D view in the docs
WINDOW_WIDTH = 960  # of a picture of the whole window
COLOURS = 96  # a palette halves the file; maps keep their true colours


def without_empty_foot(picture: Image.Image) -> Image.Image:
    """A sidebar without the empty space below its last button and without the strip of tabs."""
    body = picture.crop((0, 0, picture.width - TABS_PX, picture.height))
    spread = np.ptp(np.asarray(body.convert("L")), axis=1)
    last = int(np.flatnonzero(spread > 40)[-1])
    return body.crop((0, 0, body.width, min(last + 10, body.height)))


def view(picture: Image.Image) -> Image.Image:
    """A 3D view without the tool bar's corner, at the width of the docs."""
    body = picture.crop((0, int(0.06 * picture.height), picture.width, picture.height))
    return body.resize((VIEW_WIDTH, round(VIEW_WIDTH * body.height / body.width)), Image.Resampling.LANCZOS)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    text = "".join(page.read_text(encoding="utf-8") for page in OUT.parent.glob("*.md"))
    for path in sorted(folder.glob("*.png")):
        if f"pictures/{path.name}" not in text:
            continue
        picture = Image.open(path).convert("RGB")
        if path.stem == "problem":  # below its box lies the pop-up that says the same
            picture = picture.crop((0, 0, picture.width, PROBLEM_HEIGHT))
        if path.stem.startswith("panel-") or path.stem == "problem":
            picture = without_empty_foot(picture).quantize(COLOURS, dither=Image.Dither.NONE)
        elif path.stem.startswith(("map-", "view-")):
            picture = view(picture)
        elif path.stem.startswith("window-"):
            size = (WINDOW_WIDTH, round(WINDOW_WIDTH * picture.height / picture.width))
            picture = picture.resize(size, Image.Resampling.LANCZOS).quantize(COLOURS)
        else:
            continue
        picture.save(OUT / path.name, optimize=True)


if __name__ == "__main__":
    main()
