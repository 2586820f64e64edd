"""What the confidence of a landmark is worth: calibration, and the reliability diagram of the docs.

``python tools/reliability.py --fit`` fits the calibration of ``shared/landmark_templates.json`` on the even
half of the varied heads, on invented heads from number 1020 on and on damaged scans from seed 1000 on.
``python tools/reliability.py --heads 300`` measures on what was not learnt from: the odd half of the varied
heads, invented heads 0 to 299, damaged scans of the open heads from seed 0 on; it writes
``docs/landmarks.md`` and ``docs/pictures/landmark-reliability.png``.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.optimize import minimize
from sealwright.errors import DesignError
from sealwright.mesh import Floats, TriMesh
from sealwright.scan.landmarks.confidence import GROUPS, log_odds, without_side
from sealwright.scan.landmarks.landmark_set import Landmarks
from sealwright.scan.landmarks.proposal import clear_landmarks, propose_landmarks
from sealwright.scan.pose.orient import find_face
from sealwright.scan.pose.pose import Pose
from sealwright.scan.repair.clean import clean

ROOT = Path(__file__).resolve().parents[1]
TABLE = ROOT / "shared" / "landmark_templates.json"
PAGE = ROOT / "docs" / "landmarks.md"
PICTURE = ROOT / "docs" / "pictures" / "landmark-reliability.png"
WRONG_MM = 5.0
BINS = (0.0, 0.25, 0.5, 0.7, 0.85, 0.93, 1.0)
Case = tuple[str, TriMesh, dict[str, Floats]]
Finder = Callable[[TriMesh, Pose], Landmarks]


@dataclass(frozen=True)
class Row:
    """One landmark on one head: which, how far off, and what was said of it."""

    head: str
    name: str
    error_mm: float
    said: float


def varied(which: slice) -> Iterator[Case]:
    """Heads of one half of the varied open heads."""
    from trials.faces import VARIED, face_scan, truth

    for name in VARIED[which]:
        yield name, face_scan(name), truth(name)


def invented(seeds: Iterable[int], triangles: int = 40_000) -> Iterator[Case]:
    """Heads of the procedural crowd."""
    from demo_scenes.crowd import crowd_head

    for seed in seeds:
        head = crowd_head(seed, triangles)
        yield f"crowd {seed}", head.mesh, head.landmarks


def damaged_scans(seeds: Iterable[int]) -> Iterator[Case]:
    """Damaged scans of the open heads and sensor scans."""
    from trials.damage import damaged
    from trials.faces import HEADS, SENSORS, face_scan, truth

    names = HEADS + SENSORS
    for seed in seeds:
        name = names[seed % len(names)]
        mesh, known, _ = damaged(face_scan(name), truth(name), seed)
        yield f"{name} {seed}", mesh, known


def measured(cases: Iterable[Case], find: Finder) -> tuple[list[Row], list[str]]:
    """Every landmark with a truth, and the heads that were refused with the reason."""
    rows, refused = [], []
    for head, mesh, known in cases:
        try:
            cleaned, _ = clean(mesh)
            marks = find(cleaned, find_face(cleaned))
        except DesignError as error:
            refused.append(f"{head}: {error.what}")
            continue
        for name, point in known.items():
            if name in marks:
                away = float(np.linalg.norm(marks.point(name) - point))
                rows.append(Row(head, name, away, marks[name].confidence))
    return rows, refused


def fit(rows: list[Row]) -> dict[str, list[float]]:
    """Offset and slope of the log odds for each group; both held near (0, 1), as if by a dozen landmarks."""
    out = {}
    for group in sorted(set(GROUPS.values())):
        own = [row for row in rows if GROUPS[without_side(row.name)] == group]
        odds = np.array([log_odds(row.said) for row in own])
        right = np.array([row.error_mm <= WRONG_MM for row in own])

        def loss(p: Floats, odds: Floats = odds, right: Floats = right) -> float:
            value = p[0] + p[1] * odds
            miss = np.logaddexp(0.0, np.where(right, -value, value)).sum()
            return float(miss + 0.5 * p[0] ** 2 + 2.0 * (p[1] - 1.0) ** 2)

        best = minimize(loss, np.array([0.0, 1.0]), method="Nelder-Mead").x
        out[group] = [round(float(best[0]), 3), round(float(max(best[1], 0.2)), 3)]
    return out


def error_table(rows: list[Row]) -> str:
    """Markdown: errors by landmark."""
    lines = ["| landmark | number | median mm | 95 % mm |", "| --- | --- | --- | --- |"]
    for kind in GROUPS:
        own = np.array([row.error_mm for row in rows if without_side(row.name) == kind])
        if len(own):
            lines.append(f"| {kind} | {len(own)} | {np.median(own):.1f} | {np.percentile(own, 95):.1f} |")
    return "\n".join(lines)


def reliability_rows(rows: list[Row]) -> list[tuple[float, float, int, float, float]]:
    """For each bin of confidence: its ends, how many, what was said on average, and the share within 5 mm."""
    out = []
    for low, high in pairwise(BINS):
        own = [row for row in rows if low <= row.said < high]
        if own:
            said = float(np.mean([row.said for row in own]))
            out.append((low, high, len(own), said, float(np.mean([r.error_mm <= WRONG_MM for r in own]))))
    return out


def reliability_table(rows: list[Row]) -> str:
    """Markdown: the reliability by bins."""
    lines = ["| confidence | number | said, mean | within 5 mm |", "| --- | --- | --- | --- |"]
    for low, high, number, said, right in reliability_rows(rows):
        lines.append(f"| {low:g} to {high:g} | {number} | {100 * said:.0f} % | {100 * right:.0f} % |")
    return "\n".join(lines)


def doubt_sentence(rows: list[Row]) -> str:
    """How many times as often those below 0.5 are wrong as those above."""
    low = [row.error_mm > WRONG_MM for row in rows if row.said < 0.5]
    high = [row.error_mm > WRONG_MM for row in rows if row.said >= 0.5]
    if not low:
        return "None is below 50 %."
    odds = np.mean(low) / max(float(np.mean(high)), 1e-9)
    return f"Below 50 % landmarks are wrong by more than 5 mm {odds:.0f} times as often as above."


def draw(series: dict[str, list[Row]]) -> None:
    """The reliability diagram: what was said against what was so; a perfect one runs along the diagonal."""
    from PIL import Image, ImageDraw, ImageFont

    side, left, top = 520, 90, 60
    image = Image.new("RGB", (left + side + 250, top + side + 80), (255, 255, 255))
    pen, font = ImageDraw.Draw(image), ImageFont.load_default(16)

    def at(said: float, right: float) -> tuple[float, float]:
        return left + side * said, top + side * (1.0 - right)

    for tick in np.linspace(0.0, 1.0, 6):
        pen.line([at(tick, 0.0), at(tick, 1.0)], fill=(228, 231, 235))
        pen.line([at(0.0, tick), at(1.0, tick)], fill=(228, 231, 235))
        pen.text(
            (at(tick, 0.0)[0], top + side + 8),
            f"{100 * tick:.0f} %",
            fill=(60, 66, 74),
            font=font,
            anchor="mt",
        )
        pen.text(
            (left - 8, at(0.0, tick)[1]), f"{100 * tick:.0f} %", fill=(60, 66, 74), font=font, anchor="rm"
        )
    pen.line([at(0.0, 0.0), at(1.0, 1.0)], fill=(150, 156, 164), width=2)
    pen.text(
        (left, 18), "Landmarks: confidence against truth", fill=(38, 44, 52), font=ImageFont.load_default(20)
    )
    pen.text((left + side / 2, top + side + 44), "confidence", fill=(38, 44, 52), font=font, anchor="mt")
    pen.text((left - 80, top - 26), "within 5 mm", fill=(38, 44, 52), font=font)
    colours = ((77, 133, 153), (204, 41, 61), (237, 163, 64))
    for index, (label, rows) in enumerate(series.items()):
        points = [at(said, right) for *_, number, said, right in reliability_rows(rows) if number >= 8]
        pen.line(points, fill=colours[index], width=3)
        for x, y in points:
            pen.ellipse([x - 5, y - 5, x + 5, y + 5], fill=colours[index])
        y = top + 20 + 26 * index
        pen.rectangle([left + side + 24, y, left + side + 38, y + 14], fill=colours[index])
        pen.text((left + side + 46, y - 2), label, fill=(38, 44, 52), font=font)
    PICTURE.parent.mkdir(parents=True, exist_ok=True)
    image.save(PICTURE, optimize=True)


def page(series: dict[str, list[Row]], refused: dict[str, list[str]]) -> str:
    """The docs page."""
    parts = [
        "# How sure the landmarks are",
        "This page is made by `tools/reliability.py`; do not edit it.",
        "Confidence is the chance that a landmark lies within 5 mm of the truth. It is measured here on "
        "heads from which nothing was learnt. Look at a landmark below 50 % and move it; the program names "
        "those.",
        "![Reliability diagram](pictures/landmark-reliability.png)",
    ]
    for label, rows in series.items():
        parts += [
            f"## {label[0].upper()}{label[1:]}",
            error_table(rows),
            reliability_table(rows),
            f"{doubt_sentence(rows)} Refused: {'; '.join(refused[label]) or 'none'}.",
        ]
    return "\n\n".join(parts) + "\n"


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--fit", action="store_true", help="fit the calibration instead of measuring")
    parser.add_argument("--heads", type=int, default=300, help="invented heads to measure on")
    parser.add_argument("--damaged", type=int, default=140, help="damaged scans to measure on")
    asked = parser.parse_args()
    sys.path.insert(0, str(ROOT))
    if asked.fit:
        rows = []
        for cases in (
            varied(slice(0, None, 2)),
            invented(range(1020, 1060)),
            damaged_scans(range(1000, 1070)),
        ):
            rows += measured(cases, clear_landmarks)[0]
        data = json.loads(TABLE.read_text(encoding="utf-8")) | {"calibration": fit(rows)}
        TABLE.write_text(json.dumps(data, separators=(",", ":")) + "\n", encoding="utf-8")
        return 0
    sources = {
        "unseen varied heads": varied(slice(1, None, 2)),
        "invented heads": invented(range(asked.heads)),
        "damaged scans": damaged_scans(range(asked.damaged)),
    }
    found = {label: measured(cases, propose_landmarks) for label, cases in sources.items()}
    series = {label: rows for label, (rows, _) in found.items()}
    draw(series)
    PAGE.write_text(page(series, {label: out for label, (_, out) in found.items()}), encoding="utf-8")
    print(PAGE.read_text(encoding="utf-8"))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
