"""Write docs/errors.md from the code, so that no refusal is missing: every class, and every message there is.

``python tools/error_doc.py`` writes it; ``--check`` only says whether it is up to date. The classes are the
subclasses of ``DesignError`` in the core and in the add-on; their messages are read from the places where
they are raised, without running anything (the add-on needs Blender).
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from made_page import write_or_check

REPO = Path(__file__).resolve().parents[1]
PAGE = REPO / "docs" / "errors.md"
SOURCES = (REPO / "core" / "sealwright", REPO / "blender_addon")
BASE = "DesignError"
HEAD = """# Every refusal

When a step cannot be done, Sealwright says what is wrong, where, and how to mend it, and leaves the scene
and all files as they were. In Blender the message stays at the top of the tab; **Show Place** turns the view
to the place where there is one, and the cross puts the message away. The command line prints the same words
and ends with exit code 2. Each kind has a name that never changes. "…" stands for a number or a name.

Anything else, a message with lines of code in it, is our fault: please report it.

*Made by `tools/error_doc.py` from the code.*
"""


@dataclass
class Kind:
    """One class of refusal: its code, its meaning, and (what, fix) of every place that raises it."""

    code: str
    doc: str
    messages: set[tuple[str, str]] = field(default_factory=set)


def trees() -> Iterator[ast.Module]:
    """All modules of core and add-on, parsed."""
    for folder in SOURCES:
        for path in sorted(folder.rglob("*.py")):
            yield ast.parse(path.read_text(encoding="utf-8"))


def kinds() -> dict[str, Kind]:
    """Class name -> kind, in the order of the code."""
    found: dict[str, Kind] = {}
    for tree in trees():
        for node in tree.body:
            bases = {b.id for b in getattr(node, "bases", []) if isinstance(b, ast.Name)}
            if isinstance(node, ast.ClassDef) and bases & {BASE, *found}:
                found[node.name] = Kind(code_of(node), " ".join((ast.get_docstring(node) or "").split()))
    return found


def code_of(node: ast.ClassDef) -> str:
    """The value of the class attribute ``code``.

    Raises
    ------
    SystemExit : there is none; every kind must have a name of its own.
    """
    for line in node.body:
        if isinstance(line, ast.Assign) and ast.unparse(line.targets[0]) == "code":
            return str(ast.literal_eval(line.value))
    raise SystemExit(f"{node.name} has no code.")


def text_of(node: ast.expr) -> str | None:
    """A string as it stands in the code, "…" for what is filled in; None when it is made elsewhere."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        parts = (p.value if isinstance(p, ast.Constant) else "…" for p in node.values)
        return "".join(str(part) for part in parts)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        left, right = text_of(node.left), text_of(node.right)
        return None if left is None and right is None else f"{left or '…'}{right or '…'}"
    if isinstance(node, ast.IfExp):
        return text_of(node.body)
    return None


def collect(found: dict[str, Kind]) -> None:
    """Add the messages of every call of a kind to it."""
    for tree in trees():
        for node in ast.walk(tree):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
                continue
            if node.func.id in found and len(node.args) == 3:
                what, fix = text_of(node.args[0]), text_of(node.args[2])
                if what is not None and what.strip("… "):
                    found[node.func.id].messages.add((what, fix or "see the message"))


def error_page() -> str:
    """The whole page."""
    found = kinds()
    collect(found)
    rows = sorted(found.values(), key=lambda kind: kind.code)
    codes = [kind.code for kind in rows]
    if len(set(codes)) != len(codes):
        raise SystemExit(f"Two kinds of refusal have one code: {codes}")
    table = "".join(f"| [`{kind.code}`](#{kind.code}) | {cell(kind.doc)} |\n" for kind in rows)
    return f"{HEAD}\n| kind | meaning |\n| --- | --- |\n{table}" + "".join(map(section, rows))


def section(kind: Kind) -> str:
    """One kind with its messages."""
    out = f"\n## {kind.code}\n\n{kind.doc}\n"
    if not kind.messages:
        out += "\nNothing raises it at present; the name is kept.\n"
    else:
        out += "\n| says | mend |\n| --- | --- |\n"
        out += "".join(f"| {cell(what)} | {cell(fix)} |\n" for what, fix in sorted(kind.messages))
    return out


def cell(text: str) -> str:
    """Text for a table cell."""
    return " ".join(text.replace("|", "\\|").replace("<", "&lt;").split())


if __name__ == "__main__":
    raise SystemExit(write_or_check(PAGE, error_page()))
