"""Coverage-guided fuzzing of everything that reads a file of the maker, with a time limit.

``pip install '.[fuzz]'`` once, then ``python tools/fuzz_readers.py stl --seconds 300``. Every input must be
read or refused by a `DesignError`; anything else stops the run and leaves the input in a file that is named.
Inputs that reached new code are kept in ``--corpus`` and are where the next run begins.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
KINDS = ("stl", "ply", "obj", "glb", "landmarks", "recipe")
MISSING = (
    "Fuzzing needs the library atheris, which is not installed for this Python ({version}).\n"
    "Install it with: pip install '.[fuzz]'. It has wheels for Linux and Python 3.11 to 3.13 only; on other\n"
    "systems the seeded damage of tests/core/scan/test_campaign.py still covers the readers.\n"
)


def seeds(kind: str) -> list[bytes]:
    """Small whole files of a kind to begin with."""
    if kind == "recipe":
        from sealwright.recipe import Recipe, recipe_to_json

        return [recipe_to_json(Recipe()).encode(), b'{"ports": [{"connection": {"kind": "plain"}}]}']
    if kind == "landmarks":
        return [b'{"sellion": [0, 1, 2], "menton": [1.5, -2, 3e1]}', b"{}"]
    from trials.damage_more import written
    from trials.shapes import sheet

    forms = {"stl": ("stl", "stl_ascii"), "ply": ("ply", "ply_ascii")}.get(kind, (kind,))
    return [written(sheet(3, 2), form) for form in forms]


def reader(kind: str, folder: Path):  # type: ignore[no-untyped-def]
    """A function of bytes that reads them as this kind and checks what it gets."""
    import numpy as np
    from sealwright.errors import DesignError
    from sealwright.mesh import trimesh_of
    from sealwright.recipe import recipe_from_json, recipe_to_json
    from sealwright.scan.landmarks.landmark_file import read_landmark_file
    from sealwright.scan.landmarks.landmark_set import given_landmarks
    from sealwright.scan.read.mesh_file import scan_from_bytes

    file, one = folder / "landmarks.json", trimesh_of(np.eye(3), [[0, 1, 2]])

    def read(data: bytes) -> None:
        try:
            if kind == "landmarks":
                file.write_bytes(data)
                for mark in given_landmarks(read_landmark_file(file), one).values():
                    assert np.isfinite(mark.point).all()
            elif kind == "recipe":
                recipe = recipe_from_json(data.decode("utf-8", "surrogateescape"))
                assert recipe_from_json(recipe_to_json(recipe)) == recipe
            else:
                mesh = scan_from_bytes(data, kind, f"fuzz.{kind}").mesh
                assert np.isfinite(mesh.vertices).all() and len(mesh.faces)
                assert mesh.faces.min() >= 0 and mesh.faces.max() < len(mesh.vertices)
        except DesignError as refusal:
            assert refusal.what and refusal.fix

    return read


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("kind", choices=KINDS)
    parser.add_argument("--seconds", type=int, default=120)
    parser.add_argument(
        "--corpus", type=Path, default=Path("out/fuzz"), help="kept inputs, one folder a kind"
    )
    parser.add_argument("--repeat", type=Path, help="run one input again, such as one that failed")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if asked.repeat:
            reader(asked.kind, Path(folder))(asked.repeat.read_bytes())
            return 0
        return fuzz(asked.kind, asked.seconds, asked.corpus / asked.kind, Path(folder))


def fuzz(kind: str, seconds: int, corpus: Path, folder: Path) -> int:
    try:
        import atheris
    except ImportError:
        sys.stderr.write(MISSING.format(version=sys.version.split()[0]))
        return 2
    with atheris.instrument_imports(include=["sealwright", "trimesh.exchange"]):
        read = reader(kind, folder)
        import trimesh.exchange.load  # noqa: F401
    corpus.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(seeds(kind)):  # only now: what is imported earlier is not watched
        (corpus / f"seed-{number}").write_bytes(data)
    options = [f"-max_total_time={seconds}", "-max_len=8192", "-rss_limit_mb=4096", "-timeout=120"]
    found = f"-artifact_prefix={corpus.parent}/{kind}-"
    atheris.Setup([sys.argv[0], *options, found, str(corpus)], read)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
