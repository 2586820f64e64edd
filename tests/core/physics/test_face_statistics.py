"""Percentiles and panel cells against docs/standards section 1 (check values 1) and scipy's normal law."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from sealwright.anthropometry.face_statistics import (
    cell_chances,
    dimensions,
    length_width_correlation,
    panel_cell,
    panel_cells,
    percentile,
    sex_index,
)
from sealwright.errors import BadRecipe


def population_share(sex: str) -> float:
    """Share of a sex that lies in any cell, by the normal law of length and width."""
    place = sex_index(sex)
    length, width = dimensions()["face_length"], dimensions()["face_width"]
    chances = cell_chances(
        length.mean_mm[place],
        length.sd_mm[place],
        width.mean_mm[place],
        width.sd_mm[place],
        length_width_correlation(sex),
    )
    return sum(chances.values())


@pytest.mark.parametrize(
    ("length", "width", "cell"),
    [(113, 134, 4), (123, 143, 7), (105, 128, 1), (132, 149, 10), (140, 150, None)],
)
def test_cells_of_the_check_values(length, width, cell):
    assert panel_cell(length, width) == cell  # check 1; cell limits M


def test_cells_are_half_open_and_do_not_overlap():
    assert panel_cell(108.5, 132.5) == 4
    assert panel_cell(108.49, 132.49) == 1
    assert panel_cell(138.5, 140) is None
    assert panel_cell(118.5, 158.5) is None
    rng = np.random.default_rng(0)
    for length, width in zip(rng.uniform(90, 145, 2000), rng.uniform(110, 165, 2000), strict=True):
        inside = [
            c.cell
            for c in panel_cells()
            if c.length_mm[0] <= length < c.length_mm[1] and c.width_mm[0] <= width < c.width_mm[1]
        ]
        assert len(inside) <= 1
        assert panel_cell(length, width) == (inside[0] if inside else None)


def test_union_holds_the_people_counted():
    # Check 2 (C): 97.6 % of men and 98.3 % of women, counted in the survey; the normal law comes within 0.6
    # %.
    assert 100 * population_share("male") == pytest.approx(97.6, abs=0.6)
    assert 100 * population_share("female") == pytest.approx(98.3, abs=0.6)


def test_share_of_single_cells_is_that_counted():
    # Table 1.3 (C): percent of ANSUR II men and women in the cells; the normal law comes within 2 points.
    counted = {
        "male": [0.2, 1.2, 1.5, 16.0, 6.9, 2.3, 31.6, 20.9, 8.8, 8.1],
        "female": [11.1, 11.2, 23.5, 32.4, 1.8, 4.7, 12.2, 1.0, 0.4, 0.1],
    }
    for place, sex in enumerate(("male", "female")):
        length, width = dimensions()["face_length"], dimensions()["face_width"]
        chances = cell_chances(
            length.mean_mm[place], length.sd_mm[place], width.mean_mm[place], width.sd_mm[place],
            length_width_correlation(sex),
        )  # fmt: skip
        assert np.allclose([100 * chances[c] for c in range(1, 11)], counted[sex], atol=2.0)


def test_medium_head_is_the_mean_of_cells_4_and_7():
    # Check 3 (C).
    four, seven = panel_cells()[3], panel_cells()[6]
    assert (four.mean_length_mm + seven.mean_length_mm) / 2 == pytest.approx(118.7, abs=0.2)
    assert (four.mean_width_mm + seven.mean_width_mm) / 2 == pytest.approx(138.7, abs=0.2)


def test_male_band_of_face_length():
    # Check 4: 5th to 95th by the normal law 111.7 to 133.6; counted 112 to 134 (C).
    assert percentile("face_length", "male", 111.67) == pytest.approx(5.0, abs=0.05)
    assert percentile("face_length", "male", 133.61) == pytest.approx(95.0, abs=0.05)
    # Face width: counted 133 to 153 for men, 125 to 143 for women (C); the normal law within 2 points.
    for sex, low, high in (("male", 133, 153), ("female", 125, 143)):
        assert percentile("face_width", sex, low) == pytest.approx(5, abs=2)
        assert percentile("face_width", sex, high) == pytest.approx(95, abs=2)


def test_means_are_the_published_ones():
    rows = dimensions()
    assert rows["face_length"].mean_mm == (122.64, 113.09)  # C, ANSUR II
    assert rows["face_width"].mean_mm == (142.62, 133.77)  # C, ANSUR II
    assert rows["nose_breadth"].mean_mm == (36.6, 33.2)  # M
    assert rows["lip_length"].confidence == "M"
    for name, row in rows.items():
        for place, sex in enumerate(("male", "female")):
            assert percentile(name, sex, row.mean_mm[place]) == pytest.approx(50.0)


def test_percentiles_and_chances_against_scipy():
    assert percentile("nose_breadth", "female", 39.0) == pytest.approx(100 * stats.norm.cdf(39.0, 33.2, 3.9))
    chances = cell_chances(114.0, 3.0, 133.0, 4.0, 0.3)
    law = stats.multivariate_normal([114.0, 133.0], [[9.0, 3.6], [3.6, 16.0]])
    for cell in panel_cells():
        (a, b), (c, d) = cell.length_mm, cell.width_mm
        exact = law.cdf([b, d]) - law.cdf([a, d]) - law.cdf([b, c]) + law.cdf([a, c])
        assert chances[cell.cell] == pytest.approx(exact, abs=5e-3)  # 400 steps of 0.03 SD


def test_refusals():
    with pytest.raises(BadRecipe, match="chin_width"):
        percentile("chin_width", "male", 100.0)
    with pytest.raises(BadRecipe, match="other"):
        percentile("face_length", "other", 100.0)
    with pytest.raises(BadRecipe, match="from 0 to 400 mm"):
        panel_cell(-5.0, 130.0)
    with pytest.raises(BadRecipe, match="mm"):
        cell_chances(113.0, 0.0, 134.0, 1.0)
