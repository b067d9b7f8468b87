"""Pieces for tests, invented here: a few lines of notes written out as MusicXML."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from xml.sax.saxutils import escape

DIVISIONS = 12
_TYPES = {4.0: "whole", 2.0: "half", 1.0: "quarter", 0.5: "eighth", 0.25: "16th"}


def pitch(name: str) -> str:
    alter = {"#": "<alter>1</alter>", "b": "<alter>-1</alter>"}.get(name[1:-1], "")
    return f"<pitch><step>{name[0]}</step>{alter}<octave>{name[-1]}</octave></pitch>"


def note(
    names: str,
    quarters: float,
    *,
    slur: Sequence[str] = (),
    tie: Sequence[str] = (),
    bow: str = "",
    marks: Sequence[str] = (),
    grace: bool = False,
    triplet: bool = False,
    voice: int = 1,
    fermata: bool = False,
    string: int = 0,
) -> str:
    """A note ("D4"), a double stop ("G3 D4") or a rest ("-"), of a length in quarters."""
    told = []
    for k, name in enumerate(names.split()):
        notations = ""
        if k == 0:
            notations += "".join(f'<tied type="{one}"/>' for one in tie)
            notations += "".join(f'<slur number="1" type="{one}"/>' for one in slur)
            technical = f"<{bow}-bow/>" if bow else ""
            technical += f"<string>{string}</string>" if string else ""
            notations += f"<technical>{technical}</technical>" if technical else ""
            notations += (
                f"<articulations>{''.join(f'<{m}/>' for m in marks)}</articulations>" if marks else ""
            )
            notations += "<fermata/>" if fermata else ""
        written = quarters * 1.5 if triplet else quarters
        told.append(
            "<note>"
            + ("<grace/>" if grace else "")
            + ("<chord/>" if k else "")
            + ("<rest/>" if name == "-" else pitch(name))
            + ("" if grace else f"<duration>{round(quarters * DIVISIONS)}</duration>")
            + "".join(f'<tie type="{one}"/>' for one in tie)
            + f"<voice>{voice}</voice>"
            + (f"<type>{_TYPES[written]}</type>" if written in _TYPES else "")
            + (
                "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
                "</time-modification>"
                if triplet
                else ""
            )
            + (f"<notations>{notations}</notations>" if notations else "")
            + "</note>"
        )
    return "".join(told)


def dynamic(mark: str) -> str:
    return f"<direction><direction-type><dynamics><{mark}/></dynamics></direction-type></direction>"


def wedge(kind: str) -> str:
    return f'<direction><direction-type><wedge type="{kind}"/></direction-type></direction>'


def words(text: str) -> str:
    return f"<direction><direction-type><words>{escape(text)}</words></direction-type></direction>"


def tempo(quarters: float) -> str:
    return (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>"
        f"<per-minute>{quarters:g}</per-minute></metronome></direction-type>"
        f'<sound tempo="{quarters:g}"/></direction>'
    )


def repeat(direction: str, *, times: int = 0) -> str:
    side = "left" if direction == "forward" else "right"
    more = f' times="{times}"' if times else ""
    return f'<barline location="{side}"><repeat direction="{direction}"{more}/></barline>'


def ending(number: int, kind: str, *, back: bool = False) -> str:
    side = "left" if kind == "start" else "right"
    turn = '<repeat direction="backward"/>' if back else ""
    return f'<barline location="{side}"><ending number="{number}" type="{kind}"/>{turn}</barline>'


def backup(quarters: float) -> str:
    return f"<backup><duration>{round(quarters * DIVISIONS)}</duration></backup>"


def part_xml(measures: Sequence[str], *, metre: str = "3/4", first: int = 1, part: int = 1) -> str:
    beats, beat_type = metre.split("/")
    told = []
    for k, content in enumerate(measures):
        attributes = ""
        if k == 0:
            attributes = (
                f"<attributes><divisions>{DIVISIONS}</divisions><time><beats>{beats}</beats>"
                f"<beat-type>{beat_type}</beat-type></time></attributes>"
            )
        # A repeat or an ending at the left stands before everything else.
        left = content.startswith("<barline")
        head, tail = content.split("</barline>", 1) if left else ("", content)
        opening = f"{head}</barline>" if left else ""
        told.append(f'<measure number="{first + k}">{opening}{attributes}{tail}</measure>')
    return f'<part id="P{part}">{"".join(told)}</part>'


def score_xml(*parts: str, names: Sequence[str] = ("Violin",), title: str = "Study") -> str:
    listing = "".join(
        f'<score-part id="P{k + 1}"><part-name>{escape(name)}</part-name></score-part>'
        for k, name in enumerate(names)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://www.musicxml.org/dtds/partwise.dtd">\n'
        f'<score-partwise version="4.0"><work><work-title>{escape(title)}</work-title></work>'
        f"<part-list>{listing}</part-list>{''.join(parts)}</score-partwise>"
    )


def simple(*measures: str, metre: str = "4/4", quarters: float = 60.0, first: int = 1) -> bytes:
    """One violin part at a tempo."""
    return score_xml(
        part_xml([tempo(quarters) + measures[0], *measures[1:]], metre=metre, first=first)
    ).encode()


def study() -> bytes:
    """Pickup, slur, hairpin, repeat with endings, double stop, triplet, tie, grace note, rest, pizzicato."""
    measures = [
        tempo(72) + dynamic("p") + note("D4", 1),
        repeat("forward") + note("G4", 2) + note("A4", 1),
        wedge("crescendo")
        + note("B4", 1, slur=["start"])
        + note("C5", 1)
        + note("D5", 1, slur=["stop"])
        + wedge("stop"),
        dynamic("f") + note("E5", 1, grace=True) + note("D5", 1) + note("-", 1) + note("G3 D4", 1),
        ending(1, "start")
        + note("C5", 1 / 3, triplet=True)
        + note("B4", 1 / 3, triplet=True)
        + note("A4", 1 / 3, triplet=True)
        + note("G4", 2)
        + ending(1, "stop", back=True),
        ending(2, "start")
        + dynamic("mf")
        + note("A4", 1, marks=["staccato"])
        + note("B4", 1, marks=["staccato"])
        + note("C5", 1, tie=["start"])
        + ending(2, "stop"),
        note("C5", 1, tie=["stop"]) + words("pizz.") + note("G4", 1) + note("D4", 1),
        words("arco") + dynamic("pp") + note("G4", 3, bow="up", fermata=True),
    ]
    return score_xml(part_xml(measures, first=0), title="A study for tests").encode()


def packed(xml: bytes, *, member: str = "score.xml", container: bool = True) -> bytes:
    """A compressed score."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        if container:
            archive.writestr(
                "META-INF/container.xml",
                f'<container><rootfiles><rootfile full-path="{member}"/></rootfiles></container>',
            )
        archive.writestr(member, xml)
    return out.getvalue()
