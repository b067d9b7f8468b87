"""Figures as a hand knows them: a weight compared with a thing."""

from __future__ import annotations

from colophony.language import N_, _

#: Things whose weight a hand knows, in grams. A sheet of A4 is 1/16 m^2 (ISO 216), at 80 g/m^2 5 g; the
#: others are common knowledge, no source.
_KNOWN_WEIGHTS_G = (
    (5, N_("a sheet of paper")),
    (10, N_("two sheets of paper")),
    (25, N_("a slice of bread")),
    (60, N_("an egg")),
    (100, N_("a bar of chocolate")),
    (150, N_("an apple")),
    (250, N_("a pack of butter")),
    (500, N_("two packs of butter")),
    (1000, N_("a bag of flour")),
)
_GRAVITY_M_S2 = 9.81


def hand_weight(newton: float) -> str:
    """Return a thing of about this weight that a hand knows, the nearest in proportion: "an egg"."""
    grams = 1000.0 * newton / _GRAVITY_M_S2
    return _(min(_KNOWN_WEIGHTS_G, key=lambda known: max(known[0] / grams, grams / known[0]))[1])
