"""The docs: pages made from the code are up to date, links and pictures are there, operators stay short."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

REPO = Path(__file__).resolve().parents[2]

import error_doc  # noqa: E402
import panel_doc  # noqa: E402
import text_list  # noqa: E402

DOCS = sorted((REPO / "docs").glob("*.md"))
PAGES = [*DOCS, REPO / "README.md", REPO / "DEVELOPERS.md"]


@pytest.mark.parametrize(
    ("page", "made"),
    [
        (error_doc.PAGE, error_doc.error_page),
        (panel_doc.PAGE, panel_doc.panel_page),
        (text_list.PAGE, text_list.text_page),
    ],
)
def test_pages_made_from_the_code_are_up_to_date(page, made):
    assert page.read_text(encoding="utf-8") == made()


def anchor(heading: str) -> str:
    return re.sub(r"[^\w\- ]", "", heading.strip().lower()).replace(" ", "-")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page):
    for target in re.findall(r"\]\(([^)\s]+)\)", page.read_text(encoding="utf-8")):
        if target.startswith("http"):
            continue
        name, _, place = target.partition("#")
        there = (page.parent / name) if name else page
        assert there.exists(), target
        if place:
            headings = re.findall(r"^#+ (.*)$", there.read_text(encoding="utf-8"), re.M)
            assert place in {anchor(h) for h in headings}, target


def test_every_picture_is_used_and_none_is_blank():
    from PIL import Image

    text = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    for path in sorted((REPO / "docs" / "pictures").glob("*.png")):
        assert f"pictures/{path.name}" in text, path.name
        with Image.open(path) as picture:
            assert len(picture.convert("RGB").getcolors(1 << 24) or ()) > 20, path.name


def test_every_kind_that_is_raised_has_its_messages_in_the_page():
    kinds = error_doc.kinds()
    error_doc.collect(kinds)
    called = {
        node.func.id
        for tree in error_doc.trees()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert len(kinds) > 20
    for name, kind in kinds.items():
        assert kind.messages or name not in called, name


def test_operators_stay_short():
    for path in sorted((REPO / "blender_addon" / "operators").glob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef | ast.FunctionDef):
                assert node.end_lineno - node.lineno < 40, f"{path.name} {node.name}"
