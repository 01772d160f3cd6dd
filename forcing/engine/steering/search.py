"""Good answers found by changing one thing at a time from many starts, then freed of work that is not worth it."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from forcing.engine.climate import TOLERANCE
from forcing.engine.steering.problem import KEEP, Answer, Floats, Hold, LiveLot, Problem, changes, moves

ROUNDS = 12  # each tries every bench and every lot once; a few come to rest
KICKS = 150  # fresh starts, each with a few things changed at random (but always the same)
# A chain of kicks goes on from an answer that is a little worse than the one before, by less and less (threshold
# accepting; Dueck & Scheuer 1990), so that it leaves a corner where one change alone gains nothing.
CHAINS, SLACK = 3, 0.15
Key = tuple[int, int, int]


class Searcher:
    """An answer as it is being changed, with the days off of each lot and the room taken on each bench."""

    def __init__(self, problem: Problem, answer: Answer) -> None:
        self.problem = problem
        self.wanted = [lot.need - lot.heat - TOLERANCE for lot in problem.lots]
        self.outside = [np.concatenate(([0.0], np.cumsum(lot.outside))) for lot in problem.lots]
        days = np.arange(problem.days + 1)
        self.clipped = [np.clip(days, lot.begin, lot.leave) for lot in problem.lots]
        self.reach = [sorted({s for option in lot.options for s in option.path}) for lot in problem.lots]
        self.known: dict[tuple[int, int, tuple[int, ...]], Floats] = {}
        self.restart(answer)

    def restart(self, answer: Answer) -> None:
        """Begin again from an answer that can be done."""
        self.choices = [list(row) for row in answer.choices]
        self.options = list(answer.options)
        self.holds = list(answer.holds)
        self.off = list(self.problem.days_off(answer))
        self.taken = [self.problem.standing(answer, s) for s in range(len(self.problem.stands))]

    def answer(self) -> Answer:
        return Answer(tuple(tuple(row) for row in self.choices), tuple(self.options), tuple(self.holds))

    def key(self) -> Key:
        answer = self.answer()
        pots = sum(lot.pots * abs(off) for lot, off in zip(self.problem.lots, self.off, strict=True))
        return pots, changes(answer), moves(answer)

    def settle(self) -> Key:
        """Change one thing at a time, each for the better, until nothing is left to gain."""
        key = self.key()
        for turn in range(ROUNDS):
            for stand in range(len(self.choices)):
                self._bench(stand)
            for lot in range(len(self.options)):
                self._place(lot)
            for lot in range(len(self.options) if turn else 0):
                self._wait(lot)
            before, key = key, self.key()
            if key >= before and turn:
                break
        return key

    # ------------------------------------------------------------ one bench

    def _bench(self, stand: int) -> None:
        """The best other row of choices for a bench: one block, a run of blocks, or all from one on."""
        lots = [i for i, lot in enumerate(self.problem.lots) if stand in lot.options[self.options[i]].path]
        if any(self.holds[i] for i in lots):
            return  # a hold rests on the day colour comes; its bench stays as it is
        now = self.choices[stand]
        rows = [now, *(row for row in self._rows(stand, lots) if row != now)]
        if len(rows) == 1:
            return
        cost = np.zeros(len(rows))
        blooms = {}
        for i in lots:
            blooms[i] = self._blooms_by_row(i, stand, rows) - self.problem.lots[i].target
            cost += self.problem.lots[i].pots * np.abs(blooms[i])
        turns = np.array([sum(a != b for a, b in zip([0, *row], row, strict=False)) for row in rows])
        # Of rows that are equally good, the one nearest to what the bench is set to.
        means = np.array(self.problem.stands[stand].means)
        spans = np.array([end - first for first, end in self.problem.blocks])
        far = np.round(np.abs(means[np.array(rows)] - means[0]) @ spans, 6)
        best = int(np.lexsort((far, turns, cost))[0])
        if (cost[best], turns[best], far[best]) < (cost[0], turns[0], far[0]):
            self.choices[stand] = list(rows[best])
            for i in lots:
                self.off[i] = int(blooms[i][best])

    def _rows(self, stand: int, lots: Sequence[int]) -> Iterator[list[int]]:
        now = self.choices[stand]
        open_ = self.open(stand, lots)
        bound = self.problem.stands[stand].bound
        for first in range(len(now)):
            for end in range(first + 1, len(now) + 1):
                for choice in sorted(set.intersection(*open_[first:end])):
                    row = [*now[:first], *[choice] * (end - first), *now[end:]]
                    if all(row[k] == row[k - 1] for k in bound):
                        yield row

    def open(self, stand: int, lots: Sequence[int]) -> list[set[int]]:
        """In each block, the choices of a bench that all these lots stand."""
        out = [set(row) for row in self.problem.stands[stand].choices]
        for i in lots:
            lot = self.problem.lots[i]
            path = lot.options[self.options[i]].path
            for k, (first, end) in enumerate(self.problem.blocks):
                if path[k] == stand and lot.minds(first, end):
                    out[k] &= lot.fits[stand]
        return out

    def _blooms_by_row(self, number: int, stand: int, rows: Sequence[Sequence[int]]) -> NDArray[np.int64]:
        problem, lot = self.problem, self.problem.lots[number]
        path = lot.options[self.options[number]].path
        heat = np.tile(lot.outside, (len(rows), 1))
        picks = np.array(rows)
        for k, (first, end) in enumerate(problem.spans()):
            a, b = max(first, lot.begin), min(end, lot.leave)
            if a < b:
                table = problem.daily[lot.kind, path[k]]
                tail = k == len(problem.blocks)
                if path[k] == stand and not tail:
                    heat[:, a:b] = table[picks[:, k], a:b]
                else:
                    heat[:, a:b] = table[0 if tail else self.choices[path[k]][k], a:b]
        return self._first_day(number, np.cumsum(heat, axis=1))

    def _first_day(self, number: int, sums: Floats) -> NDArray[np.int64]:
        """Bloom by row from the heat gathered by the end of each day."""
        if self.wanted[number] <= 0:
            return np.zeros(len(sums), dtype=np.int64)
        days: NDArray[np.int64] = (sums < self.wanted[number]).sum(axis=1) + 1
        return np.minimum(days, self.problem.days)

    # ------------------------------------------------------------ one lot

    def _place(self, number: int) -> None:
        """The best option of a lot that its limits and the room allow."""
        lot = self.problem.lots[number]
        if len(lot.options) == 1 or self.holds[number] is not None:
            return
        off = self.blooms(number) - lot.target
        now = self.options[number]
        good = (abs(self.off[number]), now != 0)
        for option in sorted(range(len(off)), key=lambda o: (abs(off[o]), o != 0, o)):
            if (abs(off[option]), option != 0) >= good:
                return
            if self._stands_it(lot, option) and self._room(number, option):
                self._move(number, option, int(off[option]))
                return

    def blooms(self, number: int) -> NDArray[np.int64]:
        """Bloom of a lot by option, the benches as they are set."""
        problem, lot = self.problem, self.problem.lots[number]
        sums = {s: self._gathered(number, s) for s in self.reach[number]}
        rows = []
        for option in lot.options:
            first, last = option.path[0], option.path[-1]
            at = problem.blocks[option.moved][0] if option.moved is not None else 0
            row = sums[last] + (sums[first][at] - sums[last][at])
            row[:at] = sums[first][:at]
            rows.append(row[1:])
        return self._first_day(number, np.array(rows) + self.outside[number][1:])

    def _gathered(self, number: int, stand: int) -> Floats:
        """Heat that a lot would have by the start of each day from standing there all its time on benches."""
        lot = self.problem.lots[number]
        key = (lot.kind, stand, tuple(self.choices[stand]))
        if key not in self.known:
            daily = np.zeros(self.problem.days + 1)
            table = self.problem.daily[lot.kind, stand]
            for k, (first, end) in enumerate(self.problem.spans()):
                choice = self.choices[stand][k] if k < len(self.problem.blocks) else 0
                daily[first + 1 : end + 1] = table[choice, first:end]
            self.known[key] = np.cumsum(daily)
        sums = self.known[key]
        mine: Floats = sums[self.clipped[number]] - sums[lot.begin]
        return mine

    def _stands_it(self, lot: LiveLot, option: int) -> bool:
        path = lot.options[option].path
        return all(
            self.choices[path[k]][k] in lot.fits[path[k]]
            for k, (first, end) in enumerate(self.problem.blocks)
            if lot.minds(first, end)
        )

    def _room(self, number: int, option: int) -> bool:
        lot = self.problem.lots[number]
        old, new = lot.options[self.options[number]].path, lot.options[option].path
        for k, (first, end) in enumerate(self.problem.spans()):
            room = self.problem.stands[new[k]].room
            if new[k] != old[k] and room is not None:
                days = slice(max(first, lot.begin), max(0, min(end, lot.gone)))
                if (self.taken[new[k]][days] + lot.area > room[days] + 1e-6).any():
                    return False
        return True

    def _move(self, number: int, option: int, off: int) -> None:
        lot = self.problem.lots[number]
        old, new = lot.options[self.options[number]].path, lot.options[option].path
        for k, (first, end) in enumerate(self.problem.spans()):
            days = slice(max(first, lot.begin), max(0, min(end, lot.gone)))
            self.taken[old[k]][days] -= lot.area
            self.taken[new[k]][days] += lot.area
        self.options[number], self.off[number] = option, off

    def _wait(self, number: int) -> None:
        """The best hold of a lot that may be held."""
        lot, problem = self.problem.lots[number], self.problem
        if lot.holding is None:
            return
        option, kept = lot.options[self.options[number]], self.holds[number]
        good = (abs(self.off[number]), kept is not None)
        for hold in self._holds(lot, number):
            off = problem.bloom(lot, option, hold, self.answer()) - lot.target
            if (abs(off), hold is not None) < good:
                was, self.holds[number] = self.holds[number], hold
                if next(problem.faults(self.answer()), None) is None:
                    good, self.off[number] = (abs(off), hold is not None), off
                else:
                    self.holds[number] = was

    def _holds(self, lot: LiveLot, number: int) -> Iterator[Hold | None]:
        holding, answer = lot.holding, self.answer()
        if holding is None:
            return
        yield None
        option = lot.options[self.options[number]]
        heat = lot.heat + np.cumsum(self.problem.heats(lot, option, None, answer))
        first = max(lot.begin, int(np.searchsorted(heat, holding.colour)) + 1)
        last = min(self.problem.bloom(lot, option, None, answer), lot.leave, self.problem.tail)
        for start in range(first, last):
            for end in range(start + 1, min(start + holding.longest, lot.leave, self.problem.tail) + 1):
                if holding.working[start] and (holding.working[end] or end == lot.leave):
                    yield Hold(start, end)

    # ------------------------------------------------------------ kicks

    def kick(self, dice: random.Random) -> None:
        """Set a bench or two to something else at random, and put a few lots elsewhere."""
        if dice.random() < 0.3:  # holds rest on their benches; without them benches are free to change
            self.holds = [None] * len(self.holds)
        for _ in range(dice.choice((0, 1, 1, 2))):
            self._clear(dice.randrange(len(self.choices)), dice)
        for _ in range(dice.choice((0, 1, 2, 3))):
            number = dice.randrange(len(self.options))
            self._send(number, [dice.randrange(len(self.problem.lots[number].options))])
        self.off = list(self.problem.days_off(self.answer()))

    def _clear(self, stand: int, dice: random.Random) -> None:
        """Set a bench to one choice throughout; lots that do not stand it go elsewhere, or all stays."""
        held = [lot.options[o].path for lot, o, hold in zip(self.problem.lots, self.options, self.holds, strict=True)
                if hold is not None]  # fmt: skip
        if any(stand in path for path in held):
            return  # a hold rests on the day colour comes
        open_ = sorted(set.intersection(*(set(row) for row in self.problem.stands[stand].choices)))
        before = self.choices[stand]
        self.choices[stand] = [dice.choice(open_)] * len(before)
        for i, lot in enumerate(self.problem.lots):
            if self._stands_it(lot, self.options[i]):
                continue
            others = [
                o for o, option in enumerate(lot.options) if stand not in option.path[option.moved or 0 :]
            ]
            dice.shuffle(others)
            if not self._send(i, others):
                self.choices[stand] = before
                return

    def _send(self, number: int, options: Sequence[int]) -> bool:
        """Put a lot on the first of these options that its limits and the room allow."""
        lot = self.problem.lots[number]
        for option in options if self.holds[number] is None else ():
            if self._stands_it(lot, option) and self._room(number, option):
                self._move(number, option, 0)
                return True
        return False


def search(problem: Problem, start: Answer, *, enough: float = 0.0, kicks: int = KICKS) -> Answer:
    """The best answer found near one that can be done; never a worse one. The same input gives the same answer.

    It ends early at `enough` pots × days off target.
    """
    searcher = Searcher(problem, start)
    best, answer = searcher.settle(), searcher.answer()
    settled = best, answer
    for chain in range(CHAINS if problem.lots and problem.blocks else 0):
        dice = random.Random(20 + chain)
        (now, here), left = settled, SLACK
        for _ in range(kicks):
            if best[0] <= enough:
                break
            searcher.restart(here)
            searcher.kick(dice)
            key, left = searcher.settle(), left - SLACK / kicks
            if key[0] <= now[0] * (1 + left):
                now, here = key, searcher.answer()
            if key < best:
                best, answer = key, searcher.answer()
    if next(problem.faults(answer), None) is not None or problem.score(answer) > problem.score(start):
        return start
    return answer


def simplify(problem: Problem, answer: Answer, tolerance: int) -> Answer:
    """The answer with holds, moves and settings left out, as long as no lot is the worse for it.

    A lot within `tolerance` days of its target may go anywhere within them; one beyond may get no farther off;
    and the whole stays better than changing nothing. Tolerance 0 gives the answer back.
    """
    if tolerance == 0:
        return answer
    nothing = _pots_off(problem, problem.days_off(problem.unchanged()))
    off, shorter = problem.days_off(answer), True
    while shorter:
        shorter = False
        for fewer in _fewer(answer):
            days = problem.days_off(fewer)
            good = _no_worse(off, days, tolerance) and _pots_off(problem, days) < nothing
            if good and next(problem.faults(fewer), None) is None:
                answer, off, shorter = fewer, days, True
                break
    return answer


def _no_worse(before: Sequence[int], after: Sequence[int], tolerance: int) -> bool:
    return all(abs(b) <= max(tolerance, abs(a)) for a, b in zip(before, after, strict=True))


def _pots_off(problem: Problem, off: Sequence[int]) -> int:
    return sum(lot.pots * abs(days) for lot, days in zip(problem.lots, off, strict=True))


def _fewer(answer: Answer) -> Iterator[Answer]:
    """The answer with one thing less: a hold, a move, a bench left alone, a change put off or left out."""
    for i, hold in enumerate(answer.holds):
        if hold is not None:
            yield Answer(answer.choices, answer.options, (*answer.holds[:i], None, *answer.holds[i + 1 :]))
    for i, option in enumerate(answer.options):
        if option:
            yield Answer(answer.choices, (*answer.options[:i], 0, *answer.options[i + 1 :]), answer.holds)
    for s, row in enumerate(answer.choices):
        for simpler in _simpler(row):
            yield Answer(
                (*answer.choices[:s], simpler, *answer.choices[s + 1 :]), answer.options, answer.holds
            )


def _simpler(row: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Rows with fewer changes: all as set, or one run of equal choices made like the run before or after it."""
    if any(choice != KEEP for choice in row):
        yield (KEEP,) * len(row)
    runs: list[tuple[int, int]] = []
    for k, choice in enumerate(row):
        if runs and row[runs[-1][0]] == choice:
            runs[-1] = (runs[-1][0], k + 1)
        else:
            runs.append((k, k + 1))
    for number, (first, end) in enumerate(runs):
        before = row[first - 1] if number else KEEP
        neighbours = [before] + ([row[end]] if end < len(row) else [])
        for choice in neighbours:
            if choice != row[first]:
                yield (*row[:first], *(choice,) * (end - first), *row[end:])
