"""The search for an allocation: starts, then a few lots at a time and all of them in turn, within one limit of work."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from forcing.engine.allocation.milp import Effort, Goal, Limits, Relaxation, relaxed, solve
from forcing.engine.allocation.problem import Answer, Pick, Problem, key, score
from forcing.engine.allocation.start import good_start, improved, ranked_start

Keep = list[list[int]]  # of each candidate, the numbers of the options that are looked at

# A few lots placed anew together: how many at first, times as many in each later turn, up to this share of all lots;
# the share of all work that a round of them may take, and rounds in a row without a gain after which they end.
FEW, MORE, MOST, ROUND, IN_VAIN = 12, 1.5, 0.6, 1 / 100, 12
FAR = 0.15  # share above the bound from which they come first
LIKELY = 40  # options of a lot, on average, that they may take
# All lots together: options of a lot, on average, and share of all work in the first search; that share in the first
# turn, doubled in each later one.
NEAR, FIRST, TURN = 15, 1 / 16, 1 / 32
LEAST = 1500  # options in the first turn, however few lots there are; doubled in each later one
PLACING = 0.75  # share of all work that may go into finding room for every lot


@dataclass(frozen=True, slots=True)
class Found:
    """An answer with the share by which it may be dearer than the best (0: it is the best)."""

    answer: Answer
    gap: float


def search(problem: Problem, limits: Limits, progress: Callable[[str], None]) -> Found:
    """The best answer found: least left out, then fewest hours over, then nearest the ideal cold."""
    found = Searching(problem, Effort(limits), progress, good_start(problem))
    found.bound = sum(c.lot.pots * c.options[0].cost for c in problem.candidates if c.options)
    if found.missing > 0 or not found.near("cost"):
        found.start()
    if found.missing > 0:
        progress("choosing places: looking for room for every lot")
        found.run("place", PLACING * limits.work)
    if found.missing > 0 or not found.near("cost"):
        progress("choosing places: nearest the ideal cold")
        found.run("cost", limits.work)
    if key(problem, found.best)[0] > 0:
        found.bound = 0.0  # lots that are kept overfill a place: bounds are for answers that fit
    return Found(found.best, found.gap)


@dataclass(slots=True)
class Searching:
    """The best answer so far and what is known of the best there can be."""

    problem: Problem
    effort: Effort
    progress: Callable[[str], None]
    best: Answer
    bound: float = 0.0
    worth: Relaxation | None = None
    likely: Keep = field(default_factory=list)  # options that are worth a look when a lot is left out

    # ------------------------------------------------------------ where it stands

    @property
    def missing(self) -> float:
        """Pots left out and hours over the limit."""
        left, over, _ = score(self.problem, self.best)
        return left + over

    @property
    def cost(self) -> float:
        return score(self.problem, self.best)[2]

    @property
    def gap(self) -> float:
        return max(0.0, self.cost - self.bound) / max(self.cost, 1e-9)

    def near(self, goal: Goal) -> bool:
        """Whether the answer is as good as it need be."""
        if goal == "place":
            return self.missing < 1e-6 or self.missing <= self.bound + 1e-6
        return self.gap <= self.effort.limits.gap

    def take(self, answer: Answer) -> bool:
        """Whether the answer is better; if so it is the best from now on."""
        if key(self.problem, answer) >= key(self.problem, self.best):
            return False
        self.best = answer
        return True

    # ------------------------------------------------------------ the search

    def start(self) -> None:
        """Better starts: options in order of what they are worth where lots may be divided at will."""
        worth = relaxed(self.problem, "both", None)
        if worth is None:
            return
        for ranking in (worth.dearer, [-s for s in worth.shares]):
            self.take(improved(self.problem, ranked_start(self.problem, ranking)))
        lots = len(worth.dearer)
        self.likely = nearest(worth, LIKELY * lots)
        self.attempt("both", None, nearest(worth, NEAR * lots), FIRST)

    def run(self, goal: Goal, until: float) -> None:
        """A few lots at a time and all lots in turn, until the answer is near enough or work is done `until`."""
        left, over, _ = score(self.problem, self.best)
        self.worth = None
        if key(self.problem, self.best)[0] == 0:  # bounds are for answers that fit
            self.worth = relaxed(self.problem, goal, None if goal == "place" else (left, over))
        self.bound = 0.0 if self.worth is None else self.worth.bound
        few, share, most = float(FEW), TURN, max(LEAST, NEAR * len(self.best))
        while not self.near(goal) and self.effort.done < until and not self.effort.over():
            # Far from the bound a few lots at a time gain more than all do; so they do first where one is left out.
            far = few == FEW if goal == "place" else self.gap > FAR
            if not (far and few < MOST * len(self.best)) and self.everything(goal, share, most):
                break
            if few < MOST * len(self.best):
                self.rounds(goal, int(few))
            few, share, most = few * MORE, share * 2, most * 2

    def rounds(self, goal: Goal, few: int) -> None:
        """A few lots placed anew together, those about the one that loses most, until that gains no more."""
        tried, done = set[int](), set[frozenset[int]]()
        while len(tried) < IN_VAIN and not self.effort.over() and not self.near(goal):
            centre = self.loses_most(goal, tried)
            if centre is None:
                return
            group = frozenset((centre, *self.in_its_way(centre, few - 1)))
            tried.add(centre)
            if group in done:
                continue
            open_to = self.worthwhile(goal)
            if self.likely:
                open_to = [sorted(set(a) & set(b)) for a, b in zip(open_to, self.likely, strict=True)]
            keep = [
                open_to[at] if at in group else list(() if pick is None else pick.options)
                for at, pick in enumerate(self.best)
            ]
            caps = None if goal == "place" else (0.0, score(self.problem, self.best)[1])
            done.add(group)
            if self.attempt("both" if goal == "place" else "cost", caps, keep, ROUND)[0]:
                tried.clear()
                done.clear()
                self.progress(f"choosing places: a better answer, with {len(group)} lots placed anew")

    def everything(self, goal: Goal, share: float, most: int) -> bool:
        """All lots, with about so many of the options that a better answer can hold; whether there is no better."""
        left, over, cost = score(self.problem, self.best)
        if goal == "cost" and left <= 0:
            self.progress(f"choosing places: within {self.gap * 100:.1f} % of the best there can be")
        keep = self.worthwhile(goal)
        whole = sum(map(len, keep)) <= most or self.worth is None
        if self.worth is not None and not whole:
            keep = nearest(self.worth, most)
        _, status, bound = self.attempt(goal, None if goal == "place" else (left, over), keep, share)
        if whole and self.worth is not None:
            self.bound = max(self.bound, min(bound, self.missing if goal == "place" else cost))
        return whole and status == "Optimal"

    def worthwhile(self, goal: Goal) -> Keep:
        """The options that a better answer can hold: with the others the bound rises above what is known."""
        known = self.missing if goal == "place" else self.cost
        keep: Keep = []
        for at, candidate in enumerate(self.problem.candidates):
            if self.worth is None:
                keep.append(list(range(len(candidate.options))))
            else:
                keep.append(np.flatnonzero(self.worth.bound + self.worth.dearer[at] <= known + 1e-6).tolist())
        return keep

    def attempt(
        self, goal: Goal, caps: tuple[float, float] | None, keep: Keep, share: float
    ) -> tuple[bool, str, float]:
        """Whether the solver finds better among the options kept (and those of the best), how it ended, its bound."""
        keep = [
            numbers if pick is None else sorted({*numbers, *pick.options})
            for numbers, pick in zip(keep, self.best, strict=True)
        ]
        candidates = tuple(
            replace(c, options=tuple(c.options[n] for n in numbers))
            for c, numbers in zip(self.problem.candidates, keep, strict=True)
        )
        known = tuple(
            None if pick is None else _renumbered(pick, numbers.index)
            for pick, numbers in zip(self.best, keep, strict=True)
        )
        narrow = replace(self.problem, candidates=candidates, known={})
        solved, status, bound = solve(narrow, known, goal, caps, self.effort, share)
        found = tuple(
            None if pick is None else _renumbered(pick, numbers.__getitem__)
            for pick, numbers in zip(solved or known, keep, strict=True)
        )
        return self.take(found), status, bound

    # ------------------------------------------------------------ which lots

    def loses_most(self, goal: Goal, tried: set[int]) -> int | None:
        """The lot that is farthest, pots counted, from its ideal, one left out first; None: all are ideal or tried."""
        lost = [
            (self.loss(at), -at)
            for at, c in enumerate(self.problem.candidates)
            if c.choice and at not in tried and (goal == "place" or self.best[at])
        ]
        most = max(lost, default=(0.0, 0))
        return -most[1] if most[0] > 1e-6 else None

    def loss(self, at: int) -> float:
        """What the lot costs above its ideal."""
        candidate, pick = self.problem.candidates[at], self.best[at]
        if pick is None:
            return 1e6 * candidate.area
        return self.problem.cost(at, pick) - candidate.lot.pots * candidate.options[0].cost

    def in_its_way(self, at: int, most: int) -> list[int]:
        """Lots that stand where and when the lot would cost less, those most in its way first."""
        pick, candidate = self.best[at], self.problem.candidates[at]
        now = np.inf if pick is None else self.problem.cost(at, pick) / candidate.lot.pots
        wanted = [
            stand
            for option in candidate.options
            if option.cost < now - 1e-9
            for stand in self.problem.stands(option)
        ]
        weight: dict[int, float] = {}
        for other, theirs in enumerate(self.best):
            if theirs is None or other == at or not self.problem.candidates[other].choice:
                continue
            for place, start, end, area in self.problem.stays(other, theirs):
                shared = sum(max(0, min(end, b) - max(start, a)) for p, a, b in wanted if p == place)
                weight[other] = weight.get(other, 0.0) + shared * area
        order = sorted((-amount, other) for other, amount in weight.items() if amount > 0)
        return [other for _, other in order[:most]]


def nearest(worth: Relaxation, most: int) -> Keep:
    """About so many options, those that make the whole dearer least."""
    dearer = np.sort(np.concatenate(worth.dearer))
    limit = dearer[min(most, dearer.size) - 1]
    return [np.flatnonzero(d <= limit).tolist() for d in worth.dearer]


def _renumbered(pick: Pick, number: Callable[[int], int]) -> Pick:
    """The pick with other numbers for its options."""
    second = None if pick.second is None else replace(pick.second, option=number(pick.second.option))
    return replace(pick, option=number(pick.option), second=second)
