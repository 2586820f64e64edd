"""The house rules of the core, measured on its sources: types are said, functions short, names documented."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from trials.places import ROOT

CORE = ROOT / "core" / "sealwright"
MOST_ANY = 40  # what is left speaks for data and libraries that have no types of their own
MOST_LINES = 60
MOST_PARAMETERS, MOST_EXCEPTIONS = 6, 5
Function = ast.FunctionDef | ast.AsyncFunctionDef


def modules() -> Iterator[tuple[str, ast.Module]]:
    """Every module of the core by its path in it."""
    for path in sorted(CORE.rglob("*.py")):
        yield path.relative_to(CORE).as_posix(), ast.parse(path.read_text(encoding="utf-8"))


def functions(tree: ast.AST) -> Iterator[Function]:
    """All functions and methods, nested ones too."""
    return (node for node in ast.walk(tree) if isinstance(node, Function))


def any_uses(tree: ast.AST) -> int:
    """How often ``Any`` is said; its import does not count."""
    return sum(isinstance(node, ast.Name) and node.id == "Any" for node in ast.walk(tree))


def lines(function: Function) -> int:
    """Lines of a function with head and docstring."""
    return (function.end_lineno or function.lineno) - function.lineno + 1


def parameters(function: Function) -> int:
    """Parameters that a caller may give; ``self`` and ``cls`` are none."""
    arguments = function.args
    named = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
    return len(named) - (bool(named) and named[0].arg in ("self", "cls"))


def undocumented(body: list[ast.stmt], owner: str = "") -> Iterator[str]:
    """Public functions, methods and classes of a module without a docstring."""
    for node in body:
        if not isinstance(node, Function | ast.ClassDef) or node.name.startswith("_"):
            continue
        if ast.get_docstring(node) is None:
            yield owner + node.name
        if isinstance(node, ast.ClassDef):
            yield from undocumented(node.body, f"{node.name}.")


def test_nothing_odd_lies_in_the_checkout():
    """A hostile run has left a folder here twice, under a name that is no text."""
    assert [path.name for path in ROOT.iterdir() if not re.fullmatch(r"[\w.-]+", path.name, re.ASCII)] == []


def test_types_are_said():
    found = {name: any_uses(tree) for name, tree in modules()}
    assert sum(found.values()) <= MOST_ANY, {name: n for name, n in found.items() if n}


def test_no_other_name_stands_for_any():
    """An alias would hide it from the count."""
    hidden = [
        f"{name}:{node.lineno}"
        for name, tree in modules()
        for node in ast.walk(tree)
        if (isinstance(node, ast.alias) and node.name == "Any" and node.asname)
        or (isinstance(node, ast.Attribute) and node.attr == "Any")
        or (isinstance(node, ast.Assign | ast.AnnAssign) and node.value and _is_alias(node.value))
    ]
    assert hidden == []


def _is_alias(value: ast.expr) -> bool:
    """Whether an assigned expression is a type made of ``Any``, as in ``Data = dict[str, Any]``."""
    return isinstance(value, ast.Name | ast.Subscript | ast.BinOp) and any_uses(value) > 0


def test_functions_are_short():
    found = {f"{name}:{f.name}": lines(f) for name, tree in modules() for f in functions(tree)}
    assert {name: n for name, n in found.items() if n > MOST_LINES} == {}


def test_few_functions_take_more_than_six_parameters():
    found = {f"{name}:{f.name}": parameters(f) for name, tree in modules() for f in functions(tree)}
    many = {name: n for name, n in found.items() if n > MOST_PARAMETERS}
    assert len(many) <= MOST_EXCEPTIONS, many


def missing(tree: ast.Module) -> list[str]:
    """Public names of a module without a docstring."""
    return list(undocumented(tree.body))


def test_public_names_are_documented():
    assert {name: found for name, tree in modules() if (found := missing(tree))} == {}


@pytest.mark.parametrize(
    ("source", "measure", "wanted"),
    [
        ("from typing import Any\nx: dict[str, Any] = {}\ndef f(a: Any) -> Any: ...", any_uses, 3),
        ("def f(a, /, b, *, c): ...", lambda t: parameters(next(functions(t))), 3),
        ("class C:\n    def m(self, a): ...", lambda t: parameters(next(functions(t))), 1),
        ("def f():\n    a = 1\n\n    return a", lambda t: lines(next(functions(t))), 4),
        ("class C:\n    'x'\n    def m(self): ...\n    def _n(self): ...", missing, ["C.m"]),
        ("def f():\n    'x'\n    def g(): ...", missing, []),
    ],
)
def test_the_measures_count_what_they_say(source, measure, wanted):
    assert measure(ast.parse(source)) == wanted


def test_the_tree_table_names_every_folder_and_no_other():
    """The table of folders in the contributor guide; and every folder says its one idea in its first line."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = [line for line in text.split("## Rules", 1)[0].splitlines() if line.startswith("| `")]
    named = {name for row in rows for name in re.findall(r"`([\w./*]+/)`", row.split("|")[1])}
    assert [
        one.name for one in packages(CORE) if not {f"core/sealwright/{one.name}/", f"{one.name}/"} & named
    ] == []
    bases = (ROOT, CORE, ROOT / "blender_addon")
    assert [name for name in named if not any((base / name).is_dir() for base in bases)] == []
    for package in packages(CORE, deep=True):
        assert ast.get_docstring(ast.parse((package / "__init__.py").read_text(encoding="utf-8"))), package


def packages(folder: Path, deep: bool = False) -> list[Path]:
    """Packages in a folder, or everywhere below it."""
    return sorted(path.parent for path in folder.glob("**/__init__.py" if deep else "*/__init__.py"))
