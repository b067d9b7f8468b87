"""Make the vendored font files from the Fontsource packages: join Latin and Latin Extended, add signs.

Run once, by hand, in the folder that holds the unpacked packages ``@fontsource/piazzolla`` and
``@fontsource/alegreya-sans`` (5.3.0), as ``piazzolla/`` and ``alegreya-sans/``::

    python make_fonts.py FOLDER

Neither licence reserves a font name, so a changed copy may keep its own. The added signs (sharp, flat,
arrows, comparisons) are drawn here: the Latin subsets lack them and a studio's sheet needs them.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from fontTools.merge import Merger  # type: ignore[import-untyped]
from fontTools.pens.ttGlyphPen import TTGlyphPen  # type: ignore[import-untyped]
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

HERE = Path(__file__).parent
FACES = (
    ("piazzolla", 600, "normal", "Piazzolla-SemiBold"),
    ("alegreya-sans", 400, "normal", "AlegreyaSans-Regular"),
    ("alegreya-sans", 400, "italic", "AlegreyaSans-Italic"),
    ("alegreya-sans", 700, "normal", "AlegreyaSans-Bold"),
)
FAMILY = {"piazzolla": "Piazzolla", "alegreya-sans": "Alegreya Sans"}
STYLE = {
    (400, "normal"): "Regular",
    (400, "italic"): "Italic",
    (700, "normal"): "Bold",
    (600, "normal"): "SemiBold",
}
Contour = list[tuple[int, int]]
_ROOM = 90  #: units of 1000 to the em


def bar(x0: int, y0: int, x1: int, y1: int, thick: int) -> Contour:
    """A straight stroke as a parallelogram, clockwise; thick measured upright to its longer axis."""
    half = thick // 2
    if abs(x1 - x0) >= abs(y1 - y0):
        return [(x0, y0 - half), (x0, y0 + half), (x1, y1 + half), (x1, y1 - half)]
    return [(x0 - half, y0), (x1 - half, y1), (x1 + half, y1), (x0 + half, y0)]


def signs(t: int) -> dict[int, tuple[str, int, list[Contour]]]:
    """The added signs on a 1000-unit em for a thin stroke of ``t`` units: name, advance, contours."""
    thick = int(t * 1.7)
    sharp = [
        bar(150, -60, 150, 640, t),
        bar(290, -20, 290, 680, t),
        bar(60, 175, 380, 245, thick),
        bar(60, 375, 380, 445, thick),
    ]
    flat = [
        bar(90, 0, 90, 720, t),
        [
            (90 - t // 2, 0),
            (90 - t // 2, t),
            (250, 150),
            (278, 260),
            (240, 325),
            (180, 315),
            (90, 255),
            (90, 330),
            (190, 395),
            (290, 390),
            (350, 300),
            (330, 180),
            (230, 75),
        ],
    ]
    natural = [
        bar(90, 90, 90, 720, t),
        bar(270, -60, 270, 570, t),
        bar(90, 115, 270, 165, thick),
        bar(90, 425, 270, 475, thick),
    ]
    right = [
        bar(60, 300, 560, 300, t),
        [(420, 450), (620, 300), (420, 150), (400, 180), (540, 300), (400, 420)],
    ]
    left = [[(680 - x, y) for x, y in reversed(c)] for c in right]
    wave = [
        (50, 0),
        (130, 60),
        (210, 60),
        (330, 0),
        (410, 0),
        (490, 60),
        (490, 60 + t),
        (410, t),
        (330, t),
        (210, 60 + t),
        (130, 60 + t),
        (50, t),
    ]
    about = [[(x, y + shift) for x, y in reversed(wave)] for shift in (180, 340)]
    less = [
        bar(60, 70, 480, 70, t),
        [(480, 520), (480, 520 - t), (140, 345), (480, 170 + t), (480, 170), (60, 320), (60, 370)],
    ]
    more = [bar(60, 70, 480, 70, t), [(540 - x, y) for x, y in reversed(less[1])]]
    # Room before them: a note's letter stands there, and its arm must not touch the sign.
    sharp, flat = ([[(x + _ROOM, y) for x, y in contour] for contour in sign] for sign in (sharp, flat))
    return {
        0x266F: ("sharp", 460 + _ROOM, sharp),
        0x266D: ("flat", 400 + _ROOM, flat),
        0x266E: ("natural", 360, natural),
        0x2192: ("arrowright", 680, right),
        0x2190: ("arrowleft", 680, left),
        0x2248: ("approxequal", 540, about),
        0x2264: ("lessequal", 540, less),
        0x2265: ("greaterequal", 540, more),
    }


def add_signs(font: TTFont, thin: int) -> None:
    """Draw the signs that the font lacks; mutates ``font``."""
    have = font.getBestCmap()
    order = font.getGlyphOrder()
    for code, (name, advance, contours) in signs(thin).items():
        if code in have:
            continue
        pen = TTGlyphPen(None)
        for contour in contours:
            pen.moveTo(contour[0])
            for point in contour[1:]:
                pen.lineTo(point)
            pen.closePath()
        glyph = f"colophony.{name}"
        font["glyf"].glyphs[glyph] = pen.glyph()
        font["glyf"].glyphs[glyph].recalcBounds(font["glyf"])
        font["hmtx"][glyph] = (advance, font["glyf"].glyphs[glyph].xMin)
        order.append(glyph)
        for table in font["cmap"].tables:
            if table.isUnicode():
                table.cmap[code] = glyph
    font.setGlyphOrder(order)
    font["glyf"].glyphOrder = order


def rename(font: TTFont, package: str, weight: int, style: str) -> None:
    """Give family and style as typesetters read them (names 1, 2, 4, 6, 16, 17)."""
    family, face = FAMILY[package], STYLE[weight, style]
    plain = face in {"Regular", "Italic", "Bold"}
    names = {
        1: family if plain else f"{family} {face}",
        2: face if plain else "Regular",
        4: f"{family} {face}",
        6: f"{family.replace(' ', '')}-{face}",
        16: family,
        17: face,
    }
    for key, text in names.items():
        font["name"].setName(text, key, 3, 1, 0x409)
    font["OS/2"].usWeightClass = weight


def main(folder: Path) -> None:
    """Write each face as .ttf (for paper) and .woff2 (for screens) beside this file."""
    for package, weight, style, target in FACES:
        with tempfile.TemporaryDirectory() as temporary:
            parts = []
            for subset in ("latin", "latin-ext"):
                part = TTFont(folder / package / "files" / f"{package}-{subset}-{weight}-{style}.woff2")
                part.flavor = None
                for table in ("fpgm", "prep", "cvt ", "hdmx", "VDMX", "gasp", "STAT"):
                    if table in part:
                        del part[table]
                path = Path(temporary) / f"{subset}.ttf"
                part.save(path)
                parts.append(str(path))
            font = Merger().merge(parts)
        for glyph in font["glyf"].glyphs.values():
            glyph.removeHinting()
        add_signs(font, 56 if weight == 400 else 80)
        rename(font, package, weight, style)
        font.save(HERE / f"{target}.ttf")
        font.flavor = "woff2"
        font.save(HERE / f"{target}.woff2")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
