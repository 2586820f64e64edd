"""Drawings as a PDF at full size, one page each: paths and plain text, nothing else (ISO 32000-1)."""

from __future__ import annotations

from collections.abc import Sequence

from .drawing import Drawing, Path

_POINTS = 72.0 / 25.4  # of a millimetre, the unit of a page
_LOOK = {
    "cut": "0.75 0 0 RG 0.3 w [] 0 d",
    "tape": "0 0.38 0.75 RG 0.2 w [2 1] 0 d",
    "mark": "0 0 0 RG 0.2 w [] 0 d",
}


def pdf_bytes(pages: Sequence[Drawing], title: str) -> bytes:
    """Drawings as a PDF file; the same bytes for the same drawings."""
    count = len(pages)
    kids = " ".join(f"{4 + 2 * i} 0 R" for i in range(count))
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R /ViewerPreferences << /PrintScaling /None >> >>",
        f"<< /Type /Pages /Kids [{kids}] /Count {count} >>".encode(),
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
    ]
    for i, page in enumerate(pages):
        width, height = (size * _POINTS for size in (page.width_mm, page.height_mm))
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {width:.3f} {height:.3f}] "
            f"/Resources << /Font << /F1 3 0 R >> >> /Contents {5 + 2 * i} 0 R >>".encode()
        )
        content = _content(page)
        objects.append(b"<< /Length %d >>\nstream\n%s\nendstream" % (len(content), content))
    objects.append(f"<< /Title ({_escaped(title)}) >>".encode("ascii", "replace"))
    return _file(objects)


def _file(objects: Sequence[bytes]) -> bytes:
    """Header, numbered objects, table of their places, trailer; the last object is the information."""
    out, places = b"%PDF-1.4\n", []
    for number, item in enumerate(objects, start=1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, item)
    table = b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    table += b"".join(b"%010d 00000 n \n" % place for place in places)
    end = b"trailer\n<< /Size %d /Root 1 0 R /Info %d 0 R >>\n" % (len(objects) + 1, len(objects))
    return out + table + end + b"startxref\n%d\n%%%%EOF\n" % len(out)


def _content(page: Drawing) -> bytes:
    parts = [f"{_POINTS:.8f} 0 0 {_POINTS:.8f} 0 0 cm"]
    parts += [_path(path) for path in page.paths]
    parts += [
        f"BT /F1 {label.height_mm * 1.35:.3f} Tf {label.at[0]:.3f} {label.at[1]:.3f} Td "
        f"({_escaped(label.text)}) Tj ET"
        for label in page.labels
    ]
    return "\n".join(parts).encode("ascii", "replace")


def _path(path: Path) -> str:
    moves = " ".join(f"{x:.3f} {y:.3f} {'l' if i else 'm'}" for i, (x, y) in enumerate(path.points))
    return f"{_LOOK[path.style]} {moves} {'s' if path.closed else 'S'}"


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)")
