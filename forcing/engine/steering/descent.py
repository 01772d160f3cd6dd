"""Good answers found by changing one thing at a time from many starts, then freed of work that is not worth it."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from forcing.engine.steering.choices import (
    KEEP,
    Answer,
    Ints,
    SteeringProblem,
    bloom_days,
    changes,
    held,
    moves,
)

ROUNDS = 12  # each tries every bench and every lot once; a few come to rest
KICKS = 150  # fresh starts, each with a few things changed at random (but always the same)
# A chain of kicks goes on from an answer that is a little worse than the one before, by less and less (threshold
# accepting; Dueck & Scheuer 1990), so that it leaves a corner where one change alone gains nothing.
CHAINS, SLACK = 3, 0.15
Key = tuple[int, int, int]
T = TypeVar("T")


class Searcher:
    """An answer as it is being changed, with the days off of each lot and the room taken on each bench."""

    def __init__(self, problem: SteeringProblem, answer: Answer) -> None:
        self.problem = problem
        self.restart(answer)

    def restart(self, answer: Answer) -> None:
        """Begin again from an answer that can be done."""
        self.settings = self.problem.settings(answer.choices)
        self.options = list(answer.options)
        self.holds = list(answer.holds)
        self.off = list(self.problem.days_off(answer))
        self.taken = [self.problem.taken(answer.options, s) for s in range(len(self.problem.benches))]

    def answer(self) -> Answer:
        choices = tuple(tuple(row) for row in self.settings[:, :-1].tolist())
        return Answer(choices, tuple(self.options), tuple(self.holds))

    def key(self) -> Key:
        answer = self.answer()
        return self.problem.pots_off(self.off), changes(answer), moves(answer)

    def settle(self) -> Key:
        """Change one thing at a time, each for the better, until nothing is left to gain."""
        key = self.key()
        for turn in range(ROUNDS):
            for bench in range(len(self.settings)):
                self._set(bench)
            for lot in range(len(self.options)):
                self._place(lot)
            for lot in range(len(self.options) if turn else 0):
                self._wait(lot)
            before, key = key, self.key()
            if key >= before and turn:
                break
        return key

    # ------------------------------------------------------------ one bench

    def _set(self, bench: int) -> None:
        """The best other row of choices for a bench: one block, a run of blocks, or all from one on."""
        problem = self.problem
        lots = [i for i, lot in enumerate(problem.lots) if bench in lot.paths[self.options[i]]]
        if any(self.holds[i] for i in lots):
            return  # a hold rests on the day colour comes; its bench stays as it is
        now = self.settings[bench, :-1].tolist()
        rows = [now, *(row for row in self._rows(bench, lots) if row != now)]
        if len(rows) == 1:
            return
        picks = np.pad(np.array(rows), ((0, 0), (0, 1)), constant_values=KEEP)
        off = {i: self._off_by_row(i, bench, picks) for i in lots}
        cost = sum((problem.lots[i].pots * np.abs(days) for i, days in off.items()), np.zeros(len(rows)))
        turns = np.count_nonzero(np.diff(picks[:, :-1], axis=1, prepend=KEEP), axis=1)
        # Of rows that are equally good, the one nearest to what the bench is set to.
        means = np.array(problem.benches[bench].means)
        spans = np.array([end - first for first, end in problem.blocks])
        far = np.round(np.abs(means[picks[:, :-1]] - means[KEEP]) @ spans, 6)
        best = int(np.lexsort((far, turns, cost))[0])
        if (cost[best], turns[best], far[best]) < (cost[0], turns[0], far[0]):
            self.settings[bench] = picks[best]
            for i in lots:
                self.off[i] = int(off[i][best])

    def _rows(self, bench: int, lots: Sequence[int]) -> Iterator[list[int]]:
        now = self.settings[bench, :-1].tolist()
        open_ = self._open(bench, lots)
        bound = self.problem.benches[bench].bound
        for first in range(len(now)):
            for end in range(first + 1, len(now) + 1):
                for choice in sorted(set.intersection(*open_[first:end])):
                    row = [*now[:first], *[choice] * (end - first), *now[end:]]
                    if all(row[k] == row[k - 1] for k in bound):
                        yield row

    def _open(self, bench: int, lots: Sequence[int]) -> list[set[int]]:
        """In each block, the choices of a bench that all these lots stand."""
        out = [set(row) for row in self.problem.benches[bench].choices]
        for i in lots:
            lot = self.problem.lots[i]
            for k in lot.binding:
                if lot.paths[self.options[i], k] == bench:
                    out[k] &= lot.fits[bench]
        return out

    def _off_by_row(self, number: int, bench: int, picks: Ints) -> Ints:
        """Days off target of a lot, by row of choices of a bench."""
        lot = self.problem.lots[number]
        path = lot.paths[self.options[number]]
        choices = np.where(path == bench, picks, self.settings[path, np.arange(path.size)])
        paths = np.broadcast_to(path, choices.shape)
        return bloom_days(lot, self.problem.heats(lot, paths, choices)) - lot.target

    # ------------------------------------------------------------ one lot

    def _place(self, number: int) -> None:
        """The best option of a lot that its limits and the room allow."""
        lot = self.problem.lots[number]
        if len(lot.paths) == 1 or self.holds[number] is not None:
            return
        off = bloom_days(lot, self.problem.heats_by_option(lot, self.settings)) - lot.target
        good = (abs(self.off[number]), self.options[number] != 0)
        for option in sorted(range(len(off)), key=lambda o: (abs(off[o]), o != 0, o)):
            if (abs(off[option]), option != 0) >= good:
                return
            if self.problem.stands_it(lot, option, self.settings) and self._room(number, option):
                self._move(number, option, int(off[option]))
                return

    def _room(self, number: int, option: int) -> bool:
        lot = self.problem.lots[number]
        old, new = lot.paths[self.options[number]], lot.paths[option]
        for k, a, b in self.problem.spells(lot, lot.gone):
            room = self.problem.benches[new[k]].room
            if new[k] == old[k] or room is None:
                continue
            if (self.taken[new[k]][a:b] + lot.area > room[a:b] + 1e-6).any():
                return False
        return True

    def _move(self, number: int, option: int, off: int) -> None:
        lot = self.problem.lots[number]
        old, new = lot.paths[self.options[number]], lot.paths[option]
        for k, a, b in self.problem.spells(lot, lot.gone):
            self.taken[old[k]][a:b] -= lot.area
            self.taken[new[k]][a:b] += lot.area
        self.options[number], self.off[number] = option, off

    def _wait(self, number: int) -> None:
        """The best hold of a lot that may be held."""
        lot, problem = self.problem.lots[number], self.problem
        if lot.holding is None:
            return
        heats = problem.heats_of(lot, self.options[number], self.settings)
        good = (abs(self.off[number]), self.holds[number] is not None)
        for hold in (None, *problem.holds(lot, heats, int(bloom_days(lot, heats)))):
            off = int(bloom_days(lot, held(lot, heats, hold))) - lot.target
            if (abs(off), hold is not None) < good:
                was, self.holds[number] = self.holds[number], hold
                if next(problem.faults(self.answer()), None) is None:
                    good, self.off[number] = (abs(off), hold is not None), off
                else:
                    self.holds[number] = was

    # ------------------------------------------------------------ kicks

    def kick(self, dice: random.Random) -> None:
        """Set a bench or two to something else at random, and put a few lots elsewhere."""
        if dice.random() < 0.3:  # holds rest on their benches; without them benches are free to change
            self.holds = [None] * len(self.holds)
        for _ in range(dice.choice((0, 1, 1, 2))):
            self._clear(dice.randrange(len(self.settings)), dice)
        for _ in range(dice.choice((0, 1, 2, 3))):
            number = dice.randrange(len(self.options))
            self._send(number, [dice.randrange(len(self.problem.lots[number].paths))])
        self.off = list(self.problem.days_off(self.answer()))

    def _clear(self, bench: int, dice: random.Random) -> None:
        """Set a bench to one choice throughout; lots that do not stand it go elsewhere, or all stays."""
        lots = self.problem.lots
        if any(
            hold is not None and bench in lot.paths[o]
            for lot, o, hold in zip(lots, self.options, self.holds, strict=True)
        ):
            return  # a hold rests on the day colour comes
        open_ = sorted(set.intersection(*(set(row) for row in self.problem.benches[bench].choices)))
        before = self.settings[bench].copy()
        self.settings[bench, :-1] = dice.choice(open_)
        for i, lot in enumerate(lots):
            if self.problem.stands_it(lot, self.options[i], self.settings):
                continue
            others = [o for o, path in enumerate(lot.paths) if bench not in path[lot.moved[o] or 0 :]]
            dice.shuffle(others)
            if not self._send(i, others):
                self.settings[bench] = before
                return

    def _send(self, number: int, options: Sequence[int]) -> bool:
        """Put a lot on the first of these options that its limits and the room allow."""
        lot = self.problem.lots[number]
        for option in options if self.holds[number] is None else ():
            if self.problem.stands_it(lot, option, self.settings) and self._room(number, option):
                self._move(number, option, 0)
                return True
        return False


def search(problem: SteeringProblem, start: Answer, *, enough: float = 0.0, kicks: int = KICKS) -> Answer:
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


def simplify(problem: SteeringProblem, answer: Answer, tolerance: int) -> Answer:
    """The answer with holds, moves and settings left out, as long as no lot is the worse for it.

    A lot within `tolerance` days of its target may go anywhere within them; one beyond may get no farther off;
    and the whole stays better than changing nothing. Tolerance 0 gives the answer back.
    """
    if tolerance == 0:
        return answer
    nothing = problem.pots_off(problem.days_off(problem.unchanged()))
    off, shorter = problem.days_off(answer), True
    while shorter:
        shorter = False
        for fewer in _fewer(answer):
            days = problem.days_off(fewer)
            good = _no_worse(off, days, tolerance) and problem.pots_off(days) < nothing
            if good and next(problem.faults(fewer), None) is None:
                answer, off, shorter = fewer, days, True
                break
    return answer


def _no_worse(before: Sequence[int], after: Sequence[int], tolerance: int) -> bool:
    return all(abs(b) <= max(tolerance, abs(a)) for a, b in zip(before, after, strict=True))


def _fewer(answer: Answer) -> Iterator[Answer]:
    """The answer with one thing less: a hold, a move, a bench left alone, a change put off or left out."""
    for i, hold in enumerate(answer.holds):
        if hold is not None:
            yield replace(answer, holds=_with(answer.holds, i, None))
    for i, option in enumerate(answer.options):
        if option:
            yield replace(answer, options=_with(answer.options, i, 0))
    for s, row in enumerate(answer.choices):
        for simpler in _simpler(row):
            yield replace(answer, choices=_with(answer.choices, s, simpler))


def _with(values: Sequence[T], at: int, value: T) -> tuple[T, ...]:
    return (*values[:at], value, *values[at + 1 :])


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
