"""A mixed-integer linear program written down column by column and row by row, for HiGHS."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import highspy
import numpy as np
from numpy.typing import NDArray

from forcing.files import silence

INFINITE = highspy.kHighsInf
Terms = dict[int, float]  # column -> value
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(slots=True)
class Program:
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
    offset: float = 0.0  # of the objective

    def column(self, upper: float = 1.0, *, whole: bool = True, cost: float = 0.0, lower: float = 0.0) -> int:
        """Write a column and give its number."""
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, terms: Mapping[int, float], lower: float = -INFINITE, upper: float = INFINITE) -> None:
        """Write a row: lower <= sum of terms <= upper."""
        for column, value in terms.items():
            if value != 0.0:
                self.index.append(column)
                self.value.append(value)
        self.starts.append(len(self.index))
        self.row_lower.append(lower)
        self.row_upper.append(upper)

    def row_of(self, columns: Ints, values: Floats, upper: float) -> None:
        """Write a row of columns that are known as arrays: sum of values times columns <= upper."""
        self.index.extend(columns.tolist())
        self.value.extend(values.tolist())
        self.starts.append(len(self.index))
        self.row_lower.append(-INFINITE)
        self.row_upper.append(upper)

    def model(self, relaxed: bool = False) -> highspy.HighsLp:
        """The program as HiGHS takes it; `relaxed`: without the demand that columns be whole numbers."""
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.row_lower)
        lp.col_cost_, lp.offset_ = np.array(self.cost), self.offset
        lp.col_lower_, lp.col_upper_ = np.array(self.lower), np.array(self.upper)
        lp.row_lower_, lp.row_upper_ = np.array(self.row_lower), np.array(self.row_upper)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array(self.starts, dtype=np.int32)
        lp.a_matrix_.index_ = np.array(self.index, dtype=np.int32)
        lp.a_matrix_.value_ = np.array(self.value)
        kind = highspy.HighsVarType
        if not relaxed:
            lp.integrality_ = [kind.kInteger if whole else kind.kContinuous for whole in self.whole]
        return lp


def solver(options: Mapping[str, bool | int | float | str]) -> highspy.Highs:
    """A silent HiGHS with these options set, whose answers repeat."""
    highspy.Highs.resetGlobalScheduler(True)  # or another number of threads ends without an answer
    with silence():  # it greets on C's standard output as it is made, and is silent after
        highs = highspy.Highs()  # type: ignore[no-untyped-call]
    for option, value in {"output_flag": False, "threads": 1, "random_seed": 1, **options}.items():
        highs.setOptionValue(option, value)
    return highs


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a run ended: status in words, values of the columns (None: no answer was found), objective, bound."""

    status: str
    values: list[float] | None
    objective: float
    bound: float
    seconds: float
    iterations: int  # of the simplex method, those of the search tree too
    nodes: int  # of the search tree
    reduced: list[float]  # of each column of a program without whole numbers, its reduced cost


def run(
    highs: highspy.Highs,
    start: Mapping[int, float] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Outcome:
    """Solve the model that was passed; `start`: values of some columns of an answer that is known.

    `stop` is asked now and then, and ends the run where it is true.
    """
    if stop is not None:

        def watch(kind: object, message: str, out: object, given: Any, data: object) -> None:
            given.user_interrupt = stop()

        kinds = highspy.cb.HighsCallbackType
        highs.setCallback(watch, None)
        highs.startCallback(kinds.kCallbackMipInterrupt)
        highs.startCallback(kinds.kCallbackSimplexInterrupt)
    if start:
        columns, values = np.array(list(start), dtype=np.int32), np.array(list(start.values()))
        highs.setSolution(len(start), columns, values)
    highs.run()
    info = highs.getInfo()
    solution = highs.getSolution()
    found = list(solution.col_value) if info.primal_solution_status == 2 else None
    return Outcome(
        highs.modelStatusToString(highs.getModelStatus()), found or None, float(info.objective_function_value),
        float(info.mip_dual_bound), float(highs.getRunTime()),
        max(0, int(info.simplex_iteration_count)), max(0, int(info.mip_node_count)), list(solution.col_dual),
    )  # fmt: skip


def add(terms: Terms, column: int, value: float) -> None:
    """So much more of a column in a linear expression."""
    terms[column] = terms.get(column, 0.0) + value
