"""What a reader meets of a page: its texts, what is said of pictures and controls, what its scripts say."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

from colophony.listening.take import Evidence, Onset, Span, ToneState
from colophony.teaching.advice import judge
from colophony.teaching.findings import Findings
from factories import make_stroke, make_take
from pseudo import outside, words_outside

#: Attributes whose value a reader sees or hears.
SAID = frozenset(
    ("alt", "aria-label", "aria-roledescription", "aria-valuetext", "placeholder", "title", "data-words")
)
_SILENT = frozenset(("script", "style", "code"))
_EMPTY = frozenset(("br", "col", "hr", "img", "input", "link", "meta", "source"))
#: Signs of units and notes (SI; scientific pitch notation) and proper names: these are no messages.
NAMES = frozenset(
    (
        *("mm", "cm", "ms", "min", "khz", "hz", "db", "kb", "mb", "gb", "kg", "dpi"),
        *("svg", "png", "pdf", "wav", "html", "csv", "xml", "musicxml", "midi", "json"),
        *("colophony", "english", "deutsch"),
    )
)


class _Reading(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self.silent: list[str] = []
        self.words_of_script = False

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = dict(attributes)
        for name, value in attributes:
            if value and (name in SAID or name.endswith("-words")):
                self.texts.append(value)
        if tag == "input" and given.get("type") in ("submit", "button", "reset"):
            self.texts.append(given.get("value") or "")
        if tag in _SILENT:
            self.silent.append(tag)
            self.words_of_script = tag == "script" and given.get("id") == "words"

    def handle_endtag(self, tag: str) -> None:
        if tag in _SILENT and self.silent:
            self.silent.pop()
            self.words_of_script = False

    def handle_data(self, data: str) -> None:
        if self.words_of_script:
            self.texts += json.loads(data).values()
        elif not self.silent and data.strip():
            self.texts.append(data)


def texts_of(page: str) -> list[str]:
    """Return every text of a page (HTML or SVG) that a reader sees or hears, in order."""
    reading = _Reading()
    reading.feed(page)
    reading.close()
    return reading.texts


def strings_of(value: Any) -> Iterator[str]:
    """Yield every string within plain values, however deep; of drawings the texts in them."""
    if isinstance(value, str):
        yield from texts_of(value) if value.lstrip().startswith("<") else [value]
    elif isinstance(value, dict):
        for one in value.values():
            yield from strings_of(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from strings_of(one)


def without_names(text: str) -> str:
    """Return a text without file names, addresses, note names and units that no language changes."""
    text = re.sub(r"\S+\.(m4a|wav|pdf|html|zip|svg|csv|toml|musicxml|mxl|mid)\b", " ", text)
    return re.sub(r"https?://\S+|\bc?m/s²?|\b[A-H](is|es|s)?-?\d\b", " ", text)


#: An invented student and parent, and the file of a take.
NAME = "Quillfeather"
PERSONS = frozenset(("quillfeather", "eva", "mother", "lesson"))


def left_over(texts: list[str]) -> list[str]:
    """Return the texts with words outside the brackets; names, note names, files and units are no words.

    A message may go on from one text into the next: a page may set its first sentence apart.
    """
    lines = outside("\0".join(texts)).split("\0")
    return [line for line in lines if words_outside(without_names(line), allowed=NAMES | PERSONS)]


def every_state(**changes: Any) -> Findings:
    """Return what is said of a take in which every state and every kind of start is heard."""
    kinds = ("clean", "creaking", "slipping", "unknown")
    grades = ("clean", "slow", "very-slow", None)
    strokes = []
    for k, state in enumerate((*ToneState, *ToneState)):
        start_s, end_s = 2.0 * k + 0.2, 2.0 * k + 1.9
        strokes.append(
            make_stroke(
                start_s,
                end_s,
                state=state,
                spans=(Span(start_s, end_s, state, 0.9),),
                bow=("down", "up", None)[k % 3],
                way=("one", "other")[k % 2],
                onset=Onset(grades[k % 4], 120.0, 40.0, kinds[k % 4], k % 4 == 0),
                evidence=(Evidence("period_correlation", {"value": 0.4}),),
            )
        )
    return judge(make_take(*strokes, warnings=(Evidence("no_tone", {}),), **changes), instrument="violin")
