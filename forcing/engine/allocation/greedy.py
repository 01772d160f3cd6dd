"""A good start without a solver: lots placed one after another, blockers moved aside, then each improved."""

from __future__ import annotations

from collections.abc import Sequence

from forcing.engine.allocation.problem import SPLIT, Answer, Part, Pick, Problem, Standing, standing_of

LOOK = 10  # options of a lot that are tried when another has to move aside for it
LOOK_IN_TWO = 60  # options that are tried for each part of a lot that is split
PASSES = 4


def earliest_first(problem: Problem) -> Answer:
    """Each lot in the order of its potting at its ideal cold, in its first option that fits: the plain way."""
    standing = Standing(problem)
    _place_kept(standing)
    free = [i for i, c in enumerate(problem.candidates) if c.options and not c.kept]
    for at in sorted(free, key=lambda i: (problem.candidates[i].options[0].dates.potting, i)):
        pick = _first_that_fits(standing, at)
        if pick is not None:
            standing.put(at, pick)
    return tuple(standing.picks)


def good_start(problem: Problem) -> Answer:
    """Large and long stays first, then lots moved aside for those left out, then each to its best place."""
    standing = Standing(problem)
    _place_kept(standing)
    free = [i for i, c in enumerate(problem.candidates) if c.options and not c.kept]
    for at in sorted(free, key=lambda i: (-_bulk(problem, i), i)):
        pick = whole_or_in_two(standing, at)
        if pick is not None:
            standing.put(at, pick)
    for _ in range(PASSES):
        left = [at for at in free if standing.picks[at] is None]
        made = [_make_room(standing, at) for at in left]
        if not any(made):
            break
    return improved(problem, standing.picks)


def improved(problem: Problem, answer: Sequence[Pick | None]) -> Answer:
    """Every lot in turn to the best option that fits where the others stand, until none can gain."""
    standing = standing_of(problem, answer)
    for _ in range(PASSES):
        changed = False
        for at, candidate in enumerate(problem.candidates):
            if not candidate.choice or (candidate.kept and standing.picks[at] is None):
                continue
            before = standing.drop(at)
            pick = whole_or_in_two(standing, at)
            if pick is None or (before is not None and not _better(standing, at, pick, before)):
                pick = before
            if pick is not None:
                standing.put(at, pick)
            changed |= pick != before
        if not changed:
            break
    return tuple(standing.picks)


def _better(standing: Standing, at: int, new: Pick, old: Pick) -> bool:
    """Whether a pick that fits gains on what the lot had: less overfull, fewer hours over, then nearer its ideal."""
    gain = []
    for pick in (new, old):
        if pick.second is None:
            over, (_, hours) = standing.over(at, pick.option), standing.pull(at, pick.option)
        else:
            over, hours = 0.0, standing.hours_added(at, pick)
        cost = round(standing.problem.cost(at, pick), 6)
        gain.append((round(over, 3), round(hours, 3), cost, pick.pulled))
    return gain[0] < gain[1]


def _bulk(problem: Problem, at: int) -> float:
    candidate = problem.candidates[at]
    dates = candidate.options[0].dates
    return candidate.area * (dates.bloom - dates.potting)


def _place_kept(standing: Standing) -> None:
    """Lots whose places are given stand there whatever it costs, those without a choice first."""
    problem = standing.problem
    kept = [i for i, c in enumerate(problem.candidates) if c.kept and c.options]
    for at in sorted(kept, key=lambda i: (len(problem.candidates[i].options) > 1, -_bulk(problem, i), i)):
        options = problem.candidates[at].options
        fitting = _first_that_fits(standing, at)
        if fitting is None:
            least = min(
                range(len(options)), key=lambda n: (round(standing.over(at, n), 3), options[n].cost, n)
            )
            fitting = Pick(least, standing.pull(at, least)[0])
        standing.put(at, fitting)


def _first_that_fits(standing: Standing, at: int) -> Pick | None:
    """The cheapest option with room and hours; with room only, where none keeps within the hours."""
    short: tuple[float, int, Pick] | None = None
    for number in range(len(standing.problem.candidates[at].options)):
        if not standing.fits(at, number):
            continue
        pulled, over = standing.pull(at, number)
        if over == 0.0:
            return Pick(number, pulled)
        if short is None or over < short[0] - 1e-6:
            short = (over, number, Pick(number, pulled))
    return None if short is None else short[2]


def whole_or_in_two(standing: Standing, at: int) -> Pick | None:
    """The cheapest way that fits: the lot together, or in two places where it may be split and that is better."""
    whole, candidate = _first_that_fits(standing, at), standing.problem.candidates[at]
    if not candidate.split:
        return whole
    ideal = candidate.lot.pots * (candidate.options[0].cost + SPLIT)
    if whole is not None and standing.problem.cost(at, whole) <= ideal + 1e-9:
        return whole
    divided = in_two(standing, at)
    if divided is None or (whole is not None and not _better(standing, at, divided, whole)):
        return whole
    return divided


def in_two(standing: Standing, at: int) -> Pick | None:
    """The cheapest way to grow a lot in two places that fits; None where there is none."""
    problem, candidate = standing.problem, standing.problem.candidates[at]
    pots, each, options = candidate.lot.pots, problem.each(at), candidate.options
    numbers = [n for n in range(min(len(options), LOOK_IN_TWO)) if standing.most(at, n) > 0]
    best: tuple[float, Pick] | None = None
    for one in numbers:
        first = min(standing.most(at, one), pots - 1)
        fixed, rest = first * options[one].cost, pots - first
        standing.shift(at, one, first * each)
        for other in numbers:
            cost = fixed + rest * options[other].cost
            if best is not None and cost >= best[0] - 1e-9:
                break  # options are in order of cost
            apart = (options[one].cooler, options[one].bench) != (options[other].cooler, options[other].bench)
            if apart and standing.most(at, other) >= rest:
                best = (cost, Pick(one, 0, Part(other, rest)))
                break
        standing.shift(at, one, -first * each)
    if best is None:
        return None
    larger = best[1].second
    assert larger is not None
    if larger.pots > pots - larger.pots:  # the larger part first, as everywhere
        return Pick(larger.option, 0, Part(best[1].option, pots - larger.pots))
    return best[1]


def _make_room(standing: Standing, at: int) -> bool:
    """Place a lot by moving one other aside to another of its options; whether that was possible."""
    problem = standing.problem
    candidate = problem.candidates[at]
    best: tuple[float, int, int, Pick] | None = None
    for number, option in enumerate(candidate.options[:LOOK]):
        for other in _blockers(standing, at, number):
            before = standing.drop(other)
            assert before is not None
            if standing.fits(at, number):
                standing.put(at, Pick(number))
                moved = _first_that_fits(standing, other)
                standing.put(at, Pick(number), -1.0)
                if moved is not None:
                    theirs = problem.candidates[other]
                    cost = candidate.lot.pots * option.cost + theirs.lot.pots * (
                        theirs.options[moved.option].cost - theirs.options[before.option].cost
                    )
                    if best is None or (cost, number, other) < best[:3]:
                        best = (cost, number, other, moved)
            standing.put(other, before)
    if best is None:
        return False
    _, number, other, moved = best
    standing.drop(other)
    standing.put(at, Pick(number, standing.pull(at, number)[0]))
    standing.put(other, moved)
    return True


def _blockers(standing: Standing, at: int, number: int) -> list[int]:
    """Lots with a choice that stand where and when the option lacks room."""
    problem = standing.problem
    candidate = problem.candidates[at]
    full: list[tuple[str, int, int]] = []
    for place, start, end in problem.stands(candidate, candidate.options[number]):
        load = standing.taken[place][start:end]
        if load.size and float(load.max()) + candidate.area > problem.room[place] + 1e-6:
            full.append((place, start, end))
    if not full:
        return []
    out = []
    for other, pick in enumerate(standing.picks):
        theirs = problem.candidates[other]
        if pick is None or other == at or not theirs.choice or theirs.area <= 0:
            continue
        stays = problem.stays(other, pick)
        if any(p == q and a < d and c < b for p, a, b in full for q, c, d, _ in stays):
            out.append(other)
    return out
