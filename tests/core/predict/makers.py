"""Stand-ins for `make_one` in the tests of refits; other processes import them from here."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

from sealwright.errors import NotAFace, UnwritableFile
from sealwright.jobs.source import Source, identity_of
from sealwright.recipe import Recipe


def by_content(source: Source, recipe: Recipe, out: Path, pictures: bool) -> dict[str, Any]:
    """Do what the scan file says, and note the call in a log beside it."""
    scan = source.path
    word = scan.read_text()
    log = os.open(scan.parent / "calls.log", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.write(log, f"{scan.name} {os.getpid()}\n".encode())
    os.close(log)
    if word == "bad":
        raise NotAFace("There is no face in it.", "scan", "Scan a face.")
    if word == "bug":
        raise ZeroDivisionError("division by zero")
    if word == "die":
        os._exit(3)
    if word == "full" and not (scan.parent / "freed").exists():
        raise UnwritableFile("The disk is full.", "result file", "Make room.")
    if word == "wait" and not (scan.parent / "go").exists():
        time.sleep(120.0)
    identity = identity_of(source, recipe)
    if word == "swapped":
        scan.write_text("somebody else")
        identity = identity_of(source, recipe)
    (out / "body.stl").write_text(f"{recipe.title} for {word} of {source.wearer}")
    if pictures:
        (out / "pictures").mkdir()
        (out / "pictures" / "worn.png").write_text(f"picture of {source.wearer}")
    summary = {"verdict": "warn", "do_first": ["wall: thin. Thicken."], "failed": 0}
    facts = {"width_mm": 15.5, "note": "=1+1", "list": [1]}
    return {"identity": identity.as_dict(), "summary": summary, "facts": facts}
