"""In which order are the measures of a page played? Repeats, endings, D.C. and D.S., by music21.

Only the frame of the page is unfolded: its bar lines, brackets and jumps, with one measure for every run of
measures without any. What stands in them is laid out afterwards, so that nothing is copied or renamed.
"""

from __future__ import annotations

from typing import Any

#: What a page may ask for at most: repeats inside repeats, times one is played, measures played in all.
_DEEPEST, _MOST_TIMES, _MOST_MEASURES = 3, 16, 20_000
_REPEATS = ("start", "end")


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
    try:
        expander = library.repeat.Expander(_frame(library, part, pages))
        can = expander.isExpandable()
        if can is None:
            return straight
        if can is False:
            return None
        runs = [m.notesAndRests[0].style.color for m in expander.process().getElementsByClass("Measure")]
    except Exception:  # the library gives up in many ways on signs that do not fit
        return None
    order = [i for run in runs for i in range(*map(int, run.split()))]
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
    """Return the page's signs of repetition on measures of one rest, each for a run of the page's measures.

    The rest's colour tells the run, first and behind the last, and stays with it when measures are numbered.
    """
    brackets = [
        ([id(measure) for measure in bracket.getSpannedElements()], bracket.number)
        for bracket in part.recurse().getElementsByClass("RepeatBracket")
    ]
    bracketed = {measure for inside, _number in brackets for measure in inside}
    has_fine = bool(part.recurse().getElementsByClass("Fine"))
    frame = library.stream.Part()
    copies: dict[int, Any] = {}
    i = 0
    while i < len(pages):
        begin = i
        while i < len(pages) and _is_plain(pages[i], bracketed):
            i += 1
        i = max(i, begin + 1)
        copied = library.stream.Measure(number=len(frame) + 1)
        rest = library.note.Rest(quarterLength=1.0)
        rest.style.color = f"{begin} {i}"
        copied.append(rest)
        _sign(library, pages[begin], copied, has_fine=has_fine)
        frame.append(copied)
        copies[id(pages[begin])] = copied
    for inside, number in brackets:
        spanned = [copies[measure] for measure in inside if measure in copies]
        if spanned:
            frame.insert(0.0, library.spanner.RepeatBracket(spanned, number=number))
    return frame


def _is_plain(measure: Any, bracketed: set[int]) -> bool:
    """Whether a measure has no part in the order."""
    lines = (measure.leftBarline, measure.rightBarline)
    return (
        id(measure) not in bracketed
        and all(getattr(line, "direction", None) not in _REPEATS for line in lines)
        and not measure.recurse().getElementsByClass("RepeatExpression")
    )


def _sign(library: Any, measure: Any, copied: Any, *, has_fine: bool) -> None:
    """Put a measure's signs of repetition on its stand-in.

    ``has_fine``: the part has a Fine, at which a bare D.C. or D.S. ends too.
    """
    to_fine = {"DaCapo": library.repeat.DaCapoAlFine, "DalSegno": library.repeat.DalSegnoAlFine}
    for side in ("leftBarline", "rightBarline"):
        line = getattr(measure, side)
        if getattr(line, "direction", None) in _REPEATS:
            setattr(copied, side, library.bar.Repeat(direction=line.direction, times=line.times))
    for jump in measure.recurse().getElementsByClass("RepeatExpression"):
        at_end = isinstance(jump, library.repeat.RepeatExpressionCommand | library.repeat.Fine)
        kind = to_fine.get(type(jump).__name__, type(jump)) if has_fine else type(jump)
        copied.insert(1.0 if at_end else 0.0, kind())
