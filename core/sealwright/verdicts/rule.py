"""What a rule is: it takes its numbers from what was measured, says what must hold, and has its sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from ..limits import Limit
from .measured import Measured
from .verdict import Grade

Word = str | int | float
SAME = 1e-9  # relative; numbers that differ by rounding only are the same


@dataclass(frozen=True, kw_only=True)
class Bound:
    """One comparison that a verdict rests on.

    Attributes
    ----------
    value : what was measured.
    limit : what it is held against.
    at_least : the value must reach the limit; else it must not pass it.
    addition : stated allowance by which the limit is widened, such as the bound of the smoothing.
    """

    value: float
    limit: float
    at_least: bool = False
    addition: float = 0.0

    @property
    def edge(self) -> float:
        """The limit with its addition: the number that is really compared with."""
        return self.limit - self.addition if self.at_least else self.limit + self.addition

    @property
    def holds(self) -> bool:
        """Whether the value keeps to the right side of the edge; a value that is no number does not."""
        slack = SAME * max(abs(self.edge), 1.0)
        return self.value >= self.edge - slack if self.at_least else self.value <= self.edge + slack


def at_most(value: float, limit: Limit | float, addition: float = 0.0) -> Bound:
    """The value must not pass a limit, which a stated addition may widen."""
    return Bound(value=value, limit=limit.value if isinstance(limit, Limit) else limit, addition=addition)


def at_least(value: float, limit: Limit | float, addition: float = 0.0) -> Bound:
    """The value must reach a limit, which a stated addition may lower."""
    number = limit.value if isinstance(limit, Limit) else limit
    return Bound(value=value, limit=number, at_least=True, addition=addition)


def is_true(flag: bool) -> Bound:
    """Something must be so."""
    return Bound(value=float(flag), limit=1.0, at_least=True)


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What a rule found on one thing.

    Attributes
    ----------
    key : of the verdict.
    value, unit, limit : what is shown; None where there is no such number.
    share : the value is a share, shown in per cent.
    basis : where the limit comes from.
    passes : all of them hold in a verdict that passes.
    bears : all of them hold where it does not pass but is bearable; empty where nothing fails, None where
        all that does not pass fails.
    words : what the sentences are filled with.
    reason, fix : which of the rule's sentences say why, and what to do.
    """

    key: str
    value: float | None
    unit: str
    limit: float | None
    basis: Limit
    passes: tuple[Bound, ...]
    bears: tuple[Bound, ...] | None
    share: bool = False
    words: Mapping[str, Word] = field(default_factory=dict)
    reason: str = "reason"
    fix: str = "fix"

    @property
    def grade(self) -> Grade:
        """The verdict: "pass", "warn" or "fail"."""
        if all(bound.holds for bound in self.passes):
            return "pass"
        return "warn" if self.bears is not None and all(bound.holds for bound in self.bears) else "fail"


@dataclass(frozen=True)
class Rule:
    """One rule.

    Attributes
    ----------
    name : of its sentences, see `sentences.toml`.
    measure : what it finds; nothing where its numbers were not measured.
    """

    name: str
    measure: Callable[[Measured], Iterable[Finding]]
