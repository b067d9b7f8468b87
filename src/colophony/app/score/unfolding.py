"""In which order are the measures of a page played? Repeats, endings, D.C. and D.S., by music21.

Only the frame of the page is unfolded: measures of one rest with their bar lines, brackets and jumps. What
stands in them is laid out afterwards, so that nothing is copied or renamed.
"""

from __future__ import annotations

from typing import Any

#: What a page may ask for at most: repeats inside repeats, times one is played, measures played in all.
_DEEPEST, _MOST_TIMES, _MOST_MEASURES = 3, 16, 20_000


def played_order(library: Any, part: Any) -> list[int] | None:
    """Return the indices of the page's measures as they are played; None where the signs do not fit together.

    Parameters
    ----------
    library : music21
    part : its stream of one part
    """
    pages = list(part.getElementsByClass("Measure"))
    straight = list(range(len(pages)))
    if not pages or not _is_bounded(pages):
        return straight if not pages else None
    frame = _frame(library, part, pages)
    try:
        expander = library.repeat.Expander(frame)
        can = expander.isExpandable()
        if can is None:
            return straight
        if can is False:
            return None
        order = [
            int(m.notesAndRests[0].style.color) for m in expander.process().getElementsByClass("Measure")
        ]
    except Exception:  # the library gives up in many ways on signs that do not fit
        return None
    return order if len(order) <= _MOST_MEASURES else None


def _is_bounded(pages: list[Any]) -> bool:
    """Whether unfolding cannot grow without end."""
    depth = 0
    for measure in pages:
        left, right = measure.leftBarline, measure.rightBarline
        if getattr(left, "direction", None) == "start":
            depth += 1
        for line in (left, right):
            if getattr(line, "direction", None) == "end":
                depth = max(0, depth - 1)
                if (getattr(line, "times", None) or 2) > _MOST_TIMES:
                    return False
        if depth > _DEEPEST:
            return False
    return True


def _frame(library: Any, part: Any, pages: list[Any]) -> Any:
    """Return the page's measures, each of one rest, with its signs of repetition."""
    frame = library.stream.Part()
    copies = {}
    for i, measure in enumerate(pages):
        copied = library.stream.Measure(number=i + 1)
        rest = library.note.Rest(quarterLength=1.0)
        rest.style.color = str(i)  # stays with it whatever number its measure is given
        copied.append(rest)
        for side in ("leftBarline", "rightBarline"):
            line = getattr(measure, side)
            if getattr(line, "direction", None) in ("start", "end"):
                setattr(copied, side, library.bar.Repeat(direction=line.direction, times=line.times))
        for jump in measure.recurse().getElementsByClass("RepeatExpression"):
            at_end = isinstance(jump, library.repeat.RepeatExpressionCommand | library.repeat.Fine)
            copied.insert(1.0 if at_end else 0.0, type(jump)())
        frame.append(copied)
        copies[id(measure)] = copied
    for bracket in part.recurse().getElementsByClass("RepeatBracket"):
        inside = [copies[id(m)] for m in bracket.getSpannedElements() if id(m) in copies]
        if inside:
            frame.insert(0.0, library.spanner.RepeatBracket(inside, number=bracket.number))
    return frame
