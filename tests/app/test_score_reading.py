"""Scores are read as they are played: against an independent count, and against pages invented here."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import zipfile
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
import score_pieces as pieces

from colophony.app.score import opening
from colophony.app.score.opening import read_score
from colophony.app.score.page import TEMPO_WORDS
from colophony.app.score.reading import choose_part, read_part
from colophony.errors import InputError
from colophony.teaching.score.piece import Event, Part

#: Movements that come with music21, read where it is installed. The music is long in the public domain
#: (Corelli 1689, Bach 1715, Haydn about 1760, Mozart 1772); the encodings are the library's, Corelli's under
#: Creative Commons BY, by M. S. Cuthbert.
CORPUS = (
    "corelli/opus3no1/1grave.xml",
    "bach/bwv66.6.mxl",
    "haydn/opus1no1/movement1.mxl",
    "haydn/opus1no1/movement2.mxl",
    "mozart/k156/movement1.mxl",
)


def corpus(name: str) -> bytes:
    music21 = pytest.importorskip("music21")
    return (Path(music21.__file__).parent / "corpus" / name).read_bytes()


def raw_root(data: bytes) -> ET.Element:
    if data[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            inside = [one for one in archive.namelist() if not one.startswith("META-INF")]
            data = archive.read(inside[0])
    return ET.fromstring(data)


def read(data: bytes, part: str | None = None) -> Part:
    return read_part(read_score(data, name="piece.musicxml"), part)


class Counted:
    """An independent count of one part: the tree walked by hand, its repeats played out by hand."""

    def __init__(self, part: ET.Element) -> None:
        divisions = 1
        self.lengths: list[Fraction] = []
        self.notes: list[int] = []
        self.slurs: list[int] = []
        self.measures = part.findall("measure")
        for measure in self.measures:
            divisions = int(measure.findtext("attributes/divisions") or divisions)
            at = longest = Fraction(0)
            for one in measure:
                length = Fraction(int(one.findtext("duration") or 0), divisions)
                if one.tag == "backup":
                    at -= length
                elif one.tag == "forward":  # room before a note; behind the last one it fills the page only
                    at += length
                elif one.tag == "note" and one.find("chord") is None:
                    at += length
                    longest = max(longest, at)
            self.lengths.append(longest)
            heads = [
                n for n in measure.iter("note") if n.find("pitch") is not None and n.find("chord") is None
            ]
            self.notes.append(len(heads))
            self.slurs.append(len([s for s in measure.iter("slur") if s.get("type") == "start"]))

    def played(self) -> list[int]:
        """Simple repeats: from the last sign (or the beginning) to the next, twice; no endings, no jumps."""
        order, begin = [], 0
        for k, measure in enumerate(self.measures):
            signs = [sign.get("direction") for sign in measure.iter("repeat")]
            if "forward" in signs:
                begin = k
            order.append(k)
            if "backward" in signs:
                order += range(begin, k + 1)
                begin = k + 1
        return order


@pytest.mark.parametrize("name", CORPUS)
def test_a_part_agrees_with_an_independent_count(name: str) -> None:
    """Measures, lengths, notes, slurs of a part, on the page and as played, as a walk of the raw XML says."""
    data = corpus(name)
    score = read_score(data, name=name)
    raw = raw_root(data).findall("part")
    for index in {0, len(raw) - 1}:
        count = Counted(raw[index])
        part = read_part(score, str(index + 1))
        order = count.played()
        assert [measure.index for measure in part.measures] == order
        assert [m.length_ql for m in part.measures] == pytest.approx([float(count.lengths[k]) for k in order])
        assert part.duration_ql == pytest.approx(float(sum(count.lengths[k] for k in order)))
        first = [event for event in part.events if event.passing == 1]
        assert sum(bool(event.pitches) for event in first) == sum(count.notes)
        assert sum(bool(event.pitches) for event in part.events) == sum(count.notes[k] for k in order)
        assert len({slur for event in first for slur in event.slurs}) == sum(count.slurs)


def test_endings_are_taken_one_each_time() -> None:
    """Haydn op. 1 no. 1, fourth movement: its second repeat has two endings, as its page shows."""
    part = read(corpus("haydn/opus1no1/movement4.mxl"), "1")
    order = [measure.index for measure in part.measures]
    assert order.count(27) == 1, "the first ending is played once"
    assert order[order.index(27) + 1] == 13, "and leads back"
    assert order[order.index(28) - 1] == 26, "the second ending comes in its place"


def events(part: Part, measure: str, passing: int = 1) -> list[Event]:
    return [one for one in part.events if (one.measure, one.passing) == (measure, passing)]


def test_the_study_is_read_as_it_is_played() -> None:
    """The invented study: every kind of sign where it was written, and the repeat with its endings."""
    part = read(pieces.study())
    numbers = [(one.number, one.passing) for one in part.measures]
    assert [n for n, _ in numbers] == ["0", "1", "2", "3", "4", "1", "2", "3", "5", "6", "7"]
    assert [p for _, p in numbers] == [1, 1, 1, 1, 1, 2, 2, 2, 1, 1, 1]
    assert part.measures[0].is_pickup
    assert events(part, "0")[0].beat == 3.0
    assert len({slur for one in part.events for slur in one.slurs}) == 2, "a slur for each time through"
    grace, first, rest, double = events(part, "3")
    assert (grace.is_grace, grace.duration_ql, first.is_grace) == (True, 0.0, False)
    assert rest.is_rest
    assert [pitch.name for pitch in double.pitches] == ["G3", "D4"]
    assert len(set(double.element_ids)) == 2
    triplet = events(part, "4")
    assert [one.duration_ql for one in triplet] == pytest.approx([1 / 3, 1 / 3, 1 / 3, 2])
    assert [one.is_tied for one in (*events(part, "5"), *events(part, "6"))] == [False] * 3 + [
        True,
        False,
        False,
    ]
    assert events(part, "5")[0].articulations == ("staccato",)
    assert [one.is_plucked for one in events(part, "6")] == [False, True, True]
    last = events(part, "7")[0]
    assert (last.bowing, last.has_fermata, last.is_plucked) == ("up", True, False)
    assert [mark.mark for mark in part.dynamics] == ["p", "f", "f", "mf", "pp"]
    assert [(pin.onset_ql, pin.end_ql) for pin in part.hairpins] == [(4.0, 7.0), (16.0, 19.0)]
    assert part.tempos[0].quarters_per_minute == 72
    assert part.remarks == ()


def test_ids_find_every_note_again() -> None:
    """Each event of a part names notes of the identified text, with the same pitch."""
    score = read_score(pieces.study(), name="study")
    notes = {one.get("id"): one for one in ET.fromstring(score.musicxml).iter("note")}
    for event in read_part(score).events:
        assert event.element_ids
        for pitch in event.pitches:
            written = notes[pitch.element_id].find("pitch")
            assert written is not None
            assert (
                written.findtext("step") + (written.findtext("octave") or "")
                == pitch.name[0] + pitch.name[-1]
            )


def test_strong_beats_are_those_of_the_metre() -> None:
    """One is heaviest; a half bar comes next in 4/4; in 3/4 the other beats are light (common practice)."""
    four = read(pieces.simple("".join(pieces.note("A4", 1) for _ in range(4))))
    assert [one.beat_strength for one in four.events] == [1.0, 0.25, 0.5, 0.25]
    three = read(pieces.simple("".join(pieces.note("A4", 1) for _ in range(3)), metre="3/4"))
    assert [one.beat_strength for one in three.events] == [1.0, 0.25, 0.25]
    eighths = read(pieces.simple("".join(pieces.note("A4", 0.5) for _ in range(3)), metre="3/8"))
    assert [one.beat_strength for one in eighths.events] == [1.0, 0.25, 0.25]


def test_a_bar_parted_by_a_repeat_goes_on_counting() -> None:
    """Three beats, the sign, and the fourth: the rest of a bar is no first beat, its beginning no pickup."""
    three = "".join(pieces.note("A4", 1) for _ in range(3))
    part = read(pieces.simple(three + pieces.repeat("backward"), pieces.note("B4", 1), pieces.note("C5", 4)))
    assert [(one.beat, one.beat_strength) for one in events(part, "2")] == [(4.0, 0.25)]
    assert [(one.beat, one.beat_strength) for one in events(part, "3")] == [(1.0, 1.0)]


def test_a_second_voice_is_joined_or_named() -> None:
    """The same rhythm makes double stops; another one is left out, and its measure is named."""
    same = pieces.note("D5", 2) * 2 + pieces.backup(4) + pieces.note("D4", 2, voice=2) * 2
    other = (
        pieces.note("D5", 4)
        + pieces.backup(4)
        + pieces.note("F4", 2, voice=2)
        + pieces.note("G4", 2, voice=2)
    )
    part = read(pieces.simple(same, other))
    assert [[pitch.name for pitch in one.pitches] for one in part.events] == [["D4", "D5"]] * 2 + [["D5"]]
    assert [(remark.name, remark.measure) for remark in part.remarks] == [("voices", "2")]


def test_what_is_not_planned_is_named_with_its_measure() -> None:
    """Words for other sounds and tempos, and a crescendo that leads nowhere."""
    line = pieces.note("A4", 4)
    part = read(pieces.simple(line, pieces.words("sul ponticello") + line, pieces.words("rit.") + line))
    assert [(one.name, one.measure) for one in part.remarks] == [
        ("special-sound", "2"),
        ("tempo-change", "3"),
    ]
    part = read(pieces.simple(pieces.words("cresc.") + line))
    assert [(one.name, one.measure) for one in part.remarks] == [("open-word", "1")]


@pytest.mark.parametrize(
    ("words", "name"),
    [
        *[(w, "tempo-change") for w in ("poco ritardando", "ritenuto", "rallentando", "accelerando")],
        *[(w, "tempo-change") for w in ("allargando", "più mosso", "Tempo I", "string.")],
        *[(w, "special-sound") for w in ("sul pont.", "am Steg", "sul tasto", "col legno")],
        *[(w, None) for w in ("a tempo", "dolce", "cantabile")],
    ],
)
def test_the_usual_words_are_known_written_out_and_abridged(words: str, name: str | None) -> None:
    """Words of tempo and of colour as parts for strings have them (common practice, no source)."""
    part = read(pieces.simple(pieces.words(words) + pieces.note("A4", 4)))
    assert [one.name for one in part.remarks] == ([] if name is None else [name])


def test_a_page_without_tempo_says_so() -> None:
    """The tempo taken stands in the remark."""
    part = read(pieces.score_xml(pieces.part_xml([pieces.note("A4", 3)])).encode())
    assert [(one.name, one.values["tempo"]) for one in part.remarks] == [("no-tempo", 96)]


def test_a_tempo_word_counts_as_music21_takes_it() -> None:
    """The figures of the words are those of music21 (`tempo.defaultTempoValues`)."""
    usual = pytest.importorskip("music21").tempo.defaultTempoValues
    assert {word: usual[word] for word in TEMPO_WORDS} == TEMPO_WORDS


def test_a_tempo_in_a_word_is_taken_and_told() -> None:
    """Each word without a figure is told with the figure taken; a figure beside the word, or over the first
    part, goes before it."""
    line = pieces.note("A4", 4)
    told = pieces.score_xml(
        pieces.part_xml([pieces.words("Allegro ma non troppo") + line, line], metre="4/4")
    )
    part = read(told.encode())
    assert [(mark.quarters_per_minute, mark.is_given) for mark in part.tempos] == [(132.0, False)]
    assert [(one.name, one.values["words"]) for one in part.remarks] == [
        ("tempo-word", "Allegro ma non troppo")
    ]
    part = read(pieces.simple(line, pieces.words("Adagio") + line))
    assert [(mark.onset_ql, mark.quarters_per_minute) for mark in part.tempos] == [(0.0, 60.0), (4.0, 56.0)]
    assert [(one.name, one.values["words"]) for one in part.remarks] == [("tempo-word", "Adagio")]
    part = read(pieces.simple(pieces.words("Andante") + line))
    assert [(mark.quarters_per_minute, mark.is_given) for mark in part.tempos] == [(60.0, True)]
    assert part.remarks == ()
    first = pieces.part_xml([pieces.tempo(50) + line], metre="4/4")
    second = pieces.part_xml([pieces.words("Allegro") + line], metre="4/4", part=2)
    duo = pieces.score_xml(first, second, names=("Violin I", "Violin II")).encode()
    assert [mark.quarters_per_minute for mark in read(duo, "2").tempos] == [50.0]


def test_repeats_that_do_not_fit_are_played_once_and_named() -> None:
    """D.S. without its sign leads nowhere; a repeat a thousand times over is not played out."""
    line = pieces.note("A4", 4)
    lost = pieces.words("D.S. al Fine")
    for measures in ((line, lost + line), (line + pieces.repeat("backward", times=1000), line)):
        part = read(pieces.simple(*measures))
        assert len(part.measures) == 2
        assert "repeats" in [one.name for one in part.remarks]


@pytest.mark.parametrize("jump", ["D.C. al Fine", "D.C.", "Da Capo"])
def test_da_capo_is_played_out_to_fine(jump: str) -> None:
    """From the beginning again, to Fine where there is one (common practice, no source)."""
    line = pieces.note("A4", 4)
    part = read(pieces.simple(line, line + pieces.words("Fine"), line + pieces.words(jump)))
    assert [one.number for one in part.measures] == ["1", "2", "3", "1", "2"]


def test_a_da_capo_without_fine_is_played_to_the_end() -> None:
    """Common practice, no source."""
    line = pieces.note("A4", 4)
    part = read(pieces.simple(line, line + pieces.words("D.C.")))
    assert [one.number for one in part.measures] == ["1", "2", "1", "2"]


def test_a_measure_that_is_not_counted_has_the_number_of_the_one_it_completes() -> None:
    """MusicXML 4.0, "implicit": such a measure is numbered "X1" in the file and not on the page."""
    whole, beat = pieces.note("A4", 4), pieces.note("B4", 1)
    text = pieces.simple(whole, pieces.note("A4", 3) + pieces.repeat("backward"), beat, whole).decode()
    text = text.replace('<measure number="3">', '<measure number="X1" implicit="yes">')
    text = text.replace('<measure number="4">', '<measure number="3">')
    part = read(text.encode())
    assert [one.number for one in part.measures] == ["1", "2", "1", "2", "2", "3"]
    assert [(one.measure, one.beat) for one in part.events][-2:] == [("2", 4.0), ("3", 1.0)]


def two_parts(first: str = "Violin I", second: str = "Violin II") -> bytes:
    one = pieces.part_xml([pieces.tempo(50) + pieces.note("A4", 3)])
    two = pieces.part_xml([pieces.note("D4", 3)], part=2)
    return pieces.score_xml(one, two, names=(first, second)).encode()


def test_a_part_is_chosen_by_name_or_number() -> None:
    """Name, its beginning, or its number; a lower part has the tempo that stands over the first."""
    score = read_score(two_parts("Violin", "Cello"), name="duo")
    assert (
        choose_part(score, "cello").index
        == choose_part(score, "2").index
        == choose_part(score, "ce").index
        == 1
    )
    assert choose_part(score, instrument="cello").index == 1
    assert choose_part(score).index == choose_part(score, instrument="viola").index == 0
    assert read_part(score, "2").tempos[0].quarters_per_minute == 50


@pytest.mark.parametrize(
    ("instrument", "names", "chosen"),
    [
        ("violin", ("Violoncello", "Violin"), 1),
        ("violin", ("Flute", "Solo Violin"), 1),
        ("violin", ("Viola", "Violino I"), 1),
        ("viola", ("Alto Saxophone", "Viola"), 1),
        ("cello", ("Violin", "Solo Cello"), 1),
        ("double bass", ("Bassoon", "Double Bass"), 1),
        ("double bass", ("Violoncello", "Contrabass"), 1),
    ],
)
def test_the_part_of_an_instrument_is_found_by_its_name(
    instrument: str, names: tuple[str, str], chosen: int
) -> None:
    """The usual names of parts (common practice, no source); another instrument's may begin alike."""
    assert choose_part(read_score(two_parts(*names), name="duo"), instrument=instrument).index == chosen


def test_a_part_below_two_staves_is_found() -> None:
    """A piano above a violin: the violin's notes are read, and the piano's upper staff where it is asked."""
    staff = "<staff>{}</staff></note>"
    upper, lower = (
        pieces.note(name, 4).replace("</note>", staff.format(k)) for k, name in ((1, "C6"), (2, "C3"))
    )
    piano = pieces.part_xml([pieces.tempo(50) + upper + pieces.backup(4) + lower], metre="4/4")
    piano = piano.replace("</time>", "</time><staves>2</staves>")
    violin = pieces.part_xml([pieces.note("A4", 4)], metre="4/4", part=2)
    score = read_score(pieces.score_xml(piano, violin, names=("Piano", "Violin")).encode(), name="duo")
    assert [pitch.name for one in read_part(score).events for pitch in one.pitches] == ["A4"]
    above = read_part(score, "Piano")
    assert [pitch.name for one in above.events for pitch in one.pitches] == ["C6"]
    assert [remark.name for remark in above.remarks] == ["staves"]


def test_too_many_notes_are_not_read() -> None:
    """12,000 in a part: more than half an hour of sixteenths at 96."""
    bar = pieces.note("A4", 0.25) * 1201
    with pytest.raises(InputError, match="more than 12000 notes"):
        read_score(pieces.simple(*[bar] * 10), name="piece")


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ("Oboe", "there is no part 'Oboe'; the parts are: 1 Violin I, 2 Violin II"),
        ("3", "there is no part '3'; the parts are: 1 Violin I, 2 Violin II"),
        ("Viol", "several parts are called 'Viol': give a number; the parts are: 1 Violin I, 2 Violin II"),
    ],
)
def test_a_part_that_is_not_there_is_told_with_those_that_are(part: str, says: str) -> None:
    """One line that helps."""
    with pytest.raises(InputError) as told:
        choose_part(read_score(two_parts(), name="duo"), part)
    assert str(told.value) == says


def test_compressed_and_timewise_scores_are_the_same_piece() -> None:
    """.mxl with and without its container, and a score by measures, read as the plain file."""
    plain = read(pieces.study()).events
    assert read(pieces.packed(pieces.study())).events == plain
    assert read(pieces.packed(pieces.study(), container=False)).events == plain
    root = ET.fromstring(pieces.study())
    turned = ET.Element("score-timewise", root.attrib)
    turned.extend(child for child in root if child.tag != "part")
    part = root.find("part")
    assert part is not None
    for measure in part:
        whole = ET.SubElement(turned, "measure", measure.attrib)
        ET.SubElement(whole, "part", part.attrib).extend(measure)
    assert read(ET.tostring(turned)).events == plain


def test_midi_is_read_as_notes() -> None:
    """A MIDI file written by music21 from four quarter notes has these notes again."""
    music21 = pytest.importorskip("music21")
    stream = music21.converter.parse("tinynotation: 4/4 g4 a4 b4 c'4 d'2 r2")
    stream.insert(0, music21.tempo.MetronomeMark(number=80))
    data = music21.midi.translate.streamToMidiFile(stream).writestr()
    score = read_score(data, name="scale.mid")
    part = read_part(score)
    assert [pitch.name for one in part.events for pitch in one.pitches] == ["G4", "A4", "B4", "C5", "D5"]
    assert [one.onset_ql for one in part.events if one.pitches] == [0, 1, 2, 3, 4]
    assert part.tempos[0].quarters_per_minute == pytest.approx(80)
    assert (score.title, score.parts[0].name) == ("scale", "Part 1")
    assert "Music21" not in score.musicxml, "a title and a composer that nobody wrote"


def bombs() -> Iterator[tuple[str, bytes, str]]:
    lol = "".join(f'<!ENTITY l{k} "{f"&l{k - 1};" * 10 if k else "ha"}">' for k in range(10))
    yield (
        "entities",
        f"<!DOCTYPE x [{lol}]><score-partwise>&l9;</score-partwise>".encode(),
        "declares entities",
    )
    outside = '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><score-partwise>&e;</score-partwise>'
    yield "a file from outside", outside.encode(), "declares entities"
    yield "depth", b"<a>" * 5000 + b"</a>" * 5000, "nests more than"
    yield "a zip bomb", pieces.packed(b" " * (opening.MOST_UNPACKED_BYTES + 1)), "unpacks to more than 60 MB"
    yield (
        "an archive of something else",
        pieces.packed(b"x", member="x.txt", container=False),
        "without a score",
    )
    yield "a damaged archive", pieces.packed(pieces.study())[:200], "damaged"
    yield "no XML", b"To be or not to be", "no score that can be read"
    yield "another XML", b"<html/>", "no MusicXML score"
    yield "nothing", b"", "no score that can be read"
    yield "no notes", pieces.simple(pieces.note("-", 4)), "holds no note with a pitch"
    drum = "<unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>"
    beat = pieces.note("E4", 4).replace(pieces.pitch("E4"), drum)
    yield "a drum alone", pieces.simple(beat), "holds no note with a pitch"
    yield "an endless note", pieces.simple(pieces.note("A4", 1e6)), "is no note"
    yield "an endless number", pieces.simple(pieces.note("A4", 1)).replace(b">12<", b">1e999<"), "is no note"
    yield "no MIDI", b"MThd\x00\x00\x00\x06\x00\x01", "damaged MIDI"
    long = b"\xff\xff\xff\x7f"  # the longest wait that MIDI can write, at one tick a quarter
    track = long + b"\x90\x40\x40" + long + b"\x80\x40\x40\0\xff\x2f\0"
    endless = b"MThd\0\0\0\6\0\0\0\1\0\1MTrk\0\0\0" + bytes([len(track)]) + track
    yield "endless MIDI", endless, "longer than 6000 quarter notes"


@pytest.mark.parametrize(("data", "says"), [pytest.param(d, s, id=n) for n, d, s in bombs()])
def test_a_file_that_is_no_score_is_refused_in_one_line(data: bytes, says: str) -> None:
    """Sizes are bounded, entities refused, nothing is fetched; the line says what is wrong."""
    with pytest.raises(InputError) as told:
        read_part(read_score(data, name="piece"))
    assert says in str(told.value)
    assert "\n" not in str(told.value)


def test_a_file_too_large_is_not_opened() -> None:
    """20 MB at most."""
    with pytest.raises(InputError, match="larger than 20 MB"):
        read_score(b" " * (opening.MOST_BYTES + 1), name="piece")


def test_reading_writes_nothing_at_home_and_asks_no_network(tmp_path: Path) -> None:
    """In a home of its own, with sockets out of reach: no file is left there, no word on the streams."""
    script = (
        "import socket, sys\n"
        "def refuse(*_): raise AssertionError('network')\n"
        "socket.socket.connect = refuse\n"
        "from pathlib import Path\n"
        "from colophony.app.score.opening import read_score\n"
        "from colophony.app.score.reading import read_part\n"
        "part = read_part(read_score(Path(sys.argv[1]).read_bytes(), name='study'))\n"
        "sys.exit(len(part.measures))\n"
    )
    piece = tmp_path / "study.musicxml"
    piece.write_bytes(pieces.study())
    home = tmp_path / "home"
    home.mkdir()
    environment = os.environ | {"HOME": str(home), "TMPDIR": str(home)}
    done = subprocess.run(
        [sys.executable, "-c", script, str(piece)],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (11, "", "")
    assert list(home.rglob("*")) == []


def test_every_mark_of_the_study_is_counted_once() -> None:
    """Directions, tied notes and plucked notes of the events agree with a count of the written text."""
    part = read(pieces.study())
    first = [one for one in part.events if one.passing == 1]
    text = pieces.study().decode()
    found = Counter(
        bow=sum(one.bowing is not None for one in first),
        tied=sum(one.is_tied for one in first),
        grace=sum(one.is_grace for one in first),
        staccato=sum("staccato" in one.articulations for one in first),
        rests=sum(one.is_rest for one in first),
    )
    assert found == Counter(
        bow=text.count("-bow/>"),
        tied=text.count('<tied type="stop"/>'),
        grace=text.count("<grace/>"),
        staccato=text.count("<staccato/>"),
        rests=text.count("<rest/>"),
    )
