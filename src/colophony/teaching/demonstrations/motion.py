"""How the string moves: the corner that runs round it, and what happens under the bow."""

from colophony.language import N_
from colophony.teaching.demonstrations.kinds import Demonstration, Notes, Stroke

#: H. von Helmholtz, "Die Lehre von den Tonempfindungen" (1863): two straight pieces that meet in a corner;
#: C. V. Raman, Bull. Indian Assoc. Cultiv. Sci. 15 (1918): the string slips for the share beta of every
#: vibration.
CORNER = Demonstration(
    key="corner",
    title=N_("The corner"),
    sentence=N_("One corner runs round the string, once in every vibration."),
    hear=N_("A plain, clear tone: every vibration is like the one before."),
    see=N_("The string is never a curve: it is two straight pieces, and the corner between them travels."),
    ask=N_("How many times a second does the corner come round when we tune an A?"),
    notes=Notes(
        parents=N_(
            "To the eye a bowed string looks like a spindle, because it is too fast to follow. Slowed down, "
            "it is two straight lines with one corner. When the corner keeps coming round in time, we hear a "
            "clear tone. Everything your child practises with the bow serves this one corner."
        ),
        players=N_(
            "The bow does not shape the string; it keeps a corner running. On a down-bow the corner runs "
            "round one way, on an up-bow the other. The spindle that you see while playing is the path of "
            "that corner."
        ),
        physicists=N_(
            "Helmholtz (1863) saw this with a vibration microscope; Raman (1918) built the theory. What "
            "moves here is the sum of two travelling waves of a simulation with losses, stiffness, torsion, "
            "several hairs and a body, so the corner is rounded. The envelope is nearly the two parabolas of "
            "the ideal motion, with vb/(8 beta f) in the middle."
        ),
    ),
    picture="string",
    strokes=(Stroke(N_("An even bow, midway")),),
)

#: J. Woodhouse, "Euphonics", section 9.3.1: the string sticks for 1 - beta of the period and slips for
#: beta.
STICK_AND_SLIP = Demonstration(
    key="stick-and-slip",
    title=N_("Stick and slip"),
    sentence=N_("The hair carries the string along, then lets it go: once in every vibration."),
    hear=N_("The same tone as before. Nobody can hear the single slips: there are hundreds in a second."),
    see=N_(
        "The dot moves with the hair, then flies back; on the line, a long level stretch and a short deep "
        "dip."
    ),
    ask=N_("Which lasts longer: the time the string sticks, or the time it slips?"),
    notes=Notes(
        parents=N_(
            "Rosin makes the hair sticky. It takes the string along, until the corner comes by and pulls it "
            "loose; then the string flies back and is caught again. It is the same as a door that squeaks, "
            "only in perfect time."
        ),
        players=N_(
            "The string slips for the short moment in which the corner runs from the bow to the bridge and "
            "back. The nearer to the bridge you play, the shorter and faster the slip: that is why the tone "
            "grows, and why it asks for more weight to hold the string the rest of the time."
        ),
        physicists=N_(
            "Velocity of the string under the bow: vb while it sticks, about -vb(1 - beta)/beta while it "
            "slips. The slip lasts the share beta of the period. The ripple on the level stretch is "
            "Schelleng's: waves caught between bow and bridge, about 1/beta of them in a period."
        ),
    ),
    picture="speed",
    strokes=(Stroke(N_("The same bow, seen under the hair")),),
)
