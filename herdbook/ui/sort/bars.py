"""Hair-line bars: her calf's inbreeding by each group, one upright line a group, drawn as in a field book."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from PySide6.QtCore import QLineF, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from herdbook.services.queries.sort_rows import Gathered, SortFemale, nothing_known
from herdbook.ui import theme
from herdbook.words import say

ALL_OF = 12
"""Groups of which each has its bar; of more the best are shown, and how many there are besides."""

BEST = 8
TOP = 2.0
"""A bar of full height is so many times the limit; what is more is drawn as high."""

FEW = 6
WIDE, TIGHT = 8, 4  # pixels from bar to bar, for a few groups and for many
THICK, FINE = 3, 2  # pixels that a bar is wide


@dataclass(frozen=True)
class Bar:
    """One group's bar.

    `height` is a share of the whole; the limit lies at 1 / `TOP` of it. `kind` is "" for what may be, "over"
    above the limit, "barred" for a mating that the sort does not make, "unknown" where no kin is known.
    `here` marks the group that she stands in.
    """

    height: float
    kind: str = ""
    here: bool = False


@dataclass(frozen=True)
class Bars:
    """The bars of one female, and of how many groups there is none."""

    bars: tuple[Bar, ...]
    more: int = 0

    @property
    def width(self) -> int:
        """How wide they stand, in pixels, without the count of the others."""
        return len(self.bars) * self.step

    @property
    def step(self) -> int:
        """Pixels from bar to bar."""
        return WIDE if len(self.bars) <= FEW else TIGHT


def bars_of(ready: Gathered, female: SortFemale, here: int | None) -> Bars:
    """Return the bars of a female who stands in the group `here`: in the order of the groups.

    Of many groups her own and the best of those she may be with are shown, the least inbred first.
    """
    each: Sequence[int] = range(len(ready.bull_groups))
    if len(each) > ALL_OF:
        others = (at for at in sorted(each, key=female.calves.__getitem__) if at != here)
        best = list(islice((at for at in others if not _kind(ready, female, at)), BEST))
        each = best if here is None else [here, *best]
    bars = tuple(_bar(ready, female, at, at == here) for at in each)
    return Bars(bars, len(ready.bull_groups) - len(bars))


def _bar(ready: Gathered, female: SortFemale, at: int, here: bool) -> Bar:
    figure, most = female.calves[at], TOP * ready.limit
    height = min(figure / most, 1.0) if most > 0 else float(figure > 0)
    return Bar(height, _kind(ready, female, at), here)


def _kind(ready: Gathered, female: SortFemale, at: int) -> str:
    group = ready.bull_groups[at]
    unfit = female.heifer and not group.fit_for_heifers
    if unfit or (female.barred and female.barred[at]) or (female.animal, group.animal) in ready.apart:
        return "barred"
    if female.calves[at] > ready.limit:
        return "over"
    return "unknown" if nothing_known(female, group, female.calves[at]) else ""


def legend() -> str:
    """Return what the bars mean."""
    return say(
        "One upright line for each group, in their order: how inbred her calf would be. The dotted line is "
        "the limit. A head on it: above the limit. A broken line with a cross: a mating the sort does not "
        "make. A ring: kin not known. Underlined: where she stands."
    )


def draw_bars(painter: QPainter, box: QRect, bars: Bars) -> None:
    """Draw bars over a fine line at the limit, from the left of `box`; its foot is nil.

    What may not be differs in shape and not in colour alone: above the limit the bar has a head across it, a
    barred mating is a dotted line with a cross at its foot, and an open ring is kin that is not known. The
    group she stands in has a thick bar and a stroke below.
    """
    look, step = theme.colours(), bars.step
    line = THICK if step == WIDE else FINE
    foot, head = box.bottom() - 5, box.top() + 3
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    at_limit = foot - (foot - head) / TOP
    painter.setPen(QPen(QColor(look.slate), 1, Qt.PenStyle.DotLine))
    painter.drawLine(QLineF(box.left(), at_limit, box.left() + bars.width - 1, at_limit))
    painter.setPen(QPen(QColor(look.line), 1))
    painter.drawLine(QLineF(box.left(), foot + 1, box.left() + bars.width - 1, foot + 1))
    for place, bar in enumerate(bars.bars):
        left = box.left() + step * place + (step - line) // 2
        _draw_bar(painter, bar, QRect(left, head, line, foot - head))
    painter.restore()


def _draw_bar(painter: QPainter, bar: Bar, room: QRect) -> None:
    """Draw a bar from the foot of `room`, which is as wide as a bar and as high as the highest."""
    look, foot = theme.colours(), room.top() + room.height()
    plain = "go" if bar.here else "" if bar.height else "quiet"
    tone = look.tone({"over": "act", "barred": "act", "unknown": "quiet"}.get(bar.kind, plain))
    high = max(round(bar.height * room.height()), FINE)
    wide = room.width() + 2 * bar.here
    left = room.left() - bar.here
    if bar.here:
        painter.fillRect(left, foot + 3, wide, FINE, look.tone("go"))
    if bar.kind == "unknown":
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(tone, 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(QPointF(left + wide / 2, foot - 1.5), room.width(), room.width())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    elif bar.kind == "barred":
        for top in range(foot - high, foot - 4, 4):
            painter.fillRect(left, top, wide, 2, tone)
        painter.setPen(QPen(tone, 1))
        cross = QRectF(left - 1, foot - 3, wide + 1, 4)
        painter.drawLine(QLineF(cross.topLeft(), cross.bottomRight()))
        painter.drawLine(QLineF(cross.topRight(), cross.bottomLeft()))
    else:
        painter.fillRect(left, foot - high, wide, high, tone)
        if bar.kind == "over":
            painter.fillRect(left - 1, foot - high, wide + 2, FINE, tone)
