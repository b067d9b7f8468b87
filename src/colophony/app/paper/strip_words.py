"""The fixed words of the strips to cut out, for three readers."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from colophony.language import N_
from colophony.teaching.findings import Say

#: Beside the check line of every page that is true to scale.
MEASURE = N_(
    "Measure this line: it must be exactly 100 mm long. If it is not, print again at 100 %, "
    "not “fit to page”."
)

POINTS: Mapping[str, Say] = MappingProxyType(
    {
        "title": Say("Where your bow runs", "Sounding points", "Sounding points"),
        "cut": Say(
            "Cut along the outline and fold at the dashed line.",
            "Cut along the outline and fold at the dashed line: so the strip is stiff. Firm paper is best.",
            "Cut along the outline and fold at the dashed line; firm paper (160 g) is best.",
        ),
        "lay": Say(
            "Ask a grown-up to slide the blank end under the strings, onto the fingerboard, until the thick "
            "edge meets the bridge.",
            "Slide the blank end under the strings, onto the fingerboard, until the thick edge meets the "
            "bridge. The strings stay free; the thick line across is where the fingerboard ends.",
            "Slide the blank end under the strings onto the fingerboard until the thick edge meets the "
            "bridge. Where the fingerboard's end does not meet its line, this instrument differs from the "
            "table of sizes.",
        ),
        "read": Say(
            "Lines 1 to 5 are the sounding points. Your bow may wander as far as the bar beside its point "
            "reaches: so far the string sings.",
            "Lines 1 to 5 are the sounding points. The bar through a point shows how far the bow may wander "
            "from it, at this speed and with the weight printed on the back, before the tone breaks. A point "
            "without a bar has no clear tone at this speed.",
            "Each bar is the wander room of its point (dot) at this speed and the weight on the back; an "
            "arrow means that nothing beyond was tried. No bar: no clean band at this speed.",
        ),
        "care": Say(
            "Never stick anything to your instrument.",
            "Never stick, tape or clip anything to the instrument: varnish comes off with it.",
            "Nothing is to be stuck, taped or clipped to the varnish.",
        ),
    }
)

BEATS: Mapping[str, Say] = MappingProxyType(
    {
        "title": Say("Count with your bow", "Beats along the bow", "Beats along the bow"),
        "cut": Say(
            "Cut out the pieces. Glue each onto the tab with the same letter.",
            "Cut out the pieces and glue them one after the other: the end marked A onto the tab marked A, "
            "so that the lines meet.",
            "Cut out the pieces and glue end to tab by their letters, lines meeting.",
        ),
        "lay": Say(
            "Fold the strip along the dashed line and let it ride on the stick like a roof, its thick end at "
            "the frog. A grown-up ties it on with two loops of soft thread.",
            "Fold it along the dashed line and let it ride on the stick like a roof, the thick end where the "
            "hair leaves the frog. Two loose loops of soft thread hold it; take it off after practice.",
            "Fold it over the stick, the thick end where the hair leaves the frog; two loose loops of soft "
            "thread hold it.",
        ),
        "read": Say(
            "Count aloud. When you say a number, its line is over the string.",
            "Count aloud: on each beat the line with its number crosses the string. One side of the roof "
            "faces the player, the other whoever watches.",
            "At each beat the line with its number crosses the string; even speed over the whole hair. One "
            "side faces the player, the other the teacher.",
        ),
        "care": Say(
            "Never stick anything to your bow.",
            "Never stick or tape anything to the stick, and keep rubber bands away from its varnish.",
            "Nothing is to be stuck to the stick; rubber marks varnish.",
        ),
    }
)
#: Over the columns of the rooms in words: point, place, room, weight.
COLUMNS = (N_("Point"), N_("From the bridge"), N_("The tone holds"), N_("Weight, about that of"))
# What may be laid on varnish, and that a strip is held by strings or thread: common practice, no source.

SIDE_VIEW = N_(
    "From the side: the folded strip lies on the fingerboard under the strings and reaches to the bridge."
)
ROOF_VIEW = N_("The folded strip rides on the bow's stick like a roof and is tied with two loops of thread.")
