"""Drawings as SVG 1.1 at full size: one user unit is one millimetre."""

from __future__ import annotations

from html import escape

from .drawing import Drawing, Path

_LOOK = {
    "cut": 'stroke="#c00000" stroke-width="0.3"',
    "tape": 'stroke="#0060c0" stroke-width="0.2" stroke-dasharray="2 1"',
    "mark": 'stroke="#000000" stroke-width="0.2"',
}


def svg_bytes(drawing: Drawing, title: str) -> bytes:
    """A drawing as an SVG file; the same bytes for the same drawing."""
    width, height = drawing.width_mm, drawing.height_mm
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">\n<title>{escape(title)}</title>\n'
    )
    body = [_path(path, height) for path in drawing.paths]
    body += [
        f'<text x="{label.at[0]:.3f}" y="{height - label.at[1]:.3f}" font-size="{label.height_mm:g}" '
        f'font-family="sans-serif">{escape(label.text)}</text>'
        for label in drawing.labels
    ]
    return (head + "\n".join(body) + "\n</svg>\n").encode()


def _path(path: Path, height: float) -> str:
    points = " ".join(f"{x:.3f},{height - y:.3f}" for x, y in path.points)
    kind = "polygon" if path.closed else "polyline"
    return f'<{kind} class="{path.style}" points="{points}" fill="none" {_LOOK[path.style]}/>'
