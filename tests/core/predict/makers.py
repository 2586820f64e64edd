"""Stand-ins for `make_one` in the tests of refits; other processes import them from here."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

from sealwright.errors import NotAFace
from sealwright.recipe import Recipe


def by_content(scan: Path, recipe: Recipe, out: Path) -> dict[str, Any]:
    """Do what the scan file says, and note the call in a log beside it."""
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
    if word == "wait" and not (scan.parent / "go").exists():
        time.sleep(120.0)
    (out / "body.stl").write_text(f"{recipe.title} for {word}")
    summary = {"verdict": "warn", "do_first": ["wall: thin. Thicken."], "failed": 0}
    return {"summary": summary, "facts": {"width_mm": 15.5, "note": "=1+1", "list": [1]}}
