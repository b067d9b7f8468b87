"""A drawing of ours as PNG, set by Typst: the image without its words, and the words with their typefaces.

Renderers of SVG do not choose between the kinds of figures that a typeface has; a typesetter does.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from colophony.app.look.stylesheet import FONTS_DIR
from colophony.app.look.tokens import TEXT_FAMILY, VOICE_FAMILY
from colophony.errors import InputError
from colophony.language import N_, _

_SVG = "http://www.w3.org/2000/svg"
_TEMPLATE = Path(__file__).with_name("raster.typ")
_ANCHORS = {"start": 0.0, "middle": 0.5, "end": 1.0}
_POINTS_AN_INCH = 72.0
_INSTALL = N_("a PNG needs typst: run pip install '.[paper]' in Colophony's folder, or choose a name in .svg")


def svg_to_png(svg: str, *, scale: float = 2.0) -> bytes:
    """Return a drawing as PNG, ``scale`` pixels to its unit.

    Parameters
    ----------
    svg : a drawing with colours of its own, its words not inside of any transformed group
    scale : pixels a drawing unit, above 0

    Raises `InputError` when the extra ``paper`` is not installed.
    """
    try:
        import typst
    except ImportError as error:
        raise InputError(_(_INSTALL)) from error
    png = typst.compile(
        _TEMPLATE.read_bytes(),
        format="png",
        ppi=scale * _POINTS_AN_INCH,
        font_paths=typst.Fonts(include_system_fonts=False, font_paths=[FONTS_DIR]),
        sys_inputs={"drawing": json.dumps(_parted(svg))},
    )
    return bytes(png)


def _parted(svg: str) -> dict[str, Any]:
    """Part a drawing into the image and its words."""
    ElementTree.register_namespace("", _SVG)
    root = ElementTree.fromstring(svg)
    texts = []
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag == f"{{{_SVG}}}text":
                texts.append(_text(child))
                parent.remove(child)
            elif child.tag in (f"{{{_SVG}}}style", f"{{{_SVG}}}title", f"{{{_SVG}}}desc"):
                parent.remove(child)
    return {
        "width": float(root.get("width", "0")),
        "height": float(root.get("height", "0")),
        "svg": ElementTree.tostring(root, encoding="unicode"),
        "texts": texts,
    }


def _text(element: ElementTree.Element) -> dict[str, Any]:
    voice = VOICE_FAMILY in element.get("font-family", "")
    return {
        "x": float(element.get("x", "0")),
        "y": float(element.get("y", "0")),
        "size": float(element.get("font-size", "17")),
        "fill": element.get("fill", "#000000"),
        "anchor": _ANCHORS[element.get("text-anchor", "start")],
        "family": VOICE_FAMILY if voice else TEXT_FAMILY,
        "weight": int(element.get("font-weight", "400")),
        "over": "stroke" in element.attrib,
        "ground": element.get("stroke", "#ffffff"),
        "words": element.text or "",
    }
