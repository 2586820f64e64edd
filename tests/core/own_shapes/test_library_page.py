"""The examples of the library's page run, one after the other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from trials.places import ROOT

PAGE = ROOT / "docs" / "library.md"


def test_examples_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    examples = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert len(examples) >= 6
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for number, example in enumerate(examples, start=1):
        exec(compile(example, f"example {number}", "exec"), names)
    assert (tmp_path / "trimmed.stl").stat().st_size > 10_000
