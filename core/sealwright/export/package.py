"""The zip package of a 3MF file with nothing in it that changes from run to run."""

from __future__ import annotations

import io
import zipfile

_FIRST = ("[Content_Types].xml", "_rels/.rels")
_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest date a zip entry can carry


def steady_package(data: bytes) -> bytes:
    """A zip package with entries in fixed order, without dates and owners; contents are unchanged."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        names = sorted(source.namelist(), key=lambda n: (_FIRST.index(n) if n in _FIRST else len(_FIRST), n))
        for name in names:
            entry = zipfile.ZipInfo(name, _EPOCH)
            entry.create_system = 3  # fixed, whatever machine writes
            entry.external_attr = 0o644 << 16
            entry.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(entry, source.read(name), compresslevel=6)
    return out.getvalue()
