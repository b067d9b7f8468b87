"""What the instrument changes: its size, and whether it is a violin, a viola or a cello."""

from colophony.language import N_
from colophony.teaching.demonstrations.kinds import PRESSED, Demonstration, Notes, Stroke

#: Fractional strings keep their pitch, so wave speed, tension and impedance fall with the length: computed,
#: see `physics.strings`; lengths by makers' tables (named there).
SIZE = Demonstration(
    key="size",
    title=N_("The size of the instrument"),
    sentence=N_("A small instrument bears less weight than a large one."),
    hear=N_(
        "The same bow on both: the full size sings, the small one crunches. With less weight it sings too."
    ),
    see=N_("Same place in millimetres, same speed, same weight: only the string is shorter and looser."),
    ask=N_("A child changes to a larger instrument: what must the bow arm learn anew?"),
    notes=Notes(
        parents=N_(
            "A small violin is not a big one seen from afar. Its strings are shorter and softer, and they "
            "crunch under a weight that a full-size string enjoys. When you show your child something on "
            "your own instrument, the child's hand has to do less."
        ),
        players=N_(
            "Demonstrate on the student's instrument, or play lighter than you would on your own. Sounding "
            "points move too: on a small instrument all five lie nearer to the bridge."
        ),
        physicists=N_(
            "At the same pitch the wave speed goes with the length, the tension with its square, the "
            "impedance with the length; the same distance in millimetres is a larger beta. Fmax = 2 Z0 vb / "
            "(beta dmu) falls with both. The small strings are estimates: full-size mass per length, "
            "shorter."
        ),
    ),
    picture="string",
    strokes=(
        Stroke(N_("Full size"), which="full", shares=(0.7, 0.8, 0.6, 0.9, 0.5, 1.0)),
        Stroke(N_("Small, the same bow"), which="small", shows=PRESSED, is_held=True),
        Stroke(N_("Small, a lighter bow"), which="small"),
    ),
)

#: Mass per length and length of the open strings: N. Pickering (1985); T. Rossing, ed. (2010), see
#: `physics.strings`.
FAMILY = Demonstration(
    key="family",
    title=N_("Violin, viola, cello"),
    sentence=N_("The lower the string, the more weight it bears and the more time it takes."),
    hear=N_("The lowest string of each, bowed at the same sounding point with the weight that suits it."),
    see=N_("The same corner on all three: only slower, and wider."),
    ask=N_("A violinist picks up a cello: what will go wrong first?"),
    notes=Notes(
        parents=N_(
            "All three do the same thing: one corner, once in every vibration. The heavy string of a cello "
            "only wants more weight, and a little patience at the beginning of each note."
        ),
        players=N_(
            "Changing instrument, change the weight before the speed. A start lasts a number of vibrations, "
            "not a number of milliseconds: on a low string the same start takes longer."
        ),
        physicists=N_(
            "The limits scale with the impedance Z0 of the string: about 0.35, 0.55 and 1.4 kg/s for the "
            "lowest open strings here. A transient of so many periods lasts in proportion to the period, "
            "three times as long on the cello's C as on the violin's G."
        ),
    ),
    picture="string",
    strokes=(
        Stroke(N_("Violin"), instrument="violin"),
        Stroke(N_("Viola"), instrument="viola"),
        Stroke(N_("Cello"), instrument="cello"),
    ),
)
