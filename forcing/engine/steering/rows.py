"""A mixed-integer linear program written down column by column and row by row, for HiGHS."""

from __future__ import annotations

from dataclasses import dataclass, field

import highspy
import numpy as np


@dataclass(slots=True)
class Rows:
    """Columns and rows of a linear program as they are written down."""

    cost: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_lower: list[float] = field(default_factory=list)
    row_upper: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    index: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)

    def column(self, upper: float = 1.0, *, whole: bool = True, cost: float = 0.0, lower: float = 0.0) -> int:
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(
        self, terms: dict[int, float], lower: float = -highspy.kHighsInf, upper: float = highspy.kHighsInf
    ) -> None:
        for column, value in terms.items():
            if value != 0.0:
                self.index.append(column)
                self.value.append(value)
        self.starts.append(len(self.index))
        self.row_lower.append(lower)
        self.row_upper.append(upper)

    def model(self) -> highspy.HighsLp:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.row_lower)
        lp.col_cost_ = np.array(self.cost)
        lp.col_lower_, lp.col_upper_ = np.array(self.lower), np.array(self.upper)
        lp.row_lower_, lp.row_upper_ = np.array(self.row_lower), np.array(self.row_upper)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array(self.starts, dtype=np.int32)
        lp.a_matrix_.index_ = np.array(self.index, dtype=np.int32)
        lp.a_matrix_.value_ = np.array(self.value)
        kind = highspy.HighsVarType
        lp.integrality_ = [kind.kInteger if whole else kind.kContinuous for whole in self.whole]
        return lp


Terms = dict[int, float]


def plus(one: Terms, other: Terms) -> Terms:
    """The sum of two linear expressions."""
    out = dict(one)
    for column, value in other.items():
        out[column] = out.get(column, 0.0) + value
    return out


def product(rows: Rows, rate: int, low: float, high: float, present: Terms) -> int:
    """A column that equals the rate where the sum of `present` is 1, and 0 where it is 0 (McCormick 1976)."""
    column = rows.column(high, whole=False)
    rows.row({column: 1.0, **{c: -high * v for c, v in present.items()}}, upper=0.0)
    rows.row({column: 1.0, **{c: -low * v for c, v in present.items()}}, 0.0)
    rows.row({column: 1.0, rate: -1.0, **{c: -low * v for c, v in present.items()}}, upper=-low)
    rows.row({column: 1.0, rate: -1.0, **{c: -high * v for c, v in present.items()}}, -high)
    return column
