"""One wearer of a refit, in a process of its own: a whole folder with its record, or the reason why not."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import threading
import traceback
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from multiprocessing import connection, parent_process
from pathlib import Path
from typing import Any

from .. import __version__
from ..errors import DesignError, UnreadableFile, UnwritableFile, Where
from ..export.atomic import write_file
from ..recipe import Recipe, recipe_from_json

FORMAT = "sealwright-refit-record-1"
RECORD = "record.json"

MakeOne = Callable[[Path, Recipe, Path], Mapping[str, Any]]
"""``make_one(scan_path, recipe, out_dir)``: writes a folder, gives a small verdict, raises `DesignError`."""


@dataclass(frozen=True)
class Task:
    """One wearer.

    Attributes
    ----------
    name : name of the wearer's folder.
    scan : the scan file.
    folder : where the result belongs.
    recipe_json : the recipe as text.
    """

    name: str
    scan: Path
    folder: Path
    recipe_json: str

    @property
    def partial(self) -> Path:
        """Folder of an unfinished wearer; left behind by a kill, and swept by the next run."""
        return self.folder.with_name(f".{self.name}.partial")


def exit_when_parent_dies() -> None:
    """End this process when the one that started it is gone: a killed refit leaves nobody working on."""
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        connection.wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def fingerprint(task: Task) -> dict[str, str]:
    """What a result depends on: scan, recipe and version.

    Raises
    ------
    UnreadableFile : the scan cannot be read.
    """
    try:
        with task.scan.open("rb") as stream:
            scan = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise UnreadableFile(
            f"The scan {task.scan.name} cannot be read: {error.strerror or error}.",
            Where("scan file", key=task.scan.name),
            "Give the path of a scan file.",
        ) from error
    recipe = hashlib.sha256(task.recipe_json.encode("utf-8")).hexdigest()
    return {"scan_sha256": scan, "recipe_sha256": recipe, "made_with": __version__}


def valid_earlier_record(task: Task) -> dict[str, Any] | None:
    """The record of an earlier run that still holds: same scan, recipe and version, and not our own fault."""
    try:
        record = json.loads((task.folder / RECORD).read_text(encoding="utf-8"))
        wanted = {"format": FORMAT, **fingerprint(task)}
    except (OSError, ValueError, UnreadableFile):
        # No record, a broken one, or no scan to compare with: the wearer is worked on again.
        return None
    if not isinstance(record, dict) or record.get("state") not in ("made", "refused"):
        return None
    return record if all(record.get(key) == value for key, value in wanted.items()) else None


def work(task: Task, make_one: MakeOne) -> dict[str, Any]:
    """Make one wearer and give its record; faults go into the record and stop nobody else.

    The folder appears under its name only with everything in it, the record last.
    """
    record: dict[str, Any] = {"format": FORMAT, "wearer": task.name, "scan": task.scan.name}
    try:
        record |= fingerprint(task)
        _require_ours(task.folder)
        _swept(task.partial)
        task.partial.mkdir(parents=True)
        record |= _verdict(make_one(task.scan, recipe_from_json(task.recipe_json), task.partial))
    except DesignError as refusal:
        record |= {"state": "refused", "verdict": "refused", "reasons": [refusal.paragraph()]}
        record |= {"values": {}, "error": refusal.as_dict()}
    except Exception as error:  # the table must say it whatever it is; the traceback goes into the record
        text = f"{type(error).__name__}: {error}"
        record |= {"state": "fault", "verdict": "fault", "reasons": [f"Our fault, please report: {text}"]}
        record |= {"values": {}, "traceback": traceback.format_exc().splitlines()}
    return _stored(task, record)


def process_died_record(task: Task) -> dict[str, Any]:
    """The record of a wearer whose process died (no memory left, or a crash in a library)."""
    record = {"format": FORMAT, "wearer": task.name, "scan": task.scan.name, "state": "fault"}
    reason = "The process of this scan died, from lack of memory or a crash: try it alone, or thin the scan."
    return _stored(task, {**record, "verdict": "fault", "reasons": [reason], "values": {}})


def _stored(task: Task, record: dict[str, Any]) -> dict[str, Any]:
    """Put the record into the folder and the folder in its place; a failed wearer keeps the record alone."""
    data = (json.dumps(record, indent=1, ensure_ascii=False) + "\n").encode("utf-8")
    try:
        if record["state"] != "made":
            _swept(task.partial)
        write_file(task.partial / RECORD, data)
        _swept(task.folder)
        task.partial.rename(task.folder)
    except (OSError, UnwritableFile) as error:
        shutil.rmtree(task.partial, ignore_errors=True)
        text = f"The folder of this wearer cannot be written: {error}"
        return {**record, "state": "fault", "verdict": "fault", "reasons": [text]}
    return record


def _require_ours(folder: Path) -> None:
    """Refuse to replace a folder of anything but results of a refit.

    Raises
    ------
    UnwritableFile : the folder holds other things.
    """
    ours = not folder.exists() or folder.name.endswith(".partial") or (folder / RECORD).is_file()
    if not ours and not (folder.is_dir() and not any(folder.iterdir())):
        raise UnwritableFile(
            f"The folder {folder.name} holds things that no refit has written.",
            Where("result folder", key=folder.name),
            "Choose an empty folder for the results.",
        )


def _swept(folder: Path) -> None:
    """Remove what an earlier run left."""
    _require_ours(folder)
    if folder.exists():
        shutil.rmtree(folder)


def _verdict(outcome: Mapping[str, Any]) -> dict[str, Any]:
    """State, verdict, reasons and plain values of what ``make_one`` gave."""
    summary = outcome.get("summary", outcome)
    reasons = [str(text) for text in summary.get("do_first", summary.get("reasons", []))]
    values = {
        key: value
        for part in (summary, outcome.get("facts", {}))
        for key, value in part.items()
        if isinstance(value, int | float | str | bool) and key != "verdict"
    }
    return {
        "state": "made",
        "verdict": str(summary.get("verdict", "made")),
        "reasons": reasons,
        "values": values,
    }
