"""Hostile files and options for the command line, the same for the same seed: nothing in them may do harm.

Every case is a list of words for the command. Files are damaged copies of small whole ones, and crafted ones
that swell, hang or lie.
"""

from __future__ import annotations

import gzip
import json
import os
import random
import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

WILD: tuple[Any, ...] = (
    None, True, "", "x", "\ud800", "\u202e", -1, 0, 10**400, 1e308, -0.0, [], {}, [[]], [0, 0, 0],
    [[0, 0, 0]] * 4, [[1e299, 0, 0]] * 5, {"kind": "x"}, "mm", "1" * 5000, [1] * 1000,
)  # fmt: skip
NUMBERS = (b"nan", b"inf", b"-1e999", b"9" * 400, b"0", b"-1", b"4294967295", b"1e38", b"", b"\xff\xfe")


@dataclass(frozen=True)
class Case:
    """One call of the command.

    Attributes
    ----------
    name : for reading.
    words : of the command line.
    out : folder that it may write, or None.
    """

    name: str
    words: tuple[str, ...]
    out: Path | None = None


def seeds() -> dict[str, bytes]:
    """A small bent sheet in every format, by name of file."""
    import numpy as np
    import trimesh

    u, v = np.meshgrid(np.linspace(-80, 80, 12), np.linspace(-110, 110, 12))
    points = np.stack([u, 0.004 * (u**2 + v**2), v], axis=-1).reshape(-1, 3)
    corner = np.arange(132).reshape(11, 12)[:, :11].ravel()
    faces = np.concatenate(
        [np.stack([corner, corner + 1, corner + 12], 1), np.stack([corner + 1, corner + 13, corner + 12], 1)]
    )
    mesh = trimesh.Trimesh(points, faces, process=False)
    found = {
        "a.stl": mesh.export(file_type="stl"),
        "b.stl": mesh.export(file_type="stl_ascii"),
        "a.ply": mesh.export(file_type="ply"),
        "b.ply": mesh.export(file_type="ply", encoding="ascii"),
        "a.obj": mesh.export(file_type="obj"),
        "a.glb": mesh.export(file_type="glb"),
    }
    return {name: data.encode() if isinstance(data, str) else bytes(data) for name, data in found.items()}


def damaged(data: bytes, chance: random.Random) -> bytes:
    """A copy with one to three damages."""
    for _ in range(chance.randint(1, 3)):
        data = chance.choice(DAMAGES)(bytearray(data or b"\0"), chance)
    return data


def _cut(data: bytearray, chance: random.Random) -> bytes:
    return bytes(data[: chance.randrange(len(data))])


def _flip(data: bytearray, chance: random.Random) -> bytes:
    for _ in range(chance.choice((1, 8, 64))):
        data[chance.randrange(len(data))] = chance.randrange(256)
    return bytes(data)


def _head(data: bytearray, chance: random.Random) -> bytes:
    for _ in range(4):
        data[chance.randrange(min(len(data), 300))] = chance.randrange(256)
    return bytes(data)


def _count(data: bytearray, chance: random.Random) -> bytes:
    place = chance.randrange(min(len(data), 400))
    data[place : place + 4] = struct.pack("<I", chance.choice((0, 0xFFFFFFFF, 0x7FFFFFFF, 1 << 24)))
    return bytes(data)


def _number(data: bytearray, chance: random.Random) -> bytes:
    words = bytes(data).split(b" ")
    for _ in range(chance.choice((1, 5, len(words)))):
        words[chance.randrange(len(words))] = chance.choice(NUMBERS)
    return b" ".join(words)


def _again(data: bytearray, chance: random.Random) -> bytes:
    low = chance.randrange(len(data))
    piece = bytes(data[low : low + chance.choice((50, 1000, 20_000))])
    place = chance.randrange(len(data))
    return bytes(data[:place]) + piece * chance.choice((1, 2, 40)) + bytes(data[place:])


def _noise(data: bytearray, chance: random.Random) -> bytes:
    return bytes(data[:100]) + chance.randbytes(chance.choice((0, 10, 5000)))


def _lines(data: bytearray, chance: random.Random) -> bytes:
    lines = bytes(data).splitlines(keepends=True)
    chance.shuffle(lines)
    return b"".join(lines)


DAMAGES: tuple[Callable[[bytearray, random.Random], bytes], ...] = (
    _cut, _flip, _head, _count, _number, _again, _noise, _lines,
)  # fmt: skip


def swelling() -> Iterator[tuple[str, bytes]]:
    """Crafted files that are small and would grow, or are packed."""
    yield "bomb.stl", b"\0" * 80 + struct.pack("<I", 2**31 - 1) + b"\0" * 5000
    many = "ply\nformat ascii 1.0\nelement vertex {0}\nproperty float x\nproperty float y\nproperty float z\n"
    many += "element face {0}\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n"
    for count in (10**9, 10**12, 3_999_999):
        yield f"count{count}.ply", many.format(count).encode()
    yield (
        "lists.ply",
        many.format(3).replace("uchar int", "uint int").encode() + b"0 0 0\n0 0 0\n4000000000 0\n",
    )
    yield "index.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 2000000000\nf -9 -8 -7\n"
    yield "fan.obj", b"v 0 0 0\n" * 10 + b"f " + b"1 " * 400_000
    yield "long.obj", b"v " + b"1" * 3_000_000 + b" 0 0\nf 1 1 1\n"
    whole = seeds()["a.stl"]
    yield "packed.stl", gzip.compress(whole)
    yield "packed.glb", b"DRACO\2\2" + whole
    for name, tree in _scenes():
        yield f"{name}.glb", _glb(tree)


def _scenes() -> Iterator[tuple[str, dict[str, Any]]]:
    table = {"componentType": 5126, "count": 3, "type": "VEC3"}
    base: dict[str, Any] = {
        "asset": {"version": "2.0"},
        "accessors": [table],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
    }
    yield "instances", {**base, "nodes": [{"children": list(range(1, 20_001))}, *[{"mesh": 0}] * 20_000]}
    yield "pieces", {**base, "meshes": [{"primitives": base["meshes"][0]["primitives"] * 5000}]}
    yield "nested", {**base, "nodes": [*({"children": [n + 1]} for n in range(100_000)), {"mesh": 0}]}
    yield "ring", {**base, "nodes": [{"children": [0]}]}
    yield "huge", {**base, "accessors": [{**table, "count": 2**31}]}
    yield "zero", {**base, "nodes": [{"mesh": 0, "matrix": [0.0] * 16}]}
    yield "draco", {**base, "extensionsRequired": ["KHR_draco_mesh_compression"]}
    yield "no-mesh", {**base, "nodes": [{"mesh": 9}]}
    yield "types", {**base, "accessors": "x", "meshes": {"a": 1}}
    yield "sparse", {**base, "accessors": [{**table, "count": 10**9, "sparse": {"count": 1}}]}


def _glb(tree: dict[str, Any]) -> bytes:
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    body = struct.pack("<II", len(text), 0x4E4F534A) + text
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def texts(whole: dict[str, Any], chance: random.Random) -> bytes:
    """A damaged JSON file of decisions, landmarks or options."""
    kind = chance.randrange(6)
    if kind == 0:
        return damaged(json.dumps(whole).encode(), chance)
    if kind == 1:
        return chance.choice(
            (
                b"[" * 100_000,
                b'{"a":' * 5000,
                b"\xef\xbb\xbf{}",
                b"\xff\xfe{\0}\0",
                b"",
                b"null",
                b"NaN",
                b'{"a":1,"a":2}',
            )
        )
    changed = json.loads(json.dumps(whole))
    place = changed
    while True:
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        if not keys:
            break
        key = chance.choice(keys)
        if isinstance(place[key], dict | list) and chance.random() < 0.7:
            place = place[key]
            continue
        place[key] = chance.choice(WILD)
        break
    if isinstance(changed, dict) and kind == 2:
        changed[chance.choice(("", "x", "\ud800", "title"))] = chance.choice(WILD)
    return json.dumps(changed).encode("utf-8", "surrogatepass")


def file_cases(folder: Path, count: int, seed: int) -> list[Case]:
    """At least ``count`` cases with one hostile file each; the files are written into ``folder``."""
    from sealwright.recipe import Recipe, recipe_to_json

    chance = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    good = {name: folder / f"good-{name}" for name in seeds()}
    for name, data in seeds().items():
        good[name].write_bytes(data)
    sheet = str(good["a.stl"])
    cases = [Case(name, ("prepare", _file(folder / name, data))) for name, data in swelling()]
    cases += list(_special(folder, sheet))
    recipe = json.loads(recipe_to_json(Recipe()))
    marks = {"sellion": [0.0, 20.0, 60.0], "menton": [0, 25, -60], "pronasale": [0, 0, 20]}
    rows = [{"scan": "good-a.stl", "wearer": "A", "unit": "mm"}, {"scan": "good-b.ply", "known_length_mm": 5}]
    number = 0
    while len(cases) < count:
        number += 1
        which = chance.random()
        if which < 0.55:
            name = chance.choice(sorted(good))
            ending = chance.choice((name[-4:],) * 4 + (".stl", ".ply", ".obj", ".glb", ".txt"))
            path = _file(folder / f"{number}-{name[0]}{ending}", damaged(good[name].read_bytes(), chance))
            cases.append(Case(path, ("prepare", path)))
        elif which < 0.75:
            path = _file(folder / f"{number}-recipe.json", texts(recipe, chance))
            cases.append(Case(path, ("prepare", sheet, "--recipe", path)))
        elif which < 0.88:
            path = _file(folder / f"{number}-marks.json", texts(marks, chance))
            cases.append(Case(path, ("prepare", sheet, "--landmarks", path)))
        elif which < 0.94:
            path = _file(folder / f"{number}-patch.json", texts({"p": [1, 2, 3]}, chance))
            words = ("prepare", sheet, "--reference", "card", "--reference-patch", path)
            cases.append(Case(path, words))
        else:
            data = texts({"rows": rows}, chance).replace(b'{"rows": ', b"").removesuffix(b"}")
            if chance.random() < 0.4:
                data = damaged(b"scan,wearer,unit\r\ngood-a.stl,A,mm\r\ngood-b.ply,B,\r\n", chance)
            path, out = _file(folder / f"{number}-list.csv", data), folder / f"{number}-out"
            cases.append(Case(path, ("refit", "--list", path, "--out", str(out), "--workers", "0"), out))
    return cases


def _special(folder: Path, sheet: str) -> Iterator[Case]:
    """Things that are no files, for every reader."""
    places = [folder / "none.stl", folder]
    if os.name != "nt":
        pipe, ring, endless = folder / "pipe.stl", folder / "ring.stl", folder / "endless.stl"
        if not pipe.exists():
            os.mkfifo(pipe)
            ring.symlink_to(ring)
            endless.symlink_to("/dev/zero")
        places += [pipe, ring, endless]
    for place in places:
        yield Case(f"scan {place.name}", ("prepare", str(place)))
        yield Case(f"recipe {place.name}", ("prepare", sheet, "--recipe", str(place)))
        yield Case(f"landmarks {place.name}", ("prepare", sheet, "--landmarks", str(place)))
        out = folder / f"out-{place.name}"
        yield Case(f"list {place.name}", ("refit", "--list", str(place), "--out", str(out)), out)
        yield Case(
            f"second {place.name}", ("make", sheet, "--second-pose", str(place), "--out", str(out)), out
        )


def option_cases(folder: Path, count: int, seed: int) -> list[Case]:
    """Random words and values for every option of every command."""
    chance = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    good = _file(folder / "sheet.stl", seeds()["a.stl"])
    cases = []
    for number in range(count):
        command = chance.choice(
            ("prepare", "check", "make", "refit", "merge", "schema", "completion", "demo")
        )
        out = folder / f"out-{number}"
        words = [command]
        if command in ("prepare", "check", "make", "refit"):
            words += [chance.choice((good, good, good, "none.stl", "", "-", "--", str(folder)))]
        if command in ("make", "refit", "merge") and chance.random() < 0.9:
            words += [
                "--out",
                chance.choice((str(out),) * 6 + ("", good, f"{good}/x", "/proc/none/x", "\udcff")),
            ]
        if command == "demo":
            words += ["--wearer", "nobody", "--out", str(out)]
        for _ in range(chance.randrange(5)):
            words += _option(chance, good)
        cases.append(Case(f"options {number}", tuple(words), out))
    return cases


def _option(chance: random.Random, good: str) -> list[str]:
    value = (
        "",
        "x",
        "0",
        "-1",
        "nan",
        "1e999",
        "9" * 400,
        "\udcff",
        "a\x01b",
        good,
        "-5,1,2",
        "1,2",
        "card",
        "bash",
    )
    names = (
        "--unit", "--known-length", "--reference", "--reference-patch", "--landmarks", "--recipe", "--wearer",
        "--date", "--second-pose", "--list", "--workers", "--no-pictures", "--replace", "--labels-from-names",
        "--help", "--version", "--nonsense", "recipe",
    )  # fmt: skip
    if chance.random() < 0.25:
        points = ("-1,2,3", "4,5,6", "0,0,0", "nan,0,0", "1,2", "-1e3,.5,-.5", "x")
        return [
            "--known-length",
            chance.choice(("10", "0", "-3")),
            "--between",
            chance.choice(points),
            chance.choice(points),
        ]
    if chance.random() < 0.2:
        return [
            "--reference",
            chance.choice(("card", "120x80", "1x1")),
            "--reference-patch",
            chance.choice(("-1,2,3,90", "0,0,0,60")),
        ]
    return [chance.choice(names), *([chance.choice(value)] if chance.random() < 0.8 else [])]


def _file(path: Path, data: bytes) -> str:
    path.write_bytes(data)
    return str(path)
