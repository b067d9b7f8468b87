"""The drawn page of a planned score: for a file of its own, and line by line for a page of the studio."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup, escape

from colophony.app.look.pen import Pen, faces, wrapped
from colophony.app.look.signs import number
from colophony.app.look.tokens import LIGHT, TEXT_FAMILY, Theme
from colophony.app.score.annotated import with_bowings
from colophony.app.score.engraving import Page, engrave, glyph_definitions
from colophony.app.score.ribbon import Line, describe, lines_of
from colophony.app.score.values import PlannedScore
from colophony.language import _
from colophony.teaching.score.words import headline

#: Widths of the page in px: on a wide window and on paper, and on a phone.
WIDE, NARROW = 1000.0, 380.0
_LEFT, _RIGHT = 22.0, 4.0  #: room for the words at the ends of the bands, and for the last bar line
_BETWEEN = 34.0
_SIZE, _LEADING = 16.0, 23.0
_LETTERS = 7.3


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """One line of music with its plan, as an ``svg`` element, and when what of it sounds."""

    svg: Markup
    beats: tuple[tuple[tuple[float, float], ...], ...]  #: runs of seconds and x in the drawing's units


def how_to_read() -> str:
    """Return what the lines below the music mean."""
    return _(
        "Under the music lies the bow, frog above and tip below: a line that falls is a down-bow, one that "
        "rises an up-bow; steep is fast, thick is heavy; a dotted arc is a bow that leaves the string. Below "
        "it lies the string, with the sounding point from 1 at the bridge to 5 at the fingerboard. What is "
        "faint is bowed so when it is repeated."
    )


def measures_words(line: Line, planned: PlannedScore) -> str:
    """Return which measures stand on a line of music."""
    numbers = {measure.index: measure.number for measure in planned.part.measures}
    first = numbers.get(line.system.first_measure, str(line.system.first_measure + 1))
    last = numbers.get(line.system.last_measure, str(line.system.last_measure + 1))
    if first == last:
        return _("Measure {number}").format(number=first)
    return _("Measures {first} to {last}").format(first=first, last=last)


def drawn_lines(planned: PlannedScore, *, width: float, prefix: str) -> list[DrawnLine]:
    """Return the lines of music of a page in the page's own colours; ``prefix`` begins every id."""
    page = _page(planned, width)
    glyphs = glyph_definitions(page, f"{prefix}-g")
    drawn = []
    for k, line in enumerate(lines_of(planned, page, Pen(None))):
        title, text = f"{prefix}-{k}-title", f"{prefix}-{k}-text"
        svg = (
            f'<svg class="drawing score-line" viewBox="0 0 {number(width)} {number(line.height)}"'
            f' role="img" aria-labelledby="{title}" aria-describedby="{text}" '
            f'data-line="{k}" focusable="false">'
            f'<title id="{title}">{escape(measures_words(line, planned))}</title>'
            f'<desc id="{text}">{escape(describe(line, planned))}</desc>'
            f"{glyphs if k == 0 else ''}{_music(line, prefix, 0.0)}{line.drawing}</svg>"
        )
        beats = tuple(tuple((beat.time_s, beat.x) for beat in run) for run in line.beats)
        drawn.append(DrawnLine(Markup(svg), beats))
    return drawn


def picture(planned: PlannedScore, *, width: float = WIDE, theme: Theme = LIGHT) -> str:
    """Return the page with its plan as the text of an SVG file that carries its typefaces."""
    page, pen = _page(planned, width), Pen(theme)
    most = int((width - _LEFT - _RIGHT) / _LETTERS)
    y = 34.0
    parts = [pen.text(planned.score.title, _LEFT, y, size=26, voice=True)]
    says = (headline(planned.plan), "ink"), (setting_words(planned), "ink"), (how_to_read(), "quiet")
    for sentence, paint in says:
        for row in wrapped(sentence, most):
            y += _LEADING
            parts.append(pen.text(row, _LEFT, y, size=_SIZE, paint=pen.paint(paint)))
    tops = [y + _BETWEEN]
    for line in lines_of(planned, page, pen):
        tops.append(tops[-1] + line.height + _BETWEEN)
    lines = lines_of(planned, page, pen, tops=tops)
    parts += [_music(line, "", top) + line.drawing for line, top in zip(lines, tops, strict=False)]
    y = tops[-1]
    text = "; ".join(f"{measures_words(line, planned)}: {describe(line, planned)}" for line in lines)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}" height="{number(y)}" '
        f'viewBox="0 0 {number(width)} {number(y)}" role="img" aria-labelledby="title" '
        f'aria-describedby="text" font-family="{TEXT_FAMILY}, sans-serif" color="{theme.ink}">'
        f'<title id="title">{escape(planned.score.title)}</title><desc id="text">{escape(text)}</desc>'
        f"<style>{faces()}</style>{glyph_definitions(page, '')}"
        f'<rect width="100%" height="100%" fill="{theme.ground}"/>'
        f"{''.join(parts)}</svg>\n"
    )


def _page(planned: PlannedScore, width: float) -> Page:
    return engrave(with_bowings(planned), planned.part.index, width=width - _LEFT - _RIGHT, left=_LEFT)


def _music(line: Line, prefix: str, top: float) -> str:
    names = f"#{prefix}-g" if prefix else "#"
    drawing = line.system.drawing.replace("#@", names)
    return f'<g class="music" fill="currentColor" transform="translate(0 {number(top)})">{drawing}</g>'


def setting_words(planned: PlannedScore) -> str:
    """Return for which instrument, bow and tempo the plan is made."""
    plan = planned.plan
    return _("{part}: {instrument} {size}, {bow} mm of hair, {tempo} quarter notes a minute.").format(
        part=plan.part,
        instrument=_(plan.instrument),
        size=plan.size,
        bow=f"{plan.bow_mm:.0f}",
        tempo=f"{plan.quarters_per_minute:.0f}",
    )
