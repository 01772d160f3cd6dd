"""Pieces of a sheet set one below the other in columns or pages: headings said again, none alone at a foot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import NamedTuple

from forcing.reports.draw.canvas import Canvas

Draw = Callable[[Canvas, float, float], None]  # draws with its top left corner at (x, y)
Cut = Callable[[float, int], "tuple[Piece, Piece] | None"]


@dataclass(frozen=True, slots=True)
class Piece:
    """Something of a known height [pt] to draw. `cut(room, least)` gives what fits in `room` [pt] and what is left,
    each of `least` lines or more; None where it cannot."""

    height: float
    draw: Draw
    heading: bool = False  # never the last in a column
    again: Piece | None = None  # drawn above it where a column begins with it
    above: float = 0.0  # free above it, but for the top of a column [pt]
    section: str = ""
    cut: Cut | None = None

    @property
    def tall(self) -> float:
        return self.above + self.height


class Stretch(NamedTuple):
    """Pieces that follow each other; `whole`: in one column where a column can hold them, and none of them cut."""

    pieces: Sequence[Piece]
    whole: bool = False


def flow(stretches: Sequence[Stretch], room: Callable[[int], float]) -> list[list[Piece]]:
    """The pieces in columns, the n-th `room(n)` [pt] high: all of them, in order, with headings said again."""
    columns = _Columns(room)
    for stretch in stretches:
        tall = sum(piece.tall for piece in stretch.pieces)
        if stretch.whole and columns.left < tall <= room(len(columns.found)):
            columns.turn(stretch.pieces[0])
        for i, piece in enumerate(stretch.pieces):
            columns.put(piece, _with_next(stretch.pieces[i:]), whole=stretch.whole)
    return columns.found


def height_of(pieces: Sequence[Piece]) -> float:
    """Height [pt] of pieces one below the other."""
    return sum(piece.tall for piece in pieces)


def draw_pieces(canvas: Canvas, pieces: Sequence[Piece], x: float, y: float) -> float:
    """Draw pieces one below the other from `y` [pt] down. Gives where they end."""
    for piece in pieces:
        piece.draw(canvas, x, y + piece.above)
        y += piece.tall
    return y


def _with_next(pieces: Sequence[Piece]) -> float:
    """Height [pt] of the first piece; of a heading, with all that it may not be parted from."""
    headings = list(takewhile(lambda piece: piece.heading, pieces))
    return height_of(pieces[: len(headings) + 1])


class _Columns:
    """Columns being filled: those so far, and what is left of the last one [pt]."""

    def __init__(self, room: Callable[[int], float]) -> None:
        self._room = room
        self.found: list[list[Piece]] = [[]]
        self.left = room(0)

    def turn(self, piece: Piece) -> None:
        """Begin the next column, for this piece, unless this one is empty."""
        if not self.found[-1]:
            return
        self.found.append([])
        self.left = self._room(len(self.found) - 1)
        if piece.again is not None:
            self._add(piece.again)

    def put(self, piece: Piece, needed: float, *, whole: bool) -> None:
        if needed > self.left and self.found[-1]:
            parts = piece.cut(self.left, 2) if piece.cut and not whole else None
            if parts:
                self._add(parts[0])
                piece = parts[1]
            self.turn(piece)
        while piece.tall > self.left and piece.cut and (parts := piece.cut(self.left, 1)):
            self._add(parts[0])
            piece = parts[1]
            self.turn(piece)
        self._add(piece)

    def _add(self, piece: Piece) -> None:
        if piece.above and not self.found[-1]:
            piece = replace(piece, above=0.0)
        self.found[-1].append(piece)
        self.left -= piece.tall
