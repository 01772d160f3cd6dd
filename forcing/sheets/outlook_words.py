"""The outlook as lines of plain text for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from forcing.engine.outlook import Outlook

_HEAD = (
    "lot",
    "stage",
    "early",
    "likely",
    "late",
    "target",
    "against target",
    "chance",
    "a week ago",
    "ahead",
)


def outlook_text(outlooks: Sequence[Outlook], before: Sequence[Outlook]) -> str:
    """A table of the outlooks, the lots most pots late first; what each was a week ago beside it."""
    if not outlooks:
        return "No lot has an outlook."
    earlier = {outlook.lot: outlook for outlook in before}
    rows = [_HEAD, *(_row(o, earlier.get(o.lot)) for o in sorted(outlooks, key=_most_pressing))]
    widths = [max(len(row[i]) for row in rows) for i in range(len(_HEAD))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )


def lateness_words(days: int) -> str:
    """Days late in words."""
    if days == 0:
        return "on the day"
    return f"{days} d late" if days > 0 else f"{-days} d early"


def _most_pressing(outlook: Outlook) -> tuple[int, str]:
    return -outlook.days_late, outlook.lot


def stage_words(outlook: Outlook) -> str:
    """The stage of a lot: the last one seen, or the one that is reckoned with."""
    return f"{outlook.seen} seen" if outlook.seen else f"{outlook.stage} (reckoned)"


def _row(outlook: Outlook, before: Outlook | None) -> tuple[str, ...]:
    return (
        outlook.lot,
        stage_words(outlook),
        outlook.early.isoformat(),
        outlook.likely.isoformat(),
        outlook.late.isoformat(),
        outlook.target.isoformat(),
        lateness_words(outlook.days_late),
        f"{outlook.chance:.0%}",
        "same" if before is None or before.likely == outlook.likely else before.likely.isoformat(),
        outlook.ahead,
    )
