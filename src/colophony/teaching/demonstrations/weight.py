"""How much weight the string bears: too much, too little, and the map of both."""

from colophony.language import N_
from colophony.teaching.demonstrations.kinds import PRESSED, Demonstration, Notes, Stroke

_EVEN = N_("The right weight")
_MORE = N_("More weight")
_LESS = N_("Less weight")
#: Tried upwards from the greatest weight, and downwards from well below what speaks. Chosen from the
#: simulation.
_TOO_HEAVY = (1.5, 2.0, 3.0, 4.0, 1.2, 6.0)
_TOO_LIGHT = (0.06, 0.05, 0.04, 0.08, 0.03, 0.1)

#: J. C. Schelleng, J. Acoust. Soc. Am. 53, 26-41 (1973); measured by E. Schoonderwaldt, K. Guettler and A.
#: Askenfelt, Acta Acust. u. Acust. 94, 604-622 (2008).
TOO_MUCH = Demonstration(
    key="too-much",
    title=N_("Too much"),
    sentence=N_("Under too much weight the corner cannot pull the string off the hair."),
    hear=N_("First the clear tone; then a harsh sound without a steady note. Only the weight has changed."),
    see=N_("The corner is lost: no two vibrations are alike."),
    ask=N_("Besides pressing less, which two things could you change?"),
    notes=Notes(
        parents=N_(
            "This is the crunch of a bow that presses. It is not a lack of talent: the string is being held "
            "too firmly to let go in time. Less weight, a faster bow, or a place a little nearer to the "
            "bridge: each of the three helps."
        ),
        players=N_(
            "The greatest weight grows with speed and shrinks with the distance from the bridge. So a "
            "pressed tone has three cures: less weight, more speed, nearer to the bridge. Try one at a time. "
            "Small instruments and thin strings bear less."
        ),
        physicists=N_(
            "Schelleng (1973): above Fmax = 2 Z0 vb / (beta (mu_s - mu_d)) the returning corner cannot "
            "overcome sticking friction. Measured by Schoonderwaldt, Guettler and Askenfelt (2008) on a "
            "monochord: Fmax = c vb / beta with c about 0.75 kg/s at Z0 = 0.25 kg/s. Beyond it the slips "
            "lose their rhythm, and here and there a period longer than the string's own becomes stable."
        ),
    ),
    picture="string",
    strokes=(Stroke(_EVEN), Stroke(_MORE, shows=PRESSED, shares=_TOO_HEAVY)),
)

TOO_LITTLE = Demonstration(
    key="too-little",
    title=N_("Too little"),
    sentence=N_("Under too little weight the string slips more than once in every vibration."),
    hear=N_("First the clear tone; then a thin, glassy one, as if the octave were speaking along."),
    see=N_("The hair loses the string too early: there is more than one dip in a vibration."),
    ask=N_("Is a thin sound always a sign of a shy player?"),
    notes=Notes(
        parents=N_(
            "A whispering, whistling sound means that the hair does not hold the string. Many children play "
            "like this because they were told not to press. They need not press: the weight of a relaxed arm "
            "is enough."
        ),
        players=N_(
            "Near the bridge and with a fast bow the string needs more weight, or it slips more often. On "
            "the surface the tone is thin even when it is loud. Cures: more weight, a slower bow, or farther "
            "from the bridge."
        ),
        physicists=N_(
            "Below the least weight the friction force that the ideal motion asks for, at the moment of "
            "greatest perturbation from the bridge, exceeds the limit of sticking; a second slip appears "
            "near the middle of the period (Schelleng 1973: Fmin = Z0^2 vb / (2 R beta^2 (mu_s - mu_d))). "
            "Measured limits differ from the formula: in Schoonderwaldt, Guettler and Askenfelt (2008) the "
            "least weight hardly depends on speed."
        ),
    ),
    picture="speed",
    strokes=(Stroke(_EVEN), Stroke(_LESS, shows=("multiple-slip",), shares=_TOO_LIGHT)),
)

MAP = Demonstration(
    key="map",
    title=N_("The map"),
    sentence=N_("Between too much and too little there is room: wide far from the bridge, narrow near it."),
    hear=N_("Three strokes at one place: clear, pressed, thin. Each is a point on the map."),
    see=N_("Every place and weight of this bow speed, and what the string does there."),
    ask=N_("Where on this map would you let a beginner play, and why?"),
    notes=Notes(
        parents=N_(
            "Every point of this picture is a stroke that was played by a computer on a string like your "
            "child's. In the coloured wedge the string sings. A beginner should play where the wedge is "
            "wide: midway, not at the bridge."
        ),
        players=N_(
            "The map holds for one bow speed. A faster bow moves the whole wedge towards more weight. Near "
            "the bridge the tone is strong but the room is narrow; near the fingerboard it forgives a lot."
        ),
        physicists=N_(
            "A Schelleng diagram of this string, simulated cell by cell: contact distance upward, weight "
            "across, in equal ratios. The upper limit falls as 1/beta, the lower one more steeply, so the "
            "wedge opens with beta. Edges are ragged: near them neighbouring strokes end in different "
            "motions."
        ),
    ),
    picture="map",
    strokes=(
        Stroke(_EVEN),
        Stroke(_MORE, shows=PRESSED, shares=_TOO_HEAVY),
        Stroke(_LESS, shows=("multiple-slip",), shares=_TOO_LIGHT),
    ),
)
