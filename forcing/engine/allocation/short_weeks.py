"""Weeks whose work needs more staff hours than there are, each with what would mend it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from forcing.dates import DAY, WEEK, iso_week, monday
from forcing.engine.allocation.repairs import listed
from forcing.engine.tasks import week_hours_findings
from forcing.errors import Finding
from forcing.model import Season, Task

WEEKS_AHEAD = 8  # by which potting might come sooner


def hours_findings(season: Season, tasks: Sequence[Task]) -> Iterator[Finding]:
    """Weeks whose tasks need more staff hours than the season has, each with what would mend it."""
    hours: dict[date, float] = {}
    for task in tasks:
        hours[monday(task.date)] = hours.get(monday(task.date), 0.0) + task.hours
    by_name = {iso_week(week): week for week in hours}
    for finding in week_hours_findings(season, tasks):
        week = by_name[finding.message.split()[0]]
        potting = [(t.lot or "", t.hours) for t in tasks if t.task == "pot" and monday(t.date) == week]
        yield replace(finding, hint=_hours_hint(season, hours, week, potting))


def _hours_hint(
    season: Season, hours: Mapping[date, float], week: date, potting: Sequence[tuple[str, float]]
) -> str:
    """How a short week could be mended: `hours` by Monday, `potting`: lots potted in it and their hours."""
    limit = season.hours_per_week or 0.0
    over = hours[week] - limit
    words = [f"{over:.1f} more hours of help that week"]
    moved, names = 0.0, []
    for name, needed in sorted(potting, key=lambda p: (p[1] < over, p[1], p[0])):
        if moved < over - 1e-6:
            moved += needed
            names.append(name)
    if moved >= over - 1e-6 and names:
        for n in range(1, WEEKS_AHEAD + 1):
            sooner = week - WEEK * n
            last = season.calendar.on_or_before(sooner + WEEK - DAY)
            early = season.bulbs_in_hand is not None and last < season.bulbs_in_hand
            if last >= sooner and not early and limit - hours.get(sooner, 0.0) >= moved - 1e-6:
                words.append(f"pot {listed(names)} {7 * n} days sooner, in {iso_week(sooner)}")
                break
        pots = f"{moved:.1f} hours of potting ({listed(names)})"
        if len(words) == 1:
            words.append(f"the bulbs in hand sooner, to move {pots} to an earlier week")
    if len(words) == 1:
        words.append("fewer pots in the lots moved that week, or their targets in different weeks")
    return f"Any one of these would mend it: {'; '.join(words)}."
