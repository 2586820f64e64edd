"""The folder of one design: a list of its files with hashes, so that two designs never mix.

``made.json`` says whose the folder is and what was written into it. Only files that still are as they were
written are ever replaced or removed; whatever else lies in the folder stays.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from ..errors import UnwritableFile, Where
from .atomic import Stage, made_folders, unwritable, write_files
from .identity import Identity
from .lock import folder_lock
from .shield import run_token, shielded

MANIFEST = "made.json"
FORMAT = "sealwright-folder-1"
STATES = ("whole", "parts", "unfinished")
_PARTS = (".stl", ".3mf")
_MOVE = "Move it away, or choose another folder; what was changed or is foreign is never deleted."


@dataclass(frozen=True)
class Manifest:
    """What a folder says of itself.

    Attributes
    ----------
    identity : of the design, as plain data.
    state : "whole"; "parts" while only the parts are written and report and pictures follow, which stays so
        when that was cut off; "unfinished" while files are exchanged, likewise.
    files : name -> hashes (SHA-256) that this program wrote under it; two while files are exchanged.
    """

    identity: Mapping[str, str]
    state: str
    files: Mapping[str, tuple[str, ...]]

    @property
    def whole(self) -> bool:
        """Whether everything is there that was asked for."""
        return self.state == "whole"

    def same_design(self) -> tuple[str, ...]:
        """See `Identity.same_design`."""
        keys = ("wearer", "scan_sha256", "options_sha256", "recipe_sha256")
        return tuple(str(self.identity.get(key, "")) for key in keys)


@dataclass(frozen=True)
class Share:
    """What a writing is of a design's folder: all of it, or some.

    Attributes
    ----------
    state : said of the folder then: "whole", or "parts" where more follows.
    keep : what is there of the very same design, made by the same version, stays beside what is written.
    """

    state: str = "whole"
    keep: bool = False


WHOLE = Share()


def require_writable(folder: Path) -> None:
    """Refuse a folder that cannot be written to, before any work is done; nothing is left behind.

    Raises
    ------
    UnwritableFile : a file is in the way, there is no right, or no room.
    """
    here = folder.absolute()
    try:
        while not here.exists():
            here = here.parent
        if not here.is_dir():
            raise NotADirectoryError(0, f"{here.name} is a file, no folder")
        with tempfile.TemporaryFile(dir=here) as probe:
            probe.write(b"\0" * 4096)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UnwritableFile(
            f"The folder {folder.name or folder} cannot be written to: {reason}.",
            Where("result folder", key=str(folder)),
            "Choose a folder you may write to, with enough free space.",
        ) from error


def read_manifest(folder: Path) -> Manifest | None:
    """The list of files in a folder; None where there is none.

    Raises
    ------
    UnwritableFile : there is one that cannot be read: nobody knows whose the folder is.
    """
    path = folder / MANIFEST
    if not path.exists():
        return None
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        files = {str(n): tuple(str(h) for h in hashes) for n, hashes in data["files"].items()}
        identity = {str(k): str(v) for k, v in data["identity"].items()}
        if data["format"] != FORMAT:
            raise ValueError(f"format {data['format']}")
        if not all(_stays_inside(folder, name) for name in files):
            raise ValueError("a name that leads out of the folder")
        if data["state"] not in STATES:
            raise ValueError(f"state {data['state']}")
        return Manifest(identity, data["state"], files)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise UnwritableFile(
            f"The list {MANIFEST} in the folder cannot be read, so nobody knows whose design this is.",
            Where("result folder", key=str(folder)),
            _MOVE,
        ) from error


def require_free_folder(
    folder: Path, identity: Identity, replace: bool = False, scan: Path | None = None
) -> None:
    """Refuse a folder with another design, with changed files, or with parts of unknown origin.

    Parameters
    ----------
    folder : where the design is to be written; it need not exist.
    identity : of the design.
    replace : another design that this program made there may be replaced.
    scan : the scan file, which may lie in the folder.

    Raises
    ------
    UnwritableFile : see above.
    """
    if not folder.is_dir():
        return
    known = read_manifest(folder)
    if known is not None and not replace and known.same_design() != identity.same_design:
        wearer = known.identity.get("wearer") or "not named"
        raise UnwritableFile(
            f"The folder {folder.name} holds another design (wearer {wearer}, scan "
            f"{known.identity.get('scan_name', '?')}, made {known.identity.get('date', '?')}).",
            Where("result folder", key=str(folder)),
            "Choose another folder, or say --replace to clear what was made there and nothing else.",
        )
    listed = known.files if known is not None else {}
    for name, hashes in listed.items():
        path = folder / name
        if os.path.lexists(path) and _hash_of(path) not in hashes:
            raise _in_the_way(path, "was changed after it was made")
    for path in sorted(folder.iterdir()):
        stray = path.suffix.lower() in _PARTS and path.name not in listed
        if stray and not (scan is not None and scan.exists() and path.samefile(scan)):
            raise _in_the_way(
                path, "was not made by this program here, and parts of two designs must not mix"
            )


def write_folder(
    folder: Path,
    files: Mapping[str, bytes],
    identity: Identity,
    replace: bool = False,
    scan: Path | None = None,
    share: Share = WHOLE,
) -> list[Path]:
    """Write a design's folder with its list of files: all of it, or nothing.

    A folder that is not there appears whole. In one that is there, files of the earlier design go and the new
    ones come while `made.json` says "unfinished" and lists both, so that a cut never leaves doubt.
    A file that is there with the same bytes is not touched.

    Returns
    -------
    What was asked to be written, and the list.

    Raises
    ------
    UnwritableFile : see `require_free_folder`; or the folder cannot be written to.
    """
    plain: dict[str, tuple[str, ...]] = {name: (_hash(data),) for name, data in sorted(files.items())}
    listed = {**files, MANIFEST: _manifest_bytes(identity, share.state, plain)}
    if not os.path.lexists(folder):
        _appears(folder, listed)
        return [folder / name for name in listed]
    if not folder.is_dir():
        raise unwritable(folder, NotADirectoryError(0, "a file has this name"))
    with folder_lock(folder):
        require_free_folder(folder, identity, replace, scan)
        known = read_manifest(folder)
        old = dict(known.files) if known is not None else {}
        if share.keep and known is not None and known.state != "unfinished" and _very_same(known, identity):
            plain = {**old, **plain}
            listed[MANIFEST] = _manifest_bytes(identity, share.state, plain)
        for name in files:
            if name not in old and os.path.lexists(folder / name):
                raise _in_the_way(folder / name, "was not made by this program here")
        stay = _there(folder, {name: hashes for name, hashes in plain.items() if old.get(name) == hashes})
        listed = {name: data for name, data in listed.items() if name not in stay}
        _exchanged(folder, listed, {name: old[name] for name in old if name not in stay}, (identity, stay))
    return [folder / name for name in (*files, MANIFEST)]


def _appears(folder: Path, files: Mapping[str, bytes]) -> None:
    """A new folder, built under a hidden name and renamed once."""
    stage = folder.with_name(f".{run_token()}.part")
    above: list[Path] = []
    try:
        above = made_folders(folder.parent)
        shutil.rmtree(stage, ignore_errors=True)  # of a killed run whose number came again
        write_files({stage / name: data for name, data in files.items()})
        os.rename(stage, folder)  # noqa: PTH104 - fails where another run was quicker
    except OSError as error:
        raise unwritable(folder, error) from error
    finally:
        shutil.rmtree(stage, ignore_errors=True)
        _without_empty(above)


def _very_same(known: Manifest, identity: Identity) -> bool:
    """Whether a folder holds the same design of the same version."""
    return known.identity.get("design_id") == identity.design_id


def _there(folder: Path, files: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """Those of some listed files that are there as listed."""
    return {name: hashes for name, hashes in files.items() if (_hash_of(folder / name),) == hashes}


def holds(folder: Path, files: Mapping[str, bytes], identity: Identity) -> bool:
    """Whether a folder holds these files of the very same design already, whole."""
    known = read_manifest(folder) if folder.is_dir() else None
    if known is None or not _very_same(known, identity) or known.state == "unfinished":
        return False
    plain: dict[str, tuple[str, ...]] = {name: (_hash(data),) for name, data in files.items()}
    return all(known.files.get(name) == plain[name] for name in plain) and len(_there(folder, plain)) == len(
        plain
    )


def _exchanged(
    folder: Path,
    files: Mapping[str, bytes],
    old: Mapping[str, tuple[str, ...]],
    whose: tuple[Identity, Mapping[str, tuple[str, ...]]],
) -> None:
    """New files for old ones in a folder that is there: all are stored first, then their names change.

    ``whose`` is the identity, and the files that stay.
    """
    identity, stay = whose
    new = {name: (_hash(data),) for name, data in files.items() if name != MANIFEST}
    both = {**stay, **{name: (*old.get(name, ()), *new.get(name, ())) for name in {**old, **new}}}
    stage = Stage()
    try:
        stage.add(folder / MANIFEST, _manifest_bytes(identity, "unfinished", both))
        for name in new:
            stage.add(folder / name, files[name])
        stage.add(folder / MANIFEST, files[MANIFEST])
        with shielded(folder):
            stage.put(1 + len(new))
            _removed(folder, [name for name in old if name not in new])
            stage.put()
    except OSError as error:
        raise unwritable(folder, error) from error
    finally:
        stage.undo()


def _removed(folder: Path, names: list[str]) -> None:
    """Take away files, and folders in ``folder`` that are empty then."""
    for name in names:
        with suppress(OSError):
            (folder / name).unlink()
    _without_empty(sorted({(folder / name).parent for name in names} - {folder}))


def _without_empty(folders: list[Path]) -> None:
    for place in reversed(folders):
        with suppress(OSError):
            place.rmdir()


def _manifest_bytes(identity: Identity, state: str, files: Mapping[str, tuple[str, ...]]) -> bytes:
    data = {
        "format": FORMAT,
        "about": "What Sealwright wrote here, with SHA-256; used to tell designs apart. Do not edit.",
        "state": state,
        "identity": identity.as_dict(),
        "files": {name: list(hashes) for name, hashes in sorted(files.items())},
    }
    return (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def _stays_inside(folder: Path, name: str) -> bool:
    """Whether a listed name leads to a place in the folder, also through links."""
    pure = PurePosixPath(name)
    plain = not pure.is_absolute() and ".." not in pure.parts and "\\" not in name and ":" not in name
    return plain and (folder / name).parent.resolve().is_relative_to(folder.resolve())


def _in_the_way(path: Path, why: str) -> UnwritableFile:
    return UnwritableFile(f"The file {path.name} {why}.", Where("result folder", key=str(path)), _MOVE)


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _hash_of(path: Path) -> str:
    """The hash of a file; "" of what is none."""
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""
