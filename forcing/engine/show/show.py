"""The show itself: pots of the displays, the cover of each day, the waves and swaps, and what is thin or missing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from forcing.dates import DAY, Span
from forcing.engine.climate import Climate
from forcing.engine.show.cover import BloomOdds, Cover, cover_of, covers_classes, odds_over
from forcing.engine.show.pots import PotsNeeded, pots_findings, pots_needed
from forcing.engine.show.standing import Standing, standings, swap_tasks
from forcing.engine.show.waves import Wave, lots_from_displays, wave_findings, waves_of
from forcing.engine.simulate import LotSimulation
from forcing.errors import Finding, sort_findings
from forcing.model import BloomClass, LotPlan, Minutes, Season, Task
from forcing.recipes.book import RecipeBook

__all__ = [
    "BloomOdds", "Cover", "PotsNeeded", "Show", "Standing", "Wave", "lots_from_displays", "pots_needed",
    "show_of",
]  # fmt: skip

SOON = 4  # days: a lot that blooms this near the end of a thin stretch could be brought forward to fill it
UNSURE = (
    "Enough is expected, but it is less likely than not: more lots of fewer pots each, a higher confidence of the "
    "season, or logged stages make it surer."
)
SURE = 0.85  # chance of being open by a day, below which a lot is named as unsure


@dataclass(frozen=True, slots=True)
class Show:
    """All that the displays ask for and give."""

    pots: tuple[PotsNeeded, ...]
    standings: tuple[Standing, ...]
    covers: tuple[Cover, ...]
    waves: Mapping[str, tuple[Wave, ...]]  # display -> the waves it needs
    tasks: tuple[Task, ...]  # the swaps
    findings: tuple[Finding, ...]


def show_of(
    season: Season,
    plans: Sequence[LotPlan],
    simulations: Sequence[LotSimulation],
    climate: Climate,
    book: RecipeBook,
    minutes: Mapping[str, Minutes],
    on: date,
    *,
    wanted: float | None = None,
    within: float = 0.0,
    spares: int = 0,
) -> Show:
    """The show of a season that is worked out, as seen on day `on`.

    `wanted` is the share of its pots that a display is to have in bloom (None: the season's), `within` the spread
    of the need between the pots of one lot, `spares` the pots of each lot beyond those planted and lost. Raises
    ValueError for a wanted share that is not above 0 and at most 1, and for spares below 0.
    """
    wanted = season.wanted_cover if wanted is None else wanted
    stands = standings(season, plans, simulations)
    classes = covers_classes(simulations)
    covers: list[Cover] = []
    findings: list[Finding] = []
    for stand in stands:
        names = {piece.lot for piece in stand.pieces}
        mine = [t for t in simulations if t.lot.name in names]
        odds = {o.lot: o for o in odds_over(mine, stand.display.span, on)}
        cover = cover_of(stand, odds, classes, wanted, within)
        covers.append(cover)
        if names or stand.unplanned:
            findings += thin_findings(stand, cover, odds, classes)
    waves = {d.name: waves_of(season, book, climate, d, wanted) for d in season.displays}
    findings += [*pots_findings(season, spares), *wave_findings(season, waves)]
    return Show(
        pots_needed(season, spares),
        stands,
        tuple(covers),
        waves,
        tuple(swap_tasks(season, stands, minutes, on)),
        sort_findings(findings),
    )


# ---------------------------------------------------------------- thin days


def thin_findings(
    stand: Standing,
    cover: Cover,
    odds: Mapping[str, BloomOdds],
    classes: Mapping[str, BloomClass | None],
) -> Iterator[Finding]:
    """A warning for each run of thin days: from when to when, how thin, why, and what would mend it.

    Runs on which enough is expected, and only its chance is below one in two, share one note.
    """
    unsure: list[Span] = []
    for span in cover.thin_spans:
        worst = _worst(cover, span)
        i, j = ((day - cover.span.start).days for day in (span.start, span.end))
        if None in cover.share[i:j]:
            yield _bare(stand, cover, span)
        elif all(s is not None and s >= cover.wanted - 1e-9 for s in cover.share[i:j]):
            unsure.append(span)
        else:
            message = f"{cover.display} is thin {_days(span)}: {_shares(cover, worst)}{_why(stand, cover, odds, worst)}"
            yield Finding(
                "cover-thin", "warning", "displays", stand.display.row, "display", message,
                _mend(stand, cover, span, odds, classes),
            )  # fmt: skip
    if unsure:
        worst = min((_worst(cover, span) for span in unsure), key=lambda day: _key(cover, day))
        message = f"{cover.display} may be thin {', '.join(map(_days, unsure))}: {_shares(cover, worst)}"
        yield Finding("cover-thin", "note", "displays", stand.display.row, "display", message, UNSURE)


def _shares(cover: Cover, day: date) -> str:
    i = (day - cover.span.start).days
    return (
        f"{cover.share[i] or 0.0:.0%} of its pots are expected in bloom on {day}, and the chance that "
        f"{cover.wanted:.0%} are is {cover.chance[i] or 0.0:.0%}"
    )


def _key(cover: Cover, day: date) -> tuple[float, float]:
    i = (day - cover.span.start).days
    return (-1.0 if (s := cover.share[i]) is None else round(s, 6), cover.chance[i] or 0.0)


def _worst(cover: Cover, span: Span) -> date:
    """The thinnest day; the first of equals."""
    return min(span, key=lambda day: _key(cover, day))


def _bare(stand: Standing, cover: Cover, span: Span) -> Finding:
    left_out = f"; {_list(cover.unknown)} cannot be planned" if cover.unknown else ""
    bare = [d for d, share in zip(cover.span, cover.share, strict=True) if share is None and d in span]
    return Finding(
        "cover-thin", "warning", "displays", stand.display.row, "display",
        f"{cover.display} is thin {_days(span)}: nothing stands in it {_days(Span(bare[0], bare[-1] + DAY))}{left_out}",
        f"Set its first lots out by {span.start}, or open it later.",
    )  # fmt: skip


def _why(stand: Standing, cover: Cover, odds: Mapping[str, BloomOdds], day: date) -> str:
    """Which of the lots that stand there are not yet in bloom, and which are over, most likely."""
    here = [o for name, o in odds.items() if stand.pots(name, day)]
    to_come = [o.lot for o in here if o.bloom > day]
    over = [o.lot for o in here if o.fade is not None and o.fade <= day]
    parts = []
    if to_come:
        parts.append(f"not yet in bloom {_list(to_come)}")
    if over:
        parts.append(f"faded {_list(over)}")
    if cover.unknown:
        parts.append(f"not planned and not counted {_list(cover.unknown)}")
    return f" ({'; '.join(parts)})" if parts else ""


def _mend(
    stand: Standing,
    cover: Cover,
    span: Span,
    odds: Mapping[str, BloomOdds],
    classes: Mapping[str, BloomClass | None],
) -> str:
    short = 1
    for i, day in enumerate(cover.span):
        share = cover.share[i]
        if day in span and share is not None:
            short = max(short, math.ceil((cover.wanted - share) * cover.standing[i] - 1e-9))
    each = math.ceil(short / max(1, stand.display.containers))
    coming = _coming(odds, span)
    kind = classes[coming[0].lot] if coming else ("late" if _bloomed(odds, span) else "early")
    lot = f"{'an' if kind == 'early' else 'a'} {kind} lot" if kind else "a lot"
    some = "in one container" if short == 1 else f"1 in each of {short} containers"
    where = f"{each} in each container" if short >= stand.display.containers > 1 else some
    swap = (
        f"have {short} {'pot' if short == 1 else 'pots'} ({where}) of {lot} in bloom {_days(span)} "
        "in place of pots that are not"
    )
    if coming:
        number = (coming[0].bloom - span.start).days
        days = "1 day" if number == 1 else f"{number} days"
        return f"Bring {coming[0].lot} into bloom by {span.start}, {days} sooner than its likely bloom, or {swap}."
    unsure = _unsure(stand, cover, odds, _worst(cover, span))
    if unsure:
        return (
            f"Give {_list(unsure)} a target some days sooner, or the season a higher confidence; or {swap}."
        )
    return f"{swap[0].upper()}{swap[1:]}."


def _coming(odds: Mapping[str, BloomOdds], span: Span) -> list[BloomOdds]:
    """Lots that bloom as the stretch ends or soon after: bringing them forward would mend it."""
    return sorted(
        (
            o
            for o in odds.values()
            if span.start < o.bloom <= span.end + timedelta(days=SOON)
            and span.end <= o.bloom + timedelta(days=SOON)
        ),
        key=lambda o: (o.bloom, o.lot),
    )


def _unsure(stand: Standing, cover: Cover, odds: Mapping[str, BloomOdds], day: date) -> list[str]:
    """Lots standing there that should be open by then, but may well not be."""
    i = (day - cover.span.start).days
    return [
        name
        for name, o in odds.items()
        if stand.pots(name, day)
        and o.need is not None
        and o.bloom <= day
        and o.need.chance(o.reached[i], o.above) < SURE
    ]


def _bloomed(odds: Mapping[str, BloomOdds], span: Span) -> bool:
    return any(o.bloom <= span.start for o in odds.values())


def _days(span: Span) -> str:
    last = span.end - DAY
    return f"on {last}" if span.start == last else f"from {span.start} to {last}"


def _list(names: Sequence[str]) -> str:
    names = list(dict.fromkeys(names))
    if len(names) > 5:
        return f"{', '.join(names[:4])} and {len(names) - 4} more"
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)
