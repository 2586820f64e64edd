"""The sentences of the page: every one is used, every used one is there, and none is cut into pieces."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from sealwright.report.page import sentences as module
from sealwright.report.page.sentences import page_sentences, sentence

PAGE = Path(module.__file__).parent


def used_names() -> set[str]:
    code = "".join(path.read_text(encoding="utf-8") for path in sorted(PAGE.glob("*.py")))
    names = set(re.findall(r'sentence\(\s*"([^"]+)"', code))
    pictures = re.search(r"_PICTURES = \((.*?)\)", code, re.DOTALL)
    assert pictures is not None
    return names | {f"pictures.{name}" for name in re.findall(r'"([^"]+)"', pictures.group(1))}


def test_every_sentence_is_used_and_every_used_one_is_there() -> None:
    assert used_names() == set(page_sentences())


def test_values_are_put_in_and_a_forgotten_one_is_an_error() -> None:
    words = sentence("printing.total", mass="12 g", time="3 h", cost="1")
    assert words == "<p>In all 12 g, 3 h, 1 for material and electricity.</p>"
    with pytest.raises(KeyError):
        sentence("printing.total", mass="12 g", time="3 h")
    with pytest.raises(KeyError):
        sentence("no.such")


def test_sentences_end_as_sentences_do() -> None:
    for name, words in page_sentences().items():
        plain = re.sub(r"<[^>]*>", " ", words).strip()
        # Captions and the remark in a table cell are no sentences.
        if not name.startswith("pictures.") and name != "numbers.doubtful_landmark":
            assert re.search(r"([.:]|All cautions|\$note|\$lean)$", plain), name
        assert "  " not in words, name
