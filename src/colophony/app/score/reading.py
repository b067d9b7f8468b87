"""A part of a score as it is played: chosen by name or number, read by music21, repeats played out."""

from __future__ import annotations

import bisect
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any
from xml.etree import ElementTree as ET

from colophony.app.score.music import music21
from colophony.app.score.page import Mark, PageMeasure, measures_of
from colophony.app.score.unfolding import played_order
from colophony.app.score.values import PartName, Score
from colophony.app.score.wedges import wedges_of
from colophony.errors import InputError
from colophony.language import _
from colophony.teaching.score.piece import (
    DynamicMark,
    Event,
    Hairpin,
    Part,
    PlayedMeasure,
    Remark,
    TempoMark,
    Values,
)

#: Where the page gives no tempo at all. Chosen.
USUAL_QUARTERS_PER_MINUTE = 96.0
#: A crescendo written as a word reaches to the next dynamic, if that follows within so many measures. Chosen.
_LONGEST_WORD_MEASURES = 8
#: How a part of an instrument is called on pages: a word of its name.
_CALLED: Mapping[str, re.Pattern[str]] = MappingProxyType(
    {
        "violin": re.compile(r"\b(violin[oi]?s?|violons?|vlns?|vl|geigen?|violinen?|fiddle)\b", re.I),
        "viola": re.compile(r"\b(viol[ae]s?|vlas?|bratschen?|altos?)\b(?! sax| flute| recorder)", re.I),
        "cello": re.compile(r"\b(violon)?cell(o|i|os|e|es)\b|\bvlc\b|\bvc\b", re.I),
        "double bass": re.compile(
            r"\b((double |contra|kontra)bass(es|e|i|o)?|violone|bass)\b(?! clarinet| drum)", re.I
        ),
    }
)


def choose_part(score: Score, part: str | None = None, *, instrument: str = "violin") -> PartName:
    """Return a part by its name (or the beginning of it, any case) or number from 1.

    Without one, the first that is called as the instrument, else the first with notes. Raises `InputError`
    that lists the parts when there is no such part, or several.
    """
    if part is None or not part.strip():
        filled = [one for one in score.parts if one.notes]
        named = [one for one in filled if _CALLED[instrument].search(one.name)]
        return (named or filled)[0]
    wanted = " ".join(part.split()).casefold()
    exact = [one for one in score.parts if one.name.casefold() == wanted]
    begun = [one for one in score.parts if one.name.casefold().startswith(wanted)]
    if wanted.isascii() and wanted.isdigit() and not exact:
        exact = [one for one in score.parts if one.index + 1 == int(wanted)]
        begun = []
    found = exact or begun
    if len(found) == 1 and found[0].notes:
        return found[0]
    names = ", ".join(f"{one.index + 1} {one.name}" for one in score.parts[:12])
    if len(found) == 1:
        raise InputError(
            _("the part {part!r} has no notes; the parts are: {names}").format(part=part, names=names)
        )
    if found:
        raise InputError(
            _("several parts are called {part!r}: give a number; the parts are: {names}").format(
                part=part, names=names
            )
        )
    raise InputError(_("there is no part {part!r}; the parts are: {names}").format(part=part, names=names))


def read_part(score: Score, part: str | None = None, *, instrument: str = "violin") -> Part:
    """Return a part as it is played, chosen as by `choose_part`.

    Repeats, endings, D.C. and D.S. are played out as music21 unfolds them. What cannot be read, or is not
    planned, stands in ``remarks`` with its measure. Raises `InputError` for a part that is not there
    (`choose_part`) or a page that cannot be read.
    """
    chosen = choose_part(score, part, instrument=instrument)
    with music21() as library:
        try:
            streams = library.converter.parseData(
                _reduced(score, chosen.index), format="musicxml", forceSource=True
            ).parts
        except Exception as error:  # whatever a page leads the library to
            raise InputError(
                _("part {name} cannot be read ({reason}): export the score again").format(
                    name=chosen.name, reason=type(error).__name__
                )
            ) from error
        return _Reader(library, score, chosen, list(streams)).part()


def _reduced(score: Score, index: int) -> str:
    """Return the chosen part, with the first one before it: tempo and jumps often stand there only.

    Every note wears its id as its colour, which music21 carries through.
    """
    root = ET.fromstring(score.musicxml)
    parts = root.findall("part")
    kept = {0, index}
    ids = {parts[i].get("id") for i in kept}
    for i, part in enumerate(parts):
        if i not in kept:
            root.remove(part)
            continue
        for note in part.iter("note"):
            note.set("color", note.get("id", ""))
    listing = root.find("part-list")
    if listing is not None:
        for one in list(listing):
            if one.tag == "score-part" and one.get("id") not in ids:
                listing.remove(one)
    return ET.tostring(root, encoding="unicode")


class _Reader:
    """Reads one part; holds what its steps share."""

    def __init__(self, library: Any, score: Score, chosen: PartName, streams: list[Any]) -> None:
        self._library, self._chosen = library, chosen
        written = ET.fromstring(score.musicxml).findall("part")[chosen.index]
        self._written_wedges = wedges_of(written)
        own = [one for one in streams if _is_of(one, chosen.index)]
        self._remarks: list[Remark] = []
        if len(own) > 1:
            self._remarks.append(Remark("staves"))
        if not own:
            raise InputError(_("part {name} cannot be read: export the score again").format(name=chosen.name))
        self._stream, self._first = own[0], streams[0]
        self._pages, self._where = measures_of(self._stream, transposition=_transposition(written))

    def part(self) -> Part:
        order = self._order()
        measures = list(self._played(order))
        slurred = self._slurs(order)
        events = [
            replace(event, slurs=slurred.get((k, e), ()))
            for k, (page, played) in enumerate(zip(order, measures, strict=True))
            for e, event in enumerate(self._at(page, played))
        ]
        for page in self._pages:
            self._remarks += page.remarks
        tempos = self._tempos(measures, order)
        dynamics = tuple(
            DynamicMark(onset, mark.dynamic, mark.is_accent)
            for onset, mark in _marks(self._pages, measures)
            if mark.dynamic is not None
        )
        hairpins = [*self._wedges(order, measures), *self._word_hairpins(measures, dynamics)]
        if not any(event.pitches for event in events):
            raise InputError(_("part {name} has no notes to bow").format(name=self._chosen.name))
        return Part(
            name=self._chosen.name,
            index=self._chosen.index,
            events=tuple(events),
            measures=tuple(measures),
            dynamics=dynamics,
            hairpins=tuple(sorted(hairpins, key=lambda pin: (pin.onset_ql, pin.end_ql))),
            tempos=tempos,
            remarks=_unique(self._remarks),
        )

    def _order(self) -> list[int]:
        """Return the page's measures as played; also where only the first part has the jumps."""
        order = played_order(self._library, self._stream)
        straight = list(range(len(self._pages)))
        if (order is None or order == straight) and self._first is not self._stream:
            other = played_order(self._library, self._first)
            if other is not None and max(other, default=0) < len(straight):
                order = other
        if order is None:
            self._remarks.append(Remark("repeats"))
            return straight
        return order

    def _played(self, order: list[int]) -> Iterator[PlayedMeasure]:
        onset, seen = 0.0, dict.fromkeys(range(len(self._pages)), 0)
        for i in order:
            page = self._pages[i]
            seen[i] += 1
            yield PlayedMeasure(
                number=page.number,
                index=i,
                passing=seen[i],
                onset_ql=onset,
                length_ql=page.length_ql,
                time_signature=page.time_signature,
                beat_ql=page.beat_ql,
                is_pickup=page.is_pickup,
            )
            onset += page.length_ql

    def _at(self, page: int, played: PlayedMeasure) -> Iterator[Event]:
        for event in self._pages[page].events:
            yield replace(event, onset_ql=played.onset_ql + event.onset_ql, passing=played.passing)

    def _spans(self) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
        """Yield first and last event, (measure, event) of the page, of every slur."""
        for spanner in self._stream.recurse().getElementsByClass("Slur"):
            ends = [self._where[id(one)] for one in spanner.getSpannedElements() if id(one) in self._where]
            if len(ends) >= 2 and min(ends) != max(ends):
                yield min(ends), max(ends)

    def _slurs(self, order: list[int]) -> dict[tuple[int, int], tuple[int, ...]]:
        """Return the slurs over each event, by its played measure and its place there.

        A slur is one for each time that its measures are played one after the other.
        """
        covered: dict[tuple[int, int], list[int]] = {}
        number = 0
        for first, last in self._spans():
            for k, page in enumerate(order):
                if page != first[0] or order[k : k + last[0] - first[0] + 1] != list(
                    range(first[0], last[0] + 1)
                ):
                    continue
                number += 1
                for step, there in enumerate(range(first[0], last[0] + 1)):
                    count = len(self._pages[there].events)
                    start = first[1] if there == first[0] else 0
                    stop = last[1] + 1 if there == last[0] else count
                    for e in range(start, stop):
                        covered.setdefault((k + step, e), []).append(number)
        return {place: tuple(numbers) for place, numbers in covered.items()}

    def _wedges(self, order: list[int], measures: list[PlayedMeasure]) -> Iterator[Hairpin]:
        for wedge in self._written_wedges:
            (first, begin_ql), (last, end_ql) = wedge.begin, wedge.end
            for k, page in enumerate(order):
                if page != first:
                    continue
                reach = k
                while reach + 1 < len(order) and order[reach] < last:
                    if order[reach + 1] != order[reach] + 1:
                        break
                    reach += 1
                there = measures[reach]
                stop = there.onset_ql + (end_ql if order[reach] == last else there.length_ql)
                start = measures[k].onset_ql + begin_ql
                if stop > start:
                    yield Hairpin(start, stop, wedge.turning)

    def _word_hairpins(
        self, measures: list[PlayedMeasure], dynamics: tuple[DynamicMark, ...]
    ) -> Iterator[Hairpin]:
        """Yield those written as words, up to the next dynamic."""
        onsets = [mark.onset_ql for mark in dynamics if not mark.is_accent]
        for onset, mark in _marks(self._pages, measures):
            if mark.turning is None:
                continue
            k = bisect.bisect_right(onsets, onset)
            longest = _LONGEST_WORD_MEASURES * max(m.length_ql for m in measures)
            if k < len(onsets) and onsets[k] - onset <= longest:
                yield Hairpin(onset, onsets[k], mark.turning)
            else:
                here = bisect.bisect_right([m.onset_ql for m in measures], onset + 1e-9) - 1
                self._remarks.append(Remark("open-word", measures[here].number, {"words": mark.words[:40]}))

    def _tempos(self, measures: list[PlayedMeasure], order: list[int]) -> tuple[TempoMark, ...]:
        pages = self._pages
        if _tells_tempo(pages) < 2 and self._first is not self._stream:
            first, _where = measures_of(self._first, transposition=0)
            if len(first) == len(pages):
                pages = max(pages, first, key=_tells_tempo)
        marks = [one for one in _marks(pages, measures) if one[1].quarters_per_minute is not None]
        given = {onset for onset, mark in marks if mark.is_tempo_given}
        tempos = [
            TempoMark(onset, mark.quarters_per_minute or 0.0, mark.words, mark.is_tempo_given)
            for onset, mark in marks
            if mark.is_tempo_given or onset not in given
        ]
        for tempo in tempos:
            if not tempo.is_given:
                values: Values = {"tempo": round(tempo.quarters_per_minute), "words": tempo.words}
                self._remarks.append(Remark("tempo-word", None, values))
        if not tempos:
            self._remarks.append(Remark("no-tempo", None, {"tempo": round(USUAL_QUARTERS_PER_MINUTE)}))
        if not tempos or tempos[0].onset_ql > 0.0:
            begin = tempos[0] if tempos else TempoMark(0.0, USUAL_QUARTERS_PER_MINUTE, is_given=False)
            tempos.insert(0, replace(begin, onset_ql=0.0))
        return tuple(tempos)


def _is_of(stream: Any, index: int) -> bool:
    """Whether a stream is of a part of the score, or one of its staves: its notes wear the part's ids."""
    for one in stream.recurse().notesAndRests:
        worn = next((n.style.color for n in (*getattr(one, "notes", ()), one) if n.style.color), None)
        if worn is not None:
            return bool(worn.startswith(f"p{index}m"))
    return False


def _marks(pages: list[PageMeasure], measures: list[PlayedMeasure]) -> list[tuple[float, Mark]]:
    """Return all marks as played, by onset."""
    return sorted(
        (
            (played.onset_ql + mark.onset_ql, mark)
            for played in measures
            for mark in pages[played.index].marks
        ),
        key=lambda one: one[0],
    )


def _tells_tempo(pages: list[PageMeasure]) -> int:
    """Return 2 where a page gives a tempo in figures, 1 where in a word, 0 where it gives none."""
    marks = [mark for page in pages for mark in page.marks if mark.quarters_per_minute is not None]
    return 2 if any(mark.is_tempo_given for mark in marks) else 1 if marks else 0


def _unique(remarks: list[Remark]) -> tuple[Remark, ...]:
    found: list[Remark] = []
    for remark in remarks:
        if remark not in found:
            found.append(remark)
    return tuple(found)


def _transposition(part: ET.Element) -> int:
    """Return semitones from the written to the sounding pitch of a ``<part>``."""
    transpose = part.find("measure/attributes/transpose")
    if transpose is None:
        return 0
    try:
        chromatic = int(float(transpose.findtext("chromatic") or 0))
        return chromatic + 12 * int(float(transpose.findtext("octave-change") or 0))
    except ValueError:
        return 0
