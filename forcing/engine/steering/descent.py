"""The best answer for each number of actions: one thing changed at a time, from none upward and back again.

A neighbour of an answer sets one zone otherwise for a stretch of weeks, or gives one lot another path. From the best
answer of n actions the best neighbours of n - 2 to n + 2 actions are taken; each is improved as long as that gains; and
when more actions no longer earn what they must, the whole is gone through backward and forward once more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from forcing.engine.steering.choices import (
    MOST_A_WEEK,
    MOST_CHANGE,
    Answer,
    Floats,
    Ints,
    Path,
    SteeringProblem,
    changed,
    has_room,
    take,
    week_of,
)

MOST_ACTIONS = 24  # of any answer; practice, no source: no house does more than that for what it gains
PATIENCE = 3  # actions more without a better answer, after which no more are tried
PASSES = 2
LEAST_GAIN = 1e-6  # pot-days; less is rounding


@dataclass(slots=True)
class Front:
    """The best answer found for each number of actions. `carrying`: whether lots may be moved and held."""

    problem: SteeringProblem
    carrying: bool = True
    most: int = MOST_ACTIONS
    best: dict[int, Answer] = field(default_factory=dict)
    _zones: dict[tuple[object, ...], tuple[Ints, Floats]] = field(default_factory=dict)
    _lots: dict[tuple[int, bytes], tuple[tuple[Path, ...], Floats]] = field(default_factory=dict)
    _expanded: set[int] = field(default_factory=set)
    _kept: list[Answer] = field(default_factory=list)  # so that no two answers ever share an id

    def search(self) -> dict[int, Answer]:
        """The best answers by number of actions, 0 among them. The same problem gives the same answers."""
        problem = self.problem
        start = Answer.of(problem, problem.unchanged(), tuple(lot.paths[0] for lot in problem.lots))
        self.best[start.actions] = start
        for _ in range(PASSES):
            before = {n: answer.value() for n, answer in self.best.items()}
            count = 0
            while count <= self._last():
                self._improve(count)
                count += 1
            for count in range(max(self.best), 0, -1):
                self._improve(count)
            if self.carrying:
                for answer in (start, min(self.best.values(), key=Answer.value)):
                    self._exchange(answer)
            if before == {n: answer.value() for n, answer in self.best.items()}:
                break
        return dict(sorted(self.best.items()))

    def _last(self) -> int:
        """The number of actions after which more are not tried."""
        good = min(self.best, key=lambda n: (self.best[n].value(), n))
        return min(max(self.best), self.most, good + PATIENCE)

    def _improve(self, count: int) -> None:
        while count in self.best and id(self.best[count]) not in self._expanded:
            answer = self.best[count]
            self._expanded.add(id(answer))
            self._kept.append(answer)
            nearest: dict[int, tuple[float, Ints, tuple[Path, ...]]] = {}
            for value, actions, settings, paths in self._neighbours(answer):
                if actions <= self.most and value < nearest.get(actions, (np.inf,))[0] - LEAST_GAIN:
                    nearest[actions] = value, settings, paths
            for actions, (value, settings, paths) in nearest.items():
                if actions not in self.best or value < self.best[actions].value() - LEAST_GAIN:
                    self.best[actions] = Answer.of(self.problem, settings, paths)

    def _neighbours(self, answer: Answer) -> Iterator[tuple[float, int, Ints, tuple[Path, ...]]]:
        """Value, number of actions, settings and paths of the best neighbours, of each number, of each zone and lot."""
        for zone in range(len(self.problem.zones)):
            yield from self._settings(answer, zone)
        if self.carrying:
            free = answer.room()
            for number in range(len(self.problem.lots)):
                yield from self._paths(answer, number, free)

    def _exchange(self, answer: Answer) -> None:
        """Try what no single change leads to: a zone set otherwise throughout, every lot then where it does best."""
        problem, most = self.problem, int(MOST_CHANGE / self.problem.step + 1e-6)
        for number, zone in enumerate(problem.zones):
            for steps in range(max(-most, zone.low.max()), min(most, zone.high.min()) + 1):
                settings = answer.settings.copy()
                settings[number, :-1] = steps
                if steps and problem.turned(number, settings[None, number, :-1])[0]:
                    made = self._placed(answer, settings)
                    better = made and (
                        made.actions not in self.best or made.value() < self.best[made.actions].value()
                    )
                    if made and better and made.actions <= self.most and (made.weekly <= MOST_A_WEEK).all():
                        self.best[made.actions] = made
                        self._improve(made.actions)

    def _placed(self, answer: Answer, settings: Ints) -> Answer | None:
        """The answer with other settings, every lot, the worst off first, on its best path; None where one has none."""
        problem, paths, free = self.problem, list(answer.paths), answer.room()
        order = sorted(range(len(paths)), key=lambda i: -problem.loss(problem.lots[i], paths[i], settings))
        for i in order:
            lot, (ways, losses) = problem.lots[i], self._ways(i, settings)
            values = losses + np.array([path.price for path in ways])
            for way in np.argsort(values, kind="stable").tolist():
                path = ways[way]
                if problem.stands_it(lot, path, settings) and has_room(problem, free, lot, paths[i], path):
                    take(problem, free, lot, paths[i], -1.0)
                    take(problem, free, lot, path, 1.0)
                    paths[i] = path
                    break
            else:
                return None
        return Answer.of(problem, settings, paths)

    # ------------------------------------------------------------ one zone

    def _settings(self, answer: Answer, zone: int) -> Iterator[tuple[float, int, Ints, tuple[Path, ...]]]:
        problem = self.problem
        there = [i for i, path in enumerate(answer.paths) if (problem.zone[path.places] == zone).any()]
        if not there:
            return
        rows, losses = self._rows(answer, zone, there)
        turns, now = changed(rows), changed(answer.settings[zone])
        values = (
            answer.value() + losses - sum(answer.losses[i] for i in there)
            + turns @ problem.zones[zone].price - float(now @ problem.zones[zone].price)
        )  # fmt: skip
        counts = answer.actions - int(now.sum()) + turns.sum(axis=1)
        full = (answer.weekly[:-1] - now + turns > np.maximum(MOST_A_WEEK, answer.weekly[:-1])).any(axis=1)
        values = np.where(full, np.inf, values)
        for count in range(max(0, answer.actions - 2), answer.actions + 3):
            best = int(np.argmin(np.where(counts == count, values, np.inf)))
            if counts[best] == count and np.isfinite(values[best]):
                settings = answer.settings.copy()
                settings[zone] = rows[best]
                yield float(values[best]), count, settings, answer.paths

    def _rows(self, answer: Answer, zone: int, there: Sequence[int]) -> tuple[Ints, Floats]:
        """Rows of steps that a zone may have, and the loss of the lots there in each."""
        problem = self.problem
        passed = sorted({int(z) for i in there for z in problem.zone[answer.paths[i].places]})
        key = (zone, *((i, id(answer.paths[i])) for i in there), answer.settings[passed].tobytes())
        if key not in self._zones:
            rows = problem.rows(zone, answer.settings[zone], *problem.limits(zone, answer.paths))
            settings = np.repeat(answer.settings[None], len(rows), axis=0)
            settings[:, zone] = rows
            losses = np.zeros(len(rows))
            for i in there:
                lot, path = problem.lots[i], answer.paths[i]
                losses += problem.losses(lot, path.places[None], settings, path)
                if path.what == "hold":  # only ever once it shows colour
                    shown = problem.arrivals(lot, path.places[None], settings, path, lot.colour)
                    losses[shown > path.trips[0].day] = np.inf
            self._zones[key] = rows, losses
        return self._zones[key]

    # ------------------------------------------------------------ one lot

    def _paths(
        self, answer: Answer, number: int, free: Mapping[int, Floats]
    ) -> Iterator[tuple[float, int, Ints, tuple[Path, ...]]]:
        problem, now = self.problem, answer.paths[number]
        lot = problem.lots[number]
        paths, losses = self._ways(number, answer.settings)
        prices = np.array([path.price for path in paths])
        values = answer.value() - answer.losses[number] - now.price + losses + prices
        wanted = {answer.actions - now.actions + actions for actions in (0, 1)}
        for best in np.argsort(values, kind="stable").tolist():
            path = paths[best]
            count = answer.actions - now.actions + path.actions
            if count not in wanted or path is now:
                continue
            weekly = answer.weekly - week_of(problem, now) + week_of(problem, path)
            fits = (weekly <= np.maximum(MOST_A_WEEK, answer.weekly)).all()
            good = path is lot.paths[0] or problem.stands_it(lot, path, answer.settings)
            if fits and good and has_room(problem, free, lot, now, path):
                wanted.discard(count)
                yield float(values[best]), count, answer.settings, _with(answer.paths, number, path)

    def _ways(self, number: int, settings: Ints) -> tuple[tuple[Path, ...], Floats]:
        """Every path of a lot, holds among them, and its loss on each."""
        key = number, settings.tobytes()
        if key not in self._lots:
            problem, lot = self.problem, self.problem.lots[number]
            places = np.stack([path.places for path in lot.paths])
            losses = problem.losses(lot, places, settings[None], lot.paths[0])
            holds = tuple(problem.holds(lot, settings))
            held = [problem.loss(lot, path, settings) for path in holds]
            self._lots[key] = (*lot.paths, *holds), np.concatenate((losses, held))
        return self._lots[key]


def _with(paths: tuple[Path, ...], number: int, path: Path) -> tuple[Path, ...]:
    return (*paths[:number], path, *paths[number + 1 :])


def without(answer: Answer, zone: int | None = None, lot: int | None = None) -> Answer:
    """The answer with one zone set as it is, or one lot left as planned."""
    settings, paths = answer.settings.copy(), answer.paths
    if zone is not None:
        settings[zone] = 0
    if lot is not None:
        paths = _with(paths, lot, answer.problem.lots[lot].paths[0])
    return Answer.of(answer.problem, settings, paths)
