"""Words and scales on a picture: title, colour bar, scale bar, labels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .camera import Camera
from .colormap import colours_of
from .scene import Label, Legend, Scene

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

_INK = (38, 44, 52)
_FAINT = (120, 128, 138)


def annotated(picture: NDArray[np.uint8], scene: Scene, camera: Camera) -> NDArray[np.uint8]:
    """The picture (h, w, 3) with title, labels, legend and scale bar of the scene."""
    from PIL import Image, ImageDraw

    image = Image.fromarray(picture)
    draw = ImageDraw.Draw(image)
    size = (image.width, image.height)
    unit = max(size[1] / 600.0, 0.5)
    if scene.title:
        draw.text((18 * unit, 14 * unit), scene.title, fill=_INK, font=_font(19 * unit))
    _draw_labels(draw, scene.labels, camera, size, unit)
    if scene.legend is not None:
        _draw_legend(draw, image, scene.legend, unit)
    if scene.scale_bar:
        _draw_scale_bar(draw, camera, size, unit)
    return np.asarray(image)


def nice_length(longest: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is at most ``longest``."""
    power = 10.0 ** np.floor(np.log10(longest))
    return float(max(m * power for m in (1.0, 2.0, 5.0) if m * power <= longest * (1 + 1e-9)))


def _font(size: float) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    from PIL import ImageFont

    return ImageFont.load_default(max(size, 8.0))


def _draw_scale_bar(draw: ImageDraw.ImageDraw, camera: Camera, size: tuple[int, int], unit: float) -> None:
    """A bar of round length at the lower left."""
    mm = camera.height_mm / size[1]
    length_mm = nice_length(0.22 * size[0] * mm)
    length, x, y = length_mm / mm, 20 * unit, size[1] - 22 * unit
    draw.line([(x, y), (x + length, y)], fill=_INK, width=max(round(2 * unit), 1))
    for end in (x, x + length):
        draw.line([(end, y - 5 * unit), (end, y + 5 * unit)], fill=_INK, width=max(round(2 * unit), 1))
    words = f"{length_mm:g} mm" + ("" if camera.orthographic else " at mid-depth")
    draw.text((x, y - 8 * unit), words, fill=_INK, font=_font(14 * unit), anchor="ls")


def _draw_labels(
    draw: ImageDraw.ImageDraw, labels: tuple[Label, ...], camera: Camera, size: tuple[int, int], unit: float
) -> None:
    """Labels in two columns at the sides, with a thin line to their point."""
    if not labels:
        return
    places = camera.project(np.array([label.point for label in labels]), size)
    font = _font(14 * unit)
    for left in (True, False):
        rows = [k for k in range(len(labels)) if (places[k, 0] < size[0] / 2) == left]
        rows.sort(key=lambda k: places[k, 1])
        lowest = 52 * unit
        for k in rows:
            x, y = places[k, :2]
            row = max(min(y, size[1] - 60 * unit), lowest)
            lowest = row + 22 * unit
            edge = 20 * unit if left else size[0] - 20 * unit
            end = edge + (1 if left else -1) * (draw.textlength(labels[k].text, font=font) + 6 * unit)
            draw.line([(end, row), (x, y)], fill=_FAINT, width=max(round(unit), 1))
            dot = 3 * unit
            draw.ellipse([x - dot, y - dot, x + dot, y + dot], fill=_INK)
            draw.text((edge, row), labels[k].text, fill=_INK, font=font, anchor="lm" if left else "rm")


def _draw_legend(draw: ImageDraw.ImageDraw, image: Image.Image, legend: Legend, unit: float) -> None:
    """A colour bar at the right with title, ticks and named limits."""
    from PIL import Image

    height, width = round(0.5 * image.height), round(16 * unit)
    x, y = image.width - round(96 * unit), round(0.26 * image.height)
    values = np.linspace(legend.high, legend.low, height)
    bar = (colours_of(values, legend.low, legend.high, legend.colours) * 255 + 0.5).astype(np.uint8)
    image.paste(Image.fromarray(np.repeat(bar[:, None], width, axis=1)), (x, y))
    draw.rectangle([x - 1, y - 1, x + width, y + height], outline=_INK)
    heading = legend.title + (f" [{legend.unit}]" if legend.unit else "")
    draw.text(
        (image.width - 18 * unit, y - 12 * unit), heading, fill=_INK, font=_font(15 * unit), anchor="rs"
    )

    def place(value: float) -> float:
        """Height of a value on the scale, in pixels."""
        return float(y + height * (legend.high - value) / (legend.high - legend.low))

    limits = [(n, v) for n, v in legend.limits if legend.low <= v <= legend.high]
    step = nice_length((legend.high - legend.low) / 4)
    ticks = step * np.arange(np.ceil(legend.low / step - 1e-9), np.floor(legend.high / step + 1e-9) + 1)
    font = _font(13 * unit)
    for value in ticks:
        at = place(float(value))
        draw.line([(x + width, at), (x + width + 5 * unit, at)], fill=_INK)
        draw.text((x + width + 9 * unit, at), f"{value + 0.0:.6g}", fill=_INK, font=font, anchor="lm")
    for name, value in limits:
        at = place(value)
        draw.line([(x - 8 * unit, at), (x + width + 5 * unit, at)], fill=_INK, width=max(round(2 * unit), 1))
        draw.text((x - 11 * unit, at), f"{name} {value:g}", fill=_INK, font=font, anchor="rm")
