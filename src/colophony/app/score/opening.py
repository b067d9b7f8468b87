"""A file from anywhere becomes one MusicXML text with an id on every note, or one clear line says why not.

Files are not trusted: every size is bounded before it is read, entities are refused, nothing is fetched.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import PurePath
from xml.etree import ElementTree as ET
from xml.parsers import expat

from colophony.app.score.values import PartName, Score
from colophony.errors import InputError
from colophony.language import _

#: What a file may be at most. A long movement for orchestra is about 10 MB of MusicXML and 40,000 notes.
MOST_BYTES = 20 * 1024 * 1024
MOST_UNPACKED_BYTES = 60 * 1024 * 1024
MOST_FILES = 500
MOST_MIDI_BYTES = 1024 * 1024
MOST_NOTES, MOST_NOTES_OF_A_PART = 100_000, 12_000
MOST_PARTS = 200
#: Longest piece, and longest single note or measure, in quarter notes: three hours at 100, and 16 breves.
MOST_QUARTERS, LONGEST_NOTE_QUARTERS = 18_000, 128
_DEEPEST = 60

ENDINGS = (".musicxml", ".xml", ".mxl", ".mid", ".midi")


def read_score(data: bytes, *, name: str) -> Score:
    """Return what a file holds as a `Score`.

    Parameters
    ----------
    data : of a .musicxml or .xml, .mxl (compressed) or .mid file; its first bytes say which
    name : of the file, for the title and for messages

    Raises `InputError` with one line: no score, too large, damaged, not safe to open.
    """
    if len(data) > MOST_BYTES:
        raise InputError(
            _("{name} is larger than {limit} MB: a score of one piece is smaller").format(
                name=name, limit=MOST_BYTES // 2**20
            )
        )
    if data[:4] == b"PK\x03\x04":
        data = _unpacked(data, name)
    elif data[:4] == b"MThd":
        from colophony.app.score.midi import midi_to_musicxml

        if len(data) > MOST_MIDI_BYTES:
            raise InputError(
                _("{name} is larger than {limit} MB: a MIDI file of one piece is smaller").format(
                    name=name, limit=MOST_MIDI_BYTES // 2**20
                )
            )
        data = midi_to_musicxml(data, name=name, most_notes=MOST_NOTES_OF_A_PART)
    root = _partwise(_tree(data, name), name)
    parts = _identify(root, name)
    title = _title(root) or PurePath(name).stem
    return Score(title, ET.tostring(root, encoding="unicode"), parts)


def _unpacked(data: bytes, name: str) -> bytes:
    """Return the score inside a compressed file; what it names as its root, else its first score."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            if len(names) > MOST_FILES:
                raise InputError(
                    _("{name} packs {count} files: a compressed score has a few").format(
                        name=name, count=len(names)
                    )
                )
            inside = [one for one in names if not one.startswith("META-INF/")]
            scores = [one for one in inside if one.lower().endswith((".musicxml", ".xml"))]
            if "META-INF/container.xml" in names:
                container = _tree(_member(archive, "META-INF/container.xml", name), name)
                rootfiles = [e.get("full-path") for e in container.iter() if _local(e) == "rootfile"]
                scores = [one for one in rootfiles if one in inside] + scores
            if not scores:
                raise InputError(_("{name} is an archive without a score in it").format(name=name))
            return _member(archive, scores[0], name)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise InputError(
            _("{name} is damaged: it cannot be unpacked; export it again").format(name=name)
        ) from error


def _member(archive: zipfile.ZipFile, member: str, name: str) -> bytes:
    """Return one file of an archive, whatever size its directory claims."""
    with archive.open(member) as stream:
        data = stream.read(MOST_UNPACKED_BYTES + 1)
    if len(data) > MOST_UNPACKED_BYTES:
        raise InputError(
            _("{name} unpacks to more than {limit} MB: it is not opened").format(
                name=name, limit=MOST_UNPACKED_BYTES // 2**20
            )
        )
    return data


def _tree(data: bytes, name: str) -> ET.Element:
    """Return the tree of an XML text that declares no entity and is not absurdly deep."""
    depth = 0

    def on_entity(*_args: object) -> None:
        raise InputError(_("{name} declares entities: such a file is not opened").format(name=name))

    def on_start(*_args: object) -> None:
        nonlocal depth
        depth += 1
        if depth > _DEEPEST:
            raise InputError(
                _("{name} nests more than {limit} elements: that is no score").format(
                    name=name, limit=_DEEPEST
                )
            )

    def on_end(*_args: object) -> None:
        nonlocal depth
        depth -= 1

    looker = expat.ParserCreate()
    looker.EntityDeclHandler = on_entity
    looker.StartElementHandler, looker.EndElementHandler = on_start, on_end
    try:
        looker.Parse(data, True)
        return ET.fromstring(data)
    except (expat.ExpatError, ET.ParseError, ValueError, LookupError) as error:
        raise InputError(
            _("{name} is no score that can be read: give MusicXML (.musicxml, .mxl) or MIDI (.mid)").format(
                name=name
            )
        ) from error


def _partwise(root: ET.Element, name: str) -> ET.Element:
    """Return a score by parts; one by measures is turned over."""
    if root.tag == "score-partwise":
        return root
    if root.tag != "score-timewise":
        raise InputError(_("{name} is XML but no MusicXML score: export it as MusicXML").format(name=name))
    turned = ET.Element("score-partwise", root.attrib)
    parts: dict[str, ET.Element] = {}
    for child in root:
        if child.tag != "measure":
            turned.append(child)
            continue
        for part in child.findall("part"):
            whole = parts.setdefault(part.get("id", ""), ET.Element("part", part.attrib))
            measure = ET.SubElement(whole, "measure", child.attrib)
            measure.extend(part)
    turned.extend(parts.values())
    return turned


def _identify(root: ET.Element, name: str) -> tuple[PartName, ...]:
    """Give every note its id, check what the score asks for, and return the parts."""
    parts = root.findall("part")
    if not parts or len(parts) > MOST_PARTS:
        raise InputError(
            _("{name} has {count} parts: a score has 1 to {limit}").format(
                name=name, count=len(parts), limit=MOST_PARTS
            )
        )
    if sum(len(part.findall("measure/note")) for part in parts) > MOST_NOTES:
        raise _too_many_notes(name, MOST_NOTES)
    if max(len(part.findall("measure/note")) for part in parts) > MOST_NOTES_OF_A_PART:
        raise _too_many_notes(name, MOST_NOTES_OF_A_PART)
    names = {
        one.get("id", ""): " ".join((one.findtext("part-name") or "").split())
        for one in root.findall("part-list/score-part")
    }
    found = []
    for i, part in enumerate(parts):
        count, quarters, divisions = 0, 0.0, 1.0
        for j, measure in enumerate(part.findall("measure")):
            divisions = _number(measure.findtext("attributes/divisions"), divisions) or 1.0
            for k, note in enumerate(measure.findall("note")):
                note.set("id", f"p{i}m{j}n{k}")
                count += note.find("pitch") is not None
                length = _number(note.findtext("duration"), 0.0) / divisions
                quarters += length
                if not 0.0 <= length <= LONGEST_NOTE_QUARTERS:
                    raise InputError(
                        _("{name}, measure {measure}: a note of {length} quarters is no note").format(
                            name=name, measure=measure.get("number", j + 1), length=f"{length:g}"
                        )
                    )
        if quarters > 4 * MOST_QUARTERS:
            raise InputError(
                _("{name} is longer than {limit} quarter notes: give one movement at a time").format(
                    name=name, limit=MOST_QUARTERS
                )
            )
        found.append(
            PartName(i, names.get(part.get("id", "")) or _("Part {number}").format(number=i + 1), count)
        )
    if not any(part.notes for part in found):
        raise InputError(_("{name} holds no note with a pitch: is it the right file?").format(name=name))
    return tuple(found)


def _too_many_notes(name: str, limit: int) -> InputError:
    return InputError(
        _("{name} has more than {limit} notes: give one movement at a time").format(name=name, limit=limit)
    )


def _number(text: str | None, default: float) -> float:
    try:
        return float(text) if text else default
    except ValueError:
        return default


def _title(root: ET.Element) -> str:
    for path in ("work/work-title", "movement-title"):
        words = " ".join((root.findtext(path) or "").split())
        if words:
            return words
    return ""


def _local(element: ET.Element) -> str:
    return element.tag.rsplit("}", 1)[-1]
