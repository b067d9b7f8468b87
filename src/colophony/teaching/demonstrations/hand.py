"""What the hand may vary besides weight: the place of the bow, its tilt, how a stroke sets out."""

from colophony.language import N_
from colophony.teaching.demonstrations.kinds import Demonstration, Notes, Stroke

#: Nearer to the bridge slower and heavier, farther faster and lighter: C. Flesch, "The Art of Violin
#: Playing" (from memory). Greatest over least weight in proportion to the distance: J. C. Schelleng (1973),
#: 4 beta R / Z0.
NEAR_AND_FAR = Demonstration(
    key="near-and-far",
    title=N_("Near the bridge and far from it"),
    sentence=N_("Near the bridge the bow is slow and heavy, far from it fast and light."),
    hear=N_("Both sing. Near the bridge the tone is denser, far from it more open."),
    see=N_("Near the bridge the range of weights that sing is narrow; farther away it opens."),
    ask=N_("Why do we teach beginners to bow midway?"),
    notes=Notes(
        parents=N_(
            "The nearer the bow is to the bridge, the smaller the mistake that spoils the sound. If it is "
            "rough or whistles, look where the bow runs: has it wandered? Midway between bridge and "
            "fingerboard is the place that forgives most."
        ),
        players=N_(
            "A crescendo can be played by moving nearer with more weight and less speed, rather than by "
            "pressing. Move the bow one sounding point and feel how both speed and weight must follow."
        ),
        physicists=N_(
            "Greatest over least weight is 4 beta R / Z0 in Schelleng's model: it grows in proportion to the "
            "distance. The bars come from this string's own simulated map, at 20 cm/s with flat hair. The "
            "amplitude at the bridge goes with vb/beta: a slow bow near the bridge can be as loud as a fast "
            "one far from it."
        ),
    ),
    picture="string",
    strokes=(
        Stroke(
            N_("Near: slow and heavy"),
            point=1.6,
            speed_cm_s=12.0,
            shares=(0.45, 0.5, 0.4, 0.35, 0.55, 0.6, 0.3, 0.7, 0.25),
        ),
        Stroke(
            N_("Far: fast and light"),
            point=4.7,
            speed_cm_s=40.0,
            shares=(0.15, 0.18, 0.12, 0.2, 0.1, 0.25, 0.3),
        ),
    ),
    rooms=N_("The weights that sing"),
)

#: Less hair: E. Schoonderwaldt, K. Guettler and A. Askenfelt, SMAC-03, 91-94 (2003); R. Pitteroff and J.
#: Woodhouse, Acta Acust. u. Acust. 84 (1998). Light and tilted go together near the fingerboard: common
#: practice, no source.
TILT = Demonstration(
    key="tilt",
    title=N_("Tilt"),
    sentence=N_("On its edge, the hair lets a slightly lighter bow speak."),
    hear=N_("The same light bow twice: with flat hair it whistles, with tilted hair it sings."),
    see=N_("Less hair touches the string, and all the weight lies on it."),
    ask=N_("When would you want a bow that speaks under almost no weight?"),
    notes=Notes(
        parents=N_(
            "Teachers say: roll the stick a little. Then fewer hairs touch the string, and a soft note "
            "starts more easily. For a strong sound all the hair lies flat."
        ),
        players=N_(
            "Tilt for light, fast bows near the fingerboard; lay the hair flat for slow, heavy ones near the "
            "bridge. At full weight the difference is small: tilt is for the soft end."
        ),
        physicists=N_(
            "The ribbon is simulated with several points of contact. Tilted, the load lies on the edge "
            "towards the fingerboard, so the mean contact is narrower and also a few millimetres farther "
            "from the bridge: both lower the least weight. Measured (Schoonderwaldt, Guettler and Askenfelt "
            "2003): half the hair gives 2 to 4 dB more above about the eleventh partial."
        ),
    ),
    picture="speed",
    strokes=(
        Stroke(
            N_("Light, flat hair"),
            shows=("multiple-slip",),
            point=2.5,
            shares=tuple(0.005 * k for k in (*range(10, 25), 9, 8, *range(25, 33))),
        ),
        Stroke(N_("The same, tilted"), tilt_deg=45.0, is_held=True),
    ),
)

#: K. Guettler, Acta Acust. u. Acust. 88, 970-985 (2002); accepted lengths: K. Guettler and A. Askenfelt, J.
#: Acoust. Soc. Am. 101, 2903-2913 (1997).
STARTS = Demonstration(
    key="starts",
    title=N_("Starts"),
    sentence=N_("A clean start needs a bow that sets out neither too slowly nor too fast for its weight."),
    hear=N_("Three beginnings under one weight: at once; a creak first; a hiss first."),
    see=N_("How many vibrations pass until the string slips once in each."),
    ask=N_("Which of the three do you hear most often in a first lesson?"),
    notes=Notes(
        parents=N_(
            "The first tenth of a second decides whether a note sounds sure. A creak at the beginning: the "
            "bow stood too heavily for how slowly it began. A hiss: it took off before it had hold of the "
            "string."
        ),
        players=N_(
            "Weight and acceleration belong together: heavier starts must set out faster. A creak has two "
            "cures, less weight or a quicker start; a hiss has the other two. Listeners forgive a hiss "
            "longer than a creak."
        ),
        physicists=N_(
            "Guettler (2002): for a given weight there is a window of accelerations in which every period "
            "from the first is Helmholtz motion; it is a wedge through the origin. Players accept about 50 "
            "ms of prolonged periods and 90 ms of multiple slips on a violin's G (Guettler and Askenfelt "
            "1997). The starts are sensitive: a little more or less can change the number of periods, not "
            "the kind."
        ),
    ),
    picture="start",
    strokes=(
        Stroke(N_("In time"), start="clean", ramps=(1.2, 1.0, 0.85, 1.5, 1.1, 1.35, 0.95, 0.7, 1.7, 0.5)),
        Stroke(N_("Too slowly"), start="creaking", ramps=(3.0, 2.0, 4.0, 1.5, 6.0, 2.5, 8.0)),
        Stroke(N_("Too fast"), start="slipping", ramps=(0.2, 0.3, 0.5, 0.1, 0.05, 0.4, 0.02)),
    ),
)
