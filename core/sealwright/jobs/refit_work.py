"""One wearer of a refit, in a process of its own: a whole folder with its record, or the reason why not."""

from __future__ import annotations

import shutil
import traceback
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from ..errors import DesignError, UnreadableFile, UnwritableFile, Where
from ..export.atomic import is_unfinished, write_file
from ..export.identity import Identity
from ..recipe import Recipe, recipe_from_json
from .refit_record import (
    FORMAT,
    RECORD,
    Found,
    Record,
    hashes_in,
    read_record,
    record_bytes,
    record_key,
    what_changed,
)
from .source import Source

MakeOne = Callable[[Source, Recipe, Path, bool], Mapping[str, object]]
"""``make_one(source, recipe, out_dir, pictures)`` writes a folder and gives a small verdict."""


@dataclass(frozen=True)
class Task:
    """One wearer.

    Attributes
    ----------
    source : the scan, whose it is, and how it is read.
    identity : of the design.
    folder : where the result belongs.
    recipe_json : the recipe as text.
    pictures : whether pictures are made.
    """

    source: Source
    identity: Identity
    folder: Path
    recipe_json: str
    pictures: bool = True

    @property
    def key(self) -> str:
        """Of the content: scan, recipe and label; never a file name."""
        return record_key(self.identity.as_dict())

    @property
    def partial(self) -> Path:
        """Folder of an unfinished wearer; left behind by a kill, and swept by the next run."""
        return self.folder.with_name(f".{self.folder.name}.partial")

    @property
    def old(self) -> Path:
        """The earlier folder in the moment in which the new one takes its place."""
        return self.folder.with_name(f".{self.folder.name}.old")


def make_wearer(task: Task, make_one: MakeOne) -> Record:
    """Make one wearer and give its record; faults go into the record and stop nobody else.

    The folder appears under its name only with everything in it, the record last.
    """
    record = blank_record(task)
    try:
        _require_ours(task.folder)
        _remove_leftover(task.partial)
        task.partial.mkdir(parents=True)
        outcome = make_one(task.source, recipe_from_json(task.recipe_json), task.partial, task.pictures)
        _same_scan(outcome, task.identity)
        record = with_found(record, _outcome(outcome))
    except DesignError as refusal:
        record = with_found(record, refused(refusal))
    except MemoryError:
        text = "There was not enough memory: give fewer processes, or thin the scan."
        record = with_found(record, _fault(text))
    except Exception as error:  # the table must say it whatever it is; the traceback goes into the record
        text = f"{type(error).__name__}: {error}"
        fault = _fault(f"Our fault, please report: {text}")
        record = with_found(record, {**fault, "traceback": traceback.format_exc().splitlines()})
    except BaseException:  # stopped: nothing unfinished stays
        shutil.rmtree(task.partial, ignore_errors=True)
        raise
    return _stored(task, record)


def blank_record(task: Task) -> Record:
    """The record of a wearer of whom nothing is known yet."""
    return {
        "format": FORMAT,
        "key": task.key,
        "folder": task.folder.name,
        "identity": task.identity.as_dict(),
        "pictures": task.pictures,
        "state": "",
        "verdict": "",
        "reasons": [],
        "values": {},
    }


def with_found(record: Record, found: Found) -> Record:
    """A record with what working on its wearer has found."""
    return {**record, **found}


def _fault(reason: str) -> Found:
    return {"state": "fault", "verdict": "fault", "reasons": [reason], "values": {}}


def refused(refusal: DesignError) -> Found:
    """What a record says of a refusal."""
    return {
        "state": "refused",
        "verdict": "refused",
        "reasons": [refusal.paragraph()],
        "values": {},
        "error": refusal.as_dict(),
    }


def process_died_record(task: Task) -> Record:
    """The record of a wearer whose process died (no memory left, or a crash in a library)."""
    reason = "The process of this scan died, from lack of memory or a crash: try it alone, or thin the scan."
    return _stored(task, with_found(blank_record(task), _fault(reason)))


def _same_scan(outcome: Mapping[str, object], wanted: Identity) -> None:
    """Refuse a scan that changed between being looked at and being read."""
    read = outcome.get("identity") or {}
    if not isinstance(read, Mapping) or any(
        read.get(key, value) != value for key, value in wanted.as_dict().items() if key != "date"
    ):
        raise UnreadableFile(
            "The scan, or a file given with it, changed while it was in work.",
            Where("scan file", key=wanted.scan_name),
            "Run the same command again when the files are at rest.",
        )


def _stored(task: Task, record: Record) -> Record:
    """Put the record into the folder and the folder in its place; a failed wearer keeps the record alone."""
    try:
        if record["state"] != "made":
            _remove_leftover(task.partial)
        record["files"] = hashes_in(task.partial)
        write_file(task.partial / RECORD, record_bytes(record))
        _require_ours(task.folder)
        put_in_place(task)
    except (OSError, UnwritableFile) as error:
        shutil.rmtree(task.partial, ignore_errors=True)
        if record["state"] == "refused" and isinstance(error, UnwritableFile):
            return {**record, "folder": "", "files": {}}
        text = f"The folder of this wearer cannot be written: {error}"
        return {**record, "state": "fault", "verdict": "fault", "reasons": [text], "folder": "", "files": {}}
    return record


def put_in_place(task: Task) -> None:
    """The finished folder in place of the earlier one; `recovered` mends a cut between the names."""
    shutil.rmtree(task.old, ignore_errors=True)
    if task.folder.exists():
        task.folder.rename(task.old)
    task.partial.rename(task.folder)
    shutil.rmtree(task.old, ignore_errors=True)


def recovered(out_dir: Path) -> None:
    """Clear what a killed run left: unfinished folders go, a folder that was being replaced comes back."""
    for path in out_dir.glob(".*.old"):
        name = out_dir / path.name.removeprefix(".").removesuffix(".old")
        if not name.exists():
            with suppress(OSError):
                path.rename(name)
        elif read_record(path) is not None:
            shutil.rmtree(path, ignore_errors=True)
    for path in out_dir.glob(".*-??????????.partial"):
        shutil.rmtree(path, ignore_errors=True)
    for path in out_dir.glob(".*.part"):
        if is_unfinished(path):
            path.unlink(missing_ok=True)


def _require_ours(folder: Path) -> None:
    """Refuse to replace a folder of anything but unchanged results of a refit.

    Raises
    ------
    UnwritableFile : the folder holds other things.
    """
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return
    record = read_record(folder)
    why = "holds things that no refit has written" if record is None else what_changed(folder, record)
    if why:
        raise UnwritableFile(
            f"The folder {folder.name} {why}.",
            Where("result folder", key=folder.name),
            "Move it away, or choose another folder for the results; nothing in it was touched.",
        )


def _remove_leftover(folder: Path) -> None:
    """Remove the unfinished folder of an earlier run."""
    if folder.exists():
        shutil.rmtree(folder)


def _outcome(outcome: Mapping[str, object]) -> Found:
    """State, verdict, reasons and plain values of what ``make_one`` gave."""
    summary, facts = outcome.get("summary", outcome), outcome.get("facts", {})
    if not isinstance(summary, Mapping) or not isinstance(facts, Mapping):
        raise TypeError("make_one gave no mapping")
    reasons = [str(text) for text in summary.get("do_first", summary.get("reasons", []))]
    values = {
        str(key): value
        for part in (summary, facts)
        for key, value in part.items()
        if isinstance(value, int | float | str | bool) and key not in ("verdict", "headline")
    }
    return {
        "state": "made",
        "verdict": str(summary.get("verdict", "made")),
        "reasons": reasons,
        "values": values,
    }
