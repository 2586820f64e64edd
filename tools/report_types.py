"""Make ``report/shape.py``: the types of fit-report.json, from its schema; ``--check`` only compares.

The glossary is the one list of the report's keys; with its types the checker finds a page that asks for a key
which is not there, or that forgets that a section may be null.
"""

from __future__ import annotations

import sys
from pathlib import Path

from sealwright.report.schema import report_schema

TARGET = Path(__file__).parents[1] / "core" / "sealwright" / "report" / "shape.py"
HEAD = '''"""The types of fit-report.json as it is read; made by ``tools/report_types.py``."""

from __future__ import annotations

from typing import NotRequired, TypedDict

from ..plain_data import JsonObject

'''
_PLAIN = {"string": "str", "number": "float", "integer": "int", "boolean": "bool"}


def text() -> str:
    """The module as text."""
    classes: list[str] = []
    _class("FitReport", report_schema(), classes, "The whole report.")
    return HEAD + "\n".join(classes)


def _class(name: str, schema: dict, classes: list[str], doc: str) -> None:
    lines = [f"\nclass {name}(TypedDict):", *_doc(doc)]
    for key, child in schema["properties"].items():
        kind = _type(("Report" if name == "FitReport" else name) + _camel(key), child, classes)
        lines.append(f"    {key}: {kind if key in schema['required'] else f'NotRequired[{kind}]'}")
    classes.append("\n".join(lines) + "\n")


def _doc(doc: str) -> list[str]:
    """A docstring of at most 110 columns."""
    first = doc.split(". ")[0].rstrip(".") + "."
    return [f'    """{first if len(first) < 95 else first[:90].rsplit(" ", 1)[0] + " ..."}"""', ""]


def _camel(key: str) -> str:
    return "".join(part.capitalize() for part in key.split("_"))


def _type(name: str, schema: dict, classes: list[str]) -> str:
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    none = " | None" if "null" in kinds else ""
    kind = next(k for k in kinds if k != "null")
    if kind in _PLAIN:
        return _PLAIN[kind] + none
    if kind == "array":
        items = {"description": schema.get("description", "One row."), **schema["items"]}
        return f"list[{_type(name, items, classes)}]{none}"
    if "properties" not in schema or "title" in schema or name == "ReportRecipe":
        return "JsonObject" + none
    if schema["properties"]:
        _class(name, schema, classes, schema.get("description", "One row."))
        return name + none
    if schema["additionalProperties"]:
        return f"dict[str, {_type(name + 'Each', schema['additionalProperties'], classes)}]{none}"
    return "JsonObject" + none


def main() -> int:
    """Write the module, or say that it is not as the glossary has it."""
    if "--check" not in sys.argv:
        TARGET.write_text(text(), encoding="utf-8")
        return 0
    if TARGET.read_text(encoding="utf-8") == text():
        return 0
    print(f"{TARGET.name} is not as the glossary has it: run tools/report_types.py")
    return 1


if __name__ == "__main__":
    sys.exit(main())
