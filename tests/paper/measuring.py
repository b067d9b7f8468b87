"""Lengths on a printed page, read from the drawing operators of the PDF (ISO 32000-1, 8.5).

Millimetres from the page's lower left corner; 1 point is 25.4 / 72 mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import pypdf
from pypdf.generic import ContentStream

MM = 25.4 / 72.0


@dataclass(frozen=True)
class Line:
    """A straight stroke of the pen; ``width`` is the pen's, all in mm."""

    x0: float
    y0: float
    x1: float
    y1: float
    width: float

    @property
    def length(self) -> float:
        return float(((self.x1 - self.x0) ** 2 + (self.y1 - self.y0) ** 2) ** 0.5)

    @property
    def is_level(self) -> bool:
        return abs(self.y1 - self.y0) < 1e-3

    @property
    def is_upright(self) -> bool:
        return abs(self.x1 - self.x0) < 1e-3


@dataclass(frozen=True)
class Box:
    """Four corners joined, stroked or filled."""

    left: float
    bottom: float
    right: float
    top: float
    filled: bool

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.top - self.bottom


def drawn(page: pypdf.PageObject) -> tuple[list[Line], list[Box]]:
    """Return the lines and boxes of a page, those inside of pictures (form XObjects) left out."""
    matrix, width = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), 1.0
    stack, points, lines, boxes = [], [], [], []
    content = page.get_contents()
    assert content is not None
    for operands, operator in ContentStream(content, page.pdf).operations:
        values = [float(v) for v in operands if isinstance(v, int | float)]
        if operator == b"q":
            stack.append((matrix, width))
        elif operator == b"Q":
            matrix, width = stack.pop()
        elif operator == b"cm":
            matrix = _times(tuple(values), matrix)
        elif operator == b"w":
            width = values[0]
        elif operator in (b"m", b"l"):
            points.append(_moved(values, matrix))
        elif operator == b"re":
            x, y, w, h = values
            points += [_moved((a, b), matrix) for a, b in ((x, y), (x + w, y), (x + w, y + h), (x, y + h))]
        elif operator in (b"c", b"v", b"y"):
            points += [(float("nan"), 0.0)]  # a curve: no straight line
        elif operator in (b"S", b"s", b"f", b"f*", b"B", b"b", b"n", b"W", b"W*"):
            if operator in (b"W", b"W*"):
                continue
            if not any(x != x for x, _ in points):
                pen = width * abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]) ** 0.5 * MM
                if len(points) == 2 and operator in (b"S", b"s"):
                    lines.append(Line(*points[0], *points[1], pen))
                elif len(points) in (4, 5) and operator != b"n":
                    xs, ys = [x for x, _ in points], [y for _, y in points]
                    boxes.append(Box(min(xs), min(ys), max(xs), max(ys), operator not in (b"S", b"s")))
            points = []
    return lines, boxes


def _times(a: tuple[float, ...], b: tuple[float, ...]) -> tuple[float, ...]:
    return (
        a[0] * b[0] + a[1] * b[2], a[0] * b[1] + a[1] * b[3],
        a[2] * b[0] + a[3] * b[2], a[2] * b[1] + a[3] * b[3],
        a[4] * b[0] + a[5] * b[2] + b[4], a[4] * b[1] + a[5] * b[3] + b[5],
    )  # fmt: skip


def _moved(point: object, matrix: tuple[float, ...]) -> tuple[float, float]:
    x, y = point  # type: ignore[misc]
    a, b, c, d, e, f = matrix
    return (a * x + c * y + e) * MM, (b * x + d * y + f) * MM
