"""The search for an allocation: a start, what it must cost, a few lots placed anew at a time, then all together.

One objective all through: pots left out and hours over the limit, far dearer than any distance from the ideal cold.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from forcing.engine.allocation.milp import LEFT, Effort, Goal, Limits, Relaxation, relaxed, solve
from forcing.engine.allocation.problem import SPLIT, Answer, Floats, Part, Pick, Problem, Usage, key, usage_of

Keep = list[list[int]]  # of each candidate, the numbers of the options that are looked at

# Ways to choose what is placed anew while the rest stays: which lots, how many of them (or of the places) at first, and
# what each of them keeps. Together they free a season that placing a few lots anew cannot: in a full house a lot gets
# its weeks only where others change benches, and these stand where nothing but the bench matters little.
WAYS = (
    ("benches", 3, "cooler"), ("in a row", 20, "cooler"), ("about one", 10, None), ("benches", 2, None),
    ("coolers", 2, "bench"),
)  # fmt: skip
SIZE = 1.12  # how a way grows where it is soon searched through without a gain, and shrinks where that takes too long
ROUND = 1 / 60  # share of all work that a round may take
IN_VAIN = 25  # rounds in a row without a gain, after which all lots together are tried
# Shares of all work until which only room is looked for; until which some lots at a time are placed anew; and until
# which they are where the answer is so far from the bound that all lots together would gain little.
PLACING, APART, FAR_APART = 0.3, 0.6, 0.9
FAR = 0.15  # share of the cost above the bound
FEW = 1500  # options that are soon gone through all together


@dataclass(frozen=True, slots=True)
class Found:
    """An answer with the share by which it may be dearer than the best (0: it is the best)."""

    answer: Answer
    gap: float


def search(
    problem: Problem, limits: Limits, progress: Callable[[str], None], start: Answer | None = None
) -> Found:
    """The best answer found: least left out, then fewest hours over, then nearest the ideal cold.

    `start`: an answer that is known; it gives none worse.
    """
    found = Searching(problem, Effort(limits, len(problem.candidates)), progress, good_start(problem))
    if start is not None:
        found.take(improved(problem, start))
        found.take(start)
    found.bound = sum(c.lot.pots * c.options[0].cost for c in problem.candidates if c.options)
    if not found.near:
        found.relax()
        found.improve()
    if key(problem, found.best)[0] > 0:
        found.bound = 0.0  # lots that are kept overfill a place: bounds are for answers that fit
    return Found(dealt(problem, found.best), found.gap)


def dealt(problem: Problem, answer: Answer) -> Answer:
    """The same ways dealt out among lots that could change places: earliest first, in order of name.

    So a pair of equal lots never swaps between two runs. Lots are equal where pots and all their options are.
    """
    made = list(answer)
    equal: dict[object, list[int]] = {}
    for at, candidate in enumerate(problem.candidates):
        if answer[at] is not None and not candidate.begun:
            alike = (id(candidate.options), candidate.lot.pots, candidate.area, candidate.split)
            equal.setdefault(alike, []).append(at)
    for lots in equal.values():
        picks = sorted((pick for at in lots if (pick := answer[at]) is not None), key=_when(problem, lots[0]))
        for at, pick in zip(lots, picks, strict=True):
            made[at] = pick
    return tuple(made)


def _when(problem: Problem, at: int) -> Callable[[Pick], tuple[int, ...]]:
    """Of a way to grow a lot, its days and the numbers that it goes by."""
    options = problem.candidates[at].options

    def when(pick: Pick) -> tuple[int, ...]:
        dates = options[pick.option].dates
        potting = problem.potting_day(at, pick) if pick.second is None else dates.potting
        part = (0, 0) if pick.second is None else (pick.second.option, pick.second.pots)
        return potting or 0, dates.cooler_in or 0, dates.bring_in, pick.option, pick.pulled, *part

    return when


@dataclass(slots=True)
class Searching:
    """The best answer so far and what is known of the best there can be."""

    problem: Problem
    effort: Effort
    progress: Callable[[str], None]
    best: Answer
    bound: float = 0.0
    worth: Relaxation | None = None
    chance: random.Random = field(default_factory=lambda: random.Random(1))
    sizes: list[float] = field(default_factory=lambda: [float(few) for _, few, _ in WAYS])
    order: list[int] = field(init=False)  # lots by the day they come in at their ideal
    known: tuple[Answer, tuple[float, float, float, float]] | None = None  # the best, and what makes it good

    def __post_init__(self) -> None:
        options = [c.options for c in self.problem.candidates]
        self.order = sorted(
            range(len(options)), key=lambda at: (options[at][0].dates.bring_in if options[at] else 0, at)
        )

    # ------------------------------------------------------------ where it stands

    @property
    def standing(self) -> tuple[float, float, float, float]:
        """The key of the best answer, counted once for each."""
        if self.known is None or self.known[0] is not self.best:
            self.known = self.best, key(self.problem, self.best)
        return self.known[1]

    @property
    def missing(self) -> float:
        """Pots left out and hours over the limit."""
        _, left, over, _ = self.standing
        return left + over

    @property
    def cost(self) -> float:
        _, left, over, cost = self.standing
        return LEFT * (left + over) + cost

    @property
    def gap(self) -> float:
        return max(0.0, self.cost - self.bound) / max(self.cost, 1e-9)

    @property
    def near(self) -> bool:
        """Whether the answer is as good as it need be."""
        return self.gap <= self.effort.limits.gap

    def take(self, answer: Answer) -> bool:
        """Whether the answer is better; if so it is the best from now on."""
        if answer is self.best or key(self.problem, answer) >= self.standing:
            return False
        self.best = answer
        return True

    # ------------------------------------------------------------ the search

    def relax(self) -> None:
        """The bound and prices of one linear program over all options, and starts that follow them."""
        self.worth = relaxed(self.problem)
        if self.worth is None:
            return
        self.bound = max(self.bound, self.worth.bound)
        for ranking in (self.worth.dearer, [-s for s in self.worth.shares]):
            self.take(improved(self.problem, ranked_start(self.problem, ranking)))

    def improve(self) -> None:
        """Some lots at a time and all together in turn, until neither gains; all together as soon as they are few."""
        while not self.near and not self.effort.over():
            self.rounds(FAR_APART if self.gap > FAR else APART)
            self.progress(f"choosing places: within {self.gap * 100:.1f} % of the best there can be")
            if self.near or self.effort.over() or self.everything(1.0 - self.effort.share):
                break

    @property
    def few(self) -> bool:
        """Whether what a better answer can hold is little enough to be gone through at once."""
        return sum(map(len, self.worthwhile())) <= FEW

    def rounds(self, until: float) -> None:
        """Some lots placed anew, in each of the ways in turn; ends where none of them gains."""
        turn, vain, futile = 0, 0, set[tuple[tuple[int, ...], ...]]()
        while (
            vain < (len(WAYS) if self.few else IN_VAIN)
            and self.effort.share < until
            and not self.effort.over()
            and not self.near
        ):
            way = turn % len(WAYS)
            keep, placing = self.part(way), self.missing > 0 and self.effort.share < PLACING
            mark = (*map(tuple, keep), (placing,))
            turn, gained, status = turn + 1, False, "Optimal"
            if mark not in futile:
                gained, status, _ = self.attempt("place" if placing else "cost", keep, ROUND)
            if status not in ("Optimal", "Infeasible"):
                self.sizes[way] = max(2.0, self.sizes[way] / SIZE)
            elif not gained:
                self.sizes[way] = min(self.sizes[way] * SIZE, float(len(self.best)))
            futile = set() if gained else {*futile, mark}
            vain = 0 if gained else vain + 1

    def everything(self, share: float) -> bool:
        """All lots with all options that a better answer can hold; whether there is none better."""
        before = self.cost
        _, status, bound = self.attempt("cost", self.worthwhile(), share)
        self.bound = max(self.bound, min(bound, before))
        return status in ("Optimal", "Infeasible")

    def worthwhile(self) -> Keep:
        """The options that a better answer can hold: with the others the bound rises above what is known."""
        keep: Keep = []
        most = self.cost + 1e-6
        for at, candidate in enumerate(self.problem.candidates):
            if self.worth is None:
                keep.append(list(range(len(candidate.options))))
            else:
                rises = self.worth.bound + self.worth.dearer[at]
                keep.append(np.flatnonzero(rises <= most).tolist())
        return keep

    def attempt(self, goal: Goal, keep: Keep, share: float) -> tuple[bool, str, float]:
        """Whether the solver finds better among the options kept (and those of the best), how it ended, its bound."""
        keep = [
            numbers if pick is None else sorted({*numbers, *pick.options})
            for numbers, pick in zip(keep, self.best, strict=True)
        ]
        solved, status, bound = solve(
            narrowed(self.problem, keep), answer_in(self.best, keep), goal, self.effort, share
        )
        found = self.best if solved is None else answer_of(solved, keep)
        return self.take(found), status, bound

    # ------------------------------------------------------------ which lots

    def part(self, way: int) -> Keep:
        """The options that are looked at where some lots are placed anew in one of the ways."""
        which, _, kept = WAYS[way]
        few = min(round(self.sizes[way]), len(self.best))
        lots: Collection[int] = range(len(self.best))
        places: set[str | None] | None = None
        if which in ("benches", "coolers"):
            places = self.drawn_places(which, few)
        elif which == "in a row":
            first = self.chance.randrange(len(self.best) - few + 1)
            lots = set(self.order[first : first + few])
        else:
            lots = self.group(few)
        keep: Keep = []
        for at, numbers in enumerate(self.worthwhile()):
            pick, options = self.best[at], self.problem.candidates[at].options
            if pick is None:
                keep.append(numbers)
                continue
            now = options[pick.option]
            there = places is None or (now.bench if which == "benches" else now.cooler) in places
            if at not in lots or not there:
                keep.append([])
                continue
            keep.append(
                [
                    n
                    for n in numbers
                    if (kept != "cooler" or options[n].cooler == now.cooler)
                    and (kept != "bench" or options[n].bench == now.bench)
                    and (
                        places is None
                        or (options[n].bench if which == "benches" else options[n].cooler) in places
                    )
                ]
            )
        return keep

    def drawn_places(self, which: str, few: int) -> set[str | None]:
        """Some of the benches or coolers that lots can go to."""
        names = sorted(
            {
                (o.bench if which == "benches" else o.cooler) or ""
                for c in self.problem.candidates
                for o in c.options
            }
        )
        return set(self.chance.sample(names, min(few, len(names))))

    def group(self, few: int) -> set[int]:
        """A lot drawn by what it loses, and lots that stand where and when it would cost less."""
        lost = [self.loss(at) for at in range(len(self.best))]
        centre = self.chance.choices(range(len(lost)), [x + 1e-3 for x in lost])[0]
        return {centre, *self.in_its_way(centre, few - 1)}

    def loss(self, at: int) -> float:
        """What the lot costs above its ideal."""
        candidate, pick = self.problem.candidates[at], self.best[at]
        if not candidate.choice:
            return 0.0
        if pick is None:
            return LEFT * candidate.area
        return self.problem.cost(at, pick) - candidate.lot.pots * candidate.options[0].cost

    def in_its_way(self, at: int, most: int) -> list[int]:
        """Lots that stand where and when the lot would cost less, drawn by how much they are in its way."""
        pick, candidate = self.best[at], self.problem.candidates[at]
        now = np.inf if pick is None else self.problem.cost(at, pick) / candidate.lot.pots
        wanted = [
            stand
            for option in candidate.options
            if option.cost <= now + 1e-9
            for stand in self.problem.stands(option)
        ]
        weight: dict[int, float] = {}
        for other, theirs in enumerate(self.best):
            if other == at or not self.problem.candidates[other].choice:
                continue
            if theirs is None:
                weight[other] = self.chance.random()
                continue
            for place, start, end, area in self.problem.stays(other, theirs):
                shared = sum(max(0, min(end, b) - max(start, a)) for p, a, b in wanted if p == place)
                weight[other] = weight.get(other, 0.0) + shared * area
        order = sorted((-amount * (0.5 + self.chance.random()), other) for other, amount in weight.items())
        return [other for _, other in order[:most]]


# ---------------------------------------------------------------- some of the options


def narrowed(problem: Problem, keep: Keep) -> Problem:
    """The problem with the options kept only."""
    candidates = tuple(
        replace(c, options=tuple(c.options[n] for n in numbers))
        for c, numbers in zip(problem.candidates, keep, strict=True)
    )
    return replace(problem, candidates=candidates, known={})


def answer_in(answer: Answer, keep: Keep) -> Answer:
    """An answer by the numbers that its options have among those kept, all of which it must be of."""
    return _renumbered(answer, [numbers.index for numbers in keep])


def answer_of(answer: Answer, keep: Keep) -> Answer:
    """An answer found among the options kept, by their numbers among all."""
    return _renumbered(answer, [numbers.__getitem__ for numbers in keep])


def _renumbered(answer: Answer, numbers: Sequence[Callable[[int], int]]) -> Answer:
    made: list[Pick | None] = []
    for pick, number in zip(answer, numbers, strict=True):
        if pick is not None:
            second = None if pick.second is None else replace(pick.second, option=number(pick.second.option))
            pick = replace(pick, option=number(pick.option), second=second)
        made.append(pick)
    return tuple(made)


# ---------------------------------------------------------------- a start without a solver


LOOK_IN_TWO = 60  # options that are tried for each part of a lot that is split
PASSES = 4


def earliest_first(problem: Problem) -> Answer:
    """Each lot in the order of its potting at its ideal cold, in its first option that fits: the plain way."""
    return _in_order(problem, lambda at: problem.candidates[at].options[0].dates.potting, _first_that_fits)


def good_start(problem: Problem) -> Answer:
    """Large and long stays first, then each to its best place."""
    return improved(problem, _in_order(problem, lambda at: -_bulk(problem, at), whole_or_in_two))


def ranked_start(problem: Problem, ranking: Sequence[Floats]) -> Answer:
    """Large lots first and of equals those with most to lose, each in the first option that fits by the ranking."""

    def order(at: int) -> tuple[float, float]:
        best = np.sort(ranking[at])
        return -problem.candidates[at].area, float(best[0] - best[min(4, best.size - 1)])

    def pick(usage: Usage, at: int) -> Pick | None:
        whole = _first_that_fits(usage, at, np.argsort(ranking[at], kind="stable").tolist())
        return in_two(usage, at) if whole is None and problem.candidates[at].split else whole

    return _in_order(problem, order, pick)


def _in_order(
    problem: Problem, order: Callable[[int], Any], pick: Callable[[Usage, int], Pick | None]
) -> Answer:
    """Lots placed in an order; first those whose places are given, which stand there whatever it costs."""
    usage, some = Usage(problem), [i for i, c in enumerate(problem.candidates) if c.options]
    kept = [at for at in some if problem.candidates[at].kept]
    for at in sorted(kept, key=lambda i: (problem.candidates[i].choice, -_bulk(problem, i), i)):
        number = usage.least_over(at)
        usage.put(at, _first_that_fits(usage, at) or Pick(number, usage.pull(at, number)[0]))
    free = [at for at in some if not problem.candidates[at].kept]
    for at in sorted(free, key=lambda i: (order(i), i)):
        found = pick(usage, at)
        if found is not None:
            usage.put(at, found)
    return tuple(usage.picks)


def improved(problem: Problem, answer: Sequence[Pick | None]) -> Answer:
    """Every lot in turn to the best option that fits where the others stand, until none can gain."""
    usage = usage_of(problem, answer)
    for _ in range(PASSES):
        changed = False
        for at, candidate in enumerate(problem.candidates):
            if not candidate.choice or (candidate.kept and usage.picks[at] is None):
                continue
            before = usage.drop(at)
            pick = whole_or_in_two(usage, at)
            if pick is None or (before is not None and not _better(usage, at, pick, before)):
                pick = before
            if pick is not None:
                usage.put(at, pick)
            changed |= pick != before
        if not changed:
            break
    return tuple(usage.picks)


def _better(usage: Usage, at: int, new: Pick, old: Pick) -> bool:
    """Whether a pick that fits gains on what the lot had: less overfull, fewer hours over, then nearer its ideal."""
    gain = []
    for pick in (new, old):
        if pick.second is None:
            over, (_, hours) = usage.over(at, pick.option), usage.pull(at, pick.option)
        else:
            over, hours = 0.0, usage.hours_added(at, pick)
        cost = round(usage.problem.cost(at, pick), 6)
        gain.append((round(over, 3), round(hours, 3), cost, pick.pulled))
    return gain[0] < gain[1]


def _bulk(problem: Problem, at: int) -> float:
    candidate = problem.candidates[at]
    dates = candidate.options[0].dates
    return candidate.area * (dates.bloom - dates.potting)


def _first_that_fits(usage: Usage, at: int, numbers: Iterable[int] | None = None) -> Pick | None:
    """The first option with room and hours (None: by cost); with room only, where none keeps within the hours."""
    best: tuple[float, Pick] | None = None
    for number in range(len(usage.problem.candidates[at].options)) if numbers is None else numbers:
        if usage.fits(at, number):
            pulled, over = usage.pull(at, number)
            if best is None or over == 0.0 or over < best[0] - 1e-6:
                best = (over, Pick(number, pulled))
            if over == 0.0:
                break
    return None if best is None else best[1]


def whole_or_in_two(usage: Usage, at: int) -> Pick | None:
    """The cheapest way that fits: the lot together, or in two places where it may be split and that is better."""
    whole, candidate = _first_that_fits(usage, at), usage.problem.candidates[at]
    if not candidate.split:
        return whole
    ideal = candidate.lot.pots * (candidate.options[0].cost + SPLIT)
    if whole is not None and usage.problem.cost(at, whole) <= ideal + 1e-9:
        return whole
    divided = in_two(usage, at)
    if divided is None or (whole is not None and not _better(usage, at, divided, whole)):
        return whole
    return divided


def in_two(usage: Usage, at: int) -> Pick | None:
    """The cheapest way to grow a lot in two places that fits; None where there is none."""
    problem, candidate = usage.problem, usage.problem.candidates[at]
    pots, each, options = candidate.lot.pots, problem.each(at), candidate.options
    numbers = [n for n in range(min(len(options), LOOK_IN_TWO)) if usage.most(at, n) > 0]
    best: tuple[float, Pick] | None = None
    for one in numbers:
        first = min(usage.most(at, one), pots - 1)
        fixed, rest = first * options[one].cost, pots - first
        usage.shift(options[one], first * each)
        for other in numbers:
            cost = fixed + rest * options[other].cost
            if best is not None and cost >= best[0] - 1e-9:
                break  # options are in order of cost
            apart = (options[one].cooler, options[one].bench) != (options[other].cooler, options[other].bench)
            if apart and usage.most(at, other) >= rest:
                best = (cost, Pick(one, 0, Part(other, rest)))
                break
        usage.shift(options[one], -first * each)
    if best is None:
        return None
    larger = best[1].second
    assert larger is not None
    if larger.pots > pots - larger.pots:  # the larger part first, as everywhere
        return Pick(larger.option, 0, Part(best[1].option, pots - larger.pots))
    return best[1]
