"""Text: names compared and cleaned, lists and counts in words. The one place for each of these."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

LONGEST = 300  # characters of one name or note on a sheet: beyond that a row would outgrow its page
_UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]+")


def fold(text: str) -> str:
    """A name as it is compared: case, and blanks around and doubled, do not count."""
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def fold_word(text: str) -> str:
    """A header, item or word as it is compared: as a name, and underscores count as blanks."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().replace("_", " ").split())


def without_controls(text: str) -> str:
    """Text with a blank where a cell may hold what no sheet can print: control characters and lone surrogates."""
    return _UNPRINTABLE.sub(" ", text)


def one_line(text: str, longest: int = LONGEST) -> str:
    """Text on one line, without control characters; only beyond `longest` characters is it shortened."""
    line = " ".join(without_controls(text).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def together(words: str) -> str:
    """Words that are not parted at the end of a line."""
    return words.replace(" ", "\u00a0")


def listed(names: Sequence[str], most: int = 8) -> str:
    """'a, b and c'; of more than `most` names the first ones and how many more: 'a, b and 3 more'."""
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def singulars(name: str) -> tuple[str, ...]:
    """What one of them may be called where a folded name is of many: lilies -> lily, lilie; narcissi -> narcissus."""
    ends = (("ies", "y"), ("i", "us"), ("es", ""), ("s", ""))
    return tuple(name.removesuffix(end) + one for end, one in ends if name.endswith(end))


def is_called(name: str, what: str) -> bool:
    """Whether a name only says what it is: 'Pansies', 'Pansies 2' of a pansy."""
    bare = fold(name).rstrip(" 0123456789")
    return fold(what) in (bare, *singulars(bare))


def number(value: float, digits: int = 1) -> str:
    """A count as people write it: thousands apart, and no decimals where there are none."""
    whole = abs(value - round(value)) < 0.5 * 10**-digits
    return f"{value:,.0f}" if whole else f"{value:,.{digits}f}"


def some(value: float, one: str, many: str = "") -> str:
    """'1 pot', '24 pots': a count with its noun."""
    return f"{number(value)} {one if value == 1 else many or one + 's'}"


def later(days: float) -> str:
    """'3 days later', '1 day sooner': by how much a day moves."""
    return f"{some(abs(days), 'day')} {'later' if days > 0 else 'sooner'}"


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key by which T2 comes before T10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", text)
    return tuple((0, int(p), "") if p.isascii() and p.isdigit() else (1, 0, p.casefold()) for p in parts)
