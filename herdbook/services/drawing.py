"""A chart laid out in lengths: where boxes and lines stand, whatever pen draws them.

The window and the papers measure text in their own ways; everything else about a chart is worked out here
once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from herdbook.services.queries.chart import Box, Chart

Point = tuple[float, float]


@dataclass(frozen=True)
class Measures:
    """How long things are, in the drawer's own unit.

    Parameters
    ----------
    width : callable (text, strong) -> float
        Width of a text in body type or in strong body type.
    line : float
        Height of a line of text.
    """

    width: Callable[[str, bool], float]
    line: float


@dataclass(frozen=True)
class PlacedBox:
    """A box with its upper left corner and its size."""

    box: Box
    x: float
    y: float
    width: float
    height: float

    @property
    def middle(self) -> float:
        """Height of its middle."""
        return self.y + self.height / 2


@dataclass(frozen=True)
class PlacedLine:
    """A line through points."""

    points: tuple[Point, ...]
    dashed: bool


@dataclass(frozen=True)
class Drawing:
    """A whole chart with its size.

    Parameters
    ----------
    headings : tuple of (x, y, text)
        Words over the columns, by the left end of their base.
    """

    width: float
    height: float
    boxes: tuple[PlacedBox, ...]
    lines: tuple[PlacedLine, ...]
    headings: tuple[tuple[float, float, str], ...]


def laid_out(chart: Chart, measures: Measures) -> Drawing:
    """Return where everything of a chart stands.

    Parameters
    ----------
    chart : Chart
    measures : Measures
    """
    line = measures.line
    pad, gap = 0.5 * line, 2.2 * line
    heights = {box.key: (1 + len(box.lines)) * line + pad for box in chart.boxes}
    step = max(heights.values()) + 0.5 * line
    top = 1.6 * line if any(chart.columns) else 0.0
    columns = 1 + max(box.generation for box in chart.boxes)
    widths = [0.0] * columns
    for box in chart.boxes:
        widths[box.generation] = max(widths[box.generation], _box_width(box, measures, pad))
    lefts = [sum(widths[:n]) + n * gap for n in range(columns)]
    low = min(box.slot for box in chart.boxes)
    placed = {}
    for box in chart.boxes:
        middle = top + (box.slot - low + 0.5) * step
        height = heights[box.key]
        placed[box.key] = PlacedBox(
            box, lefts[box.generation], middle - height / 2, widths[box.generation], height
        )
    lines = []
    for one in chart.lines:
        start, end = placed[one.start], placed[one.end]
        begin, arrive = (start.x + start.width, start.middle), (end.x, end.middle)
        points: tuple[Point, ...]
        if chart.bent:
            turn = end.x - gap / 2
            points = (begin, (turn, begin[1]), (turn, arrive[1]), arrive)
        else:
            crossed = range(start.box.generation + 1, end.box.generation)
            via = [
                (x, top + (slot - low + 0.5) * step)
                for column, slot in zip(crossed, one.via, strict=True)
                for x in (lefts[column], lefts[column] + widths[column])
            ]
            points = (begin, *via, arrive)
        lines.append(PlacedLine(points, one.dashed))
    headings = tuple((lefts[n], line, words) for n, words in enumerate(chart.columns[:columns]) if words)
    slots = [box.slot - low for box in chart.boxes] + [slot - low for one in chart.lines for slot in one.via]
    return Drawing(
        max(lefts[-1] + widths[-1], *(x + measures.width(words, False) for x, _, words in headings), 0.0),
        top + (max(slots) + 1) * step,
        tuple(placed.values()),
        tuple(lines),
        headings,
    )


def _box_width(box: Box, measures: Measures, pad: float) -> float:
    mark = measures.width(box.mark, True) + 2 * pad if box.mark else 0.0
    texts = [measures.width(box.title, True) + mark, *(measures.width(text, False) for text in box.lines)]
    return max(texts) + 2.4 * pad
