"""What each folder of a refit says of itself, and whether that is still true."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import NotRequired, TypedDict, cast

FORMAT = "sealwright-refit-record-2"
RECORD = "record.json"
PASSING = ("unwritable-file", "out-of-memory", "backend-unavailable")
"""Refusals that say nothing of scan and recipe: they are tried again."""

Plain = int | float | str | bool


class Record(TypedDict):
    """What is known of one wearer of a refit, as it is stored.

    ``state`` is "made", "refused", "fault" or "changed", and "" while nothing is known; ``values`` are the
    columns of the table; ``files`` are hashes by name; ``error`` is a refusal as plain data.
    """

    format: NotRequired[str]
    key: str
    folder: str
    identity: dict[str, str]
    pictures: NotRequired[bool]
    state: str
    verdict: str
    reasons: list[str]
    values: dict[str, Plain]
    error: NotRequired[dict[str, object]]
    traceback: NotRequired[list[str]]
    files: NotRequired[dict[str, str]]


class Found(TypedDict):
    """What working on a wearer has found; it goes into the record."""

    state: str
    verdict: str
    reasons: list[str]
    values: dict[str, Plain]
    error: NotRequired[dict[str, object]]
    traceback: NotRequired[list[str]]


def record_key(identity: Mapping[str, str]) -> str:
    """The key of a result: hash of scan, recipe and label."""
    told = (identity["scan_sha256"], identity["recipe_sha256"], identity["wearer"])
    return hashlib.sha256("\0".join(told).encode()).hexdigest()


def record_bytes(record: Record) -> bytes:
    """A record as it is stored."""
    return (json.dumps(record, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def read_record(folder: Path) -> Record | None:
    """The record in a folder; None where there is none of this format that agrees with itself."""
    try:
        record = json.loads((folder / RECORD).read_text(encoding="utf-8"))
        sound = record["format"] == FORMAT and record["key"] == record_key(record["identity"])
        sound = sound and record["state"] in ("made", "refused", "fault")
        sound = sound and all(isinstance(record[k], dict) for k in ("files", "values", "identity"))
        sound = sound and isinstance(record["reasons"], list) and isinstance(record["verdict"], str)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    return cast(Record, record) if sound else None


def hashes_in(folder: Path) -> dict[str, str]:
    """SHA-256 of every file in a folder but the record, by name; empty where there is no folder."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.is_file() and not path.is_symlink() and path != folder / RECORD:
            with path.open("rb") as stream:
                found[path.relative_to(folder).as_posix()] = hashlib.file_digest(stream, "sha256").hexdigest()
    return found


def what_changed(folder: Path, record: Record) -> str:
    """How a folder differs from its record, in words that follow its name; "" where it does not."""
    if record["folder"] != folder.name:
        return f"was called {record['folder']} when it was made"
    try:
        there = hashes_in(folder)
    except OSError as error:
        return f"cannot be read ({error.strerror or error})"
    links = [p.name for p in folder.rglob("*") if p.is_symlink()]
    changed = sorted({n for n in there.keys() & record["files"].keys() if there[n] != record["files"][n]})
    lost, foreign = (
        sorted(record["files"].keys() - there.keys()),
        sorted(there.keys() - record["files"].keys()),
    )
    told = [("changed", changed), ("lost", lost), ("foreign", [*foreign, *links])]
    words = [f"{word}: {', '.join(names[:3])}" for word, names in told if names]
    return f"is no longer as it was made ({'; '.join(words)})" if words else ""


def records_in(out_dir: Path) -> dict[str, Record]:
    """All records in a refit's folder, by name of folder; one that is no longer true says so instead."""
    found: dict[str, Record] = {}
    if not out_dir.is_dir():
        return found
    for folder in sorted(p for p in out_dir.iterdir() if p.is_dir() and not p.name.startswith(".")):
        record = read_record(folder)
        if record is None:
            continue
        why = what_changed(folder, record)
        found[folder.name] = record if not why else changed_record(record, folder.name, why)
    return found


def changed_record(record: Record, name: str, why: str) -> Record:
    """The record of a folder that was changed by hand: it vouches for nothing."""
    reason = f"The folder {name} {why}: it is not vouched for. Make it again elsewhere."
    return {
        **record,
        "folder": name,
        "state": "changed",
        "verdict": "changed",
        "reasons": [reason],
        "values": {},
    }


def holds(record: Record, identity: Mapping[str, str], pictures: bool) -> bool:
    """Whether an earlier result is what a run would make now, so that it need not work again."""
    if record["state"] == "refused":
        wanted = record.get("error", {}).get("code") not in PASSING
    else:
        wanted = record["state"] == "made" and (record.get("pictures", True) or not pictures)
    keys = ("scan_sha256", "recipe_sha256", "options_sha256", "wearer", "version")
    return wanted and all(record["identity"].get(key) == identity[key] for key in keys)
