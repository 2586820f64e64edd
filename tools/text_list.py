"""Write blender_addon/languages/texts.json: every text on the screen that can be said in another language.

``python tools/text_list.py`` writes it; ``--check`` only says whether it is up to date. Read from the code:
labels, tooltips and choices of operators, panels, menus and properties, the values of a recipe, and whole
sentences of the panels; those with a number in them as templates of `told`; names of landmarks and checks.
What the core says besides stays English.
"""

from __future__ import annotations

import ast
import json
import re
import tomllib
from collections.abc import Iterator
from typing import Any

from made_page import write_or_check
from panel_doc import ADDON, label_module
from recipe_fields import fields_of

PAGE = ADDON / "languages" / "texts.json"
SHOWN = ("name", "description", "text", "heading")  # what Blender shows of a call's arguments
NAME = re.compile("[a-z_]+")  # of something in the code, not for people
TABLES = ("WORDS", "COUNTED")  # of what is said of changes and verdicts
KINDS = ("_OT_", "_MT_", "_PT_", "_FH_", "_GGT_")
SENTENCES = (
    "jobs/state.py",
    "ui/choices.py",
    "ui/header.py",
    "ui/results.py",
    "ui/trust.py",
    "view/choices.py",
)


def texts() -> list[str]:
    """All texts, in the order of the alphabet."""
    from sealwright.recipe import Recipe

    found = set(of_fields(fields_of(Recipe), label_module()))
    for path in sorted(ADDON.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found.update(of_module(tree))
        if path.relative_to(ADDON).as_posix() in SENTENCES:
            found.update(sentences(tree))
        if path.parent.name == "ui":
            found.update(headings(tree))
    found.update(of_core())
    for path in (ADDON / "recipes").glob("*.json"):
        found.add(label_module().titled(path.stem.replace("-", " ")))
        found.add(json.loads(path.read_text(encoding="utf-8"))["about"])
    return sorted(text for text in found if any(c.isalpha() for c in text) and not NAME.fullmatch(text))


def of_core() -> Iterator[str]:
    """Names of landmarks and checks, which the core says and the panels show."""
    from sealwright.scan.landmark_names import PLAIN

    yield from PLAIN.values()
    with (ADDON.parent / "core/sealwright/verdicts/sentences.toml").open("rb") as file:
        yield from (topic for topic in topics(tomllib.load(file)) if "{" not in topic)


def topics(table: Any) -> Iterator[str]:
    """Every "topic" in tables of tables."""
    for key, value in table.items() if isinstance(table, dict) else ():
        if key == "topic":
            yield value
        yield from topics(value)


def of_fields(fields: list[dict[str, Any]], labels: Any) -> Iterator[str]:
    """Labels, reasons and choices of recipe values; names of inner sections."""
    for field in fields:
        yield labels.label_of(field)
        yield field["doc"].rstrip(".")
        if field["kind"] in ("section", "sections"):
            yield labels.titled(field["name"].replace("_", " "))
            yield from of_fields(field["fields"], labels)
        elif field["kind"] == "choice":
            plain = (option.replace("_", " ").replace("-", " ") for option in field["options"])
            yield from (labels.titled(name) for name in field["names"] or plain)


def of_module(tree: ast.Module) -> Iterator[str]:
    """Labels and tooltips of classes, shown arguments of calls, items of choices."""
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef) and any(kind in node.name for kind in KINDS):
            if "_PT_" not in node.name:
                yield ast.get_docstring(node) or ""
            yield from (
                line.value.value
                for line in node.body
                if isinstance(line, ast.Assign)
                and isinstance(line.targets[0], ast.Name)
                and line.targets[0].id in ("bl_label", "title")
                and isinstance(line.value, ast.Constant)
            )
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            if node.targets[0].id in TABLES:
                yield from (said for part in ast.walk(node.value) for said in constants(part))
        elif isinstance(node, ast.Call):
            if isinstance(node.func, ast.Name) and node.func.id == "told" and node.args:
                yield from constants(node.args[0])
            yield from (said for key in node.keywords if key.arg in SHOWN for said in constants(key.value))
        elif isinstance(node, ast.Dict):
            pairs = zip(node.keys, node.values, strict=True)
            yield from (said for key, value in pairs if is_shown(key) for said in constants(value))
        elif isinstance(node, ast.Tuple) and len(node.elts) == 3 and all(map(is_text, node.elts)):
            yield from (said for item in node.elts[1:] for said in constants(item))


def sentences(tree: ast.Module) -> Iterator[str]:
    """Whole sentences of a module but what documents it; not the pieces of one that is put together."""
    pieces = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    pieces |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}  # stands by itself
    for node in ast.walk(tree):
        for said in constants(node):
            if id(node) not in pieces and " " in said and said.endswith("."):
                yield said


def headings(tree: ast.Module) -> Iterator[str]:
    """Headings in tables of the panels' own code."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Dict):
            yield from (
                said
                for value in node.values
                for said in constants(value)
                if said[:1].isupper() and " " in said
            )


def is_shown(key: ast.expr | None) -> bool:
    """Whether this is the name of an argument whose value Blender shows."""
    return isinstance(key, ast.Constant) and key.value in SHOWN


def is_text(node: ast.expr) -> bool:
    """Whether this is a text as it stands."""
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def constants(node: ast.AST) -> Iterator[str]:
    """The text of a constant."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value


def text_page() -> str:
    """The whole file."""
    return json.dumps(texts(), indent=0, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    raise SystemExit(write_or_check(PAGE, text_page()))
