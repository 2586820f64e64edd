"""Where a foam strip does not fit: a refusal with the place, and nothing built."""

from __future__ import annotations

import pytest
from sealwright.errors import DoesNotFit

from .designs import FOLDED, cushioned


@pytest.mark.scans
def test_foam_that_folds_the_wall_is_refused_with_the_place() -> None:
    with pytest.raises(DoesNotFit) as refusal:
        cushioned(FOLDED, "foam", 6.0, 15.0)
    assert refusal.value.where.role and refusal.value.where.point is not None
    assert refusal.value.fix
