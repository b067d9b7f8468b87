"""What a take holds, in words: tone states, starts, evidence, warnings, remarks.

Evidence and warnings share one form, `Heard`: a thought for three readers, and the figures that stand in
brackets behind it for adult and teacher. Where a figure can speak for either side, a `Turning` picks the
thought by the figure.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from colophony.language import N_, _, figures, note_name
from colophony.listening.take import Evidence, Onset, Stroke, ToneState
from colophony.teaching.findings import Reader, Say, said


@dataclass(frozen=True, slots=True)
class Heard:
    """A thought and its figures: format strings over the evidence's values, parted by ``|``."""

    say: Say
    figures: str = ""


@dataclass(frozen=True, slots=True)
class Turning:
    """Two thoughts parted by a figure: ``below`` and ``above`` a limit of the value ``key``.

    The limit is the evidence's own (its value ``limit``) or, without one, ``at``.
    """

    key: str
    at: float
    below: Say
    above: Say
    figures: str


STATES: Mapping[ToneState, tuple[str, Say]] = MappingProxyType(
    {
        ToneState.HELMHOLTZ: (
            N_("clear"),
            Say(
                "The string sang clearly.",
                "The tone was clear: the bow caught the string once in every vibration.",
                "One slip a period: clear tone.",
            ),
        ),
        ToneState.MULTIPLE_SLIP: (
            N_("surface"),
            Say(
                "The bow skated on top of the string.",
                "The tone stayed on the surface: the string slipped more than once in every vibration.",
                "Several slips a period: surface sound.",
            ),
        ),
        ToneState.RAUCOUS: (
            N_("pressed"),
            Say(
                "The string was squeezed and growled.",
                "The tone was pressed: the string could not let go of the bow in time.",
                "Slips without a period: pressed, above the greatest weight for this speed and place.",
            ),
        ),
        ToneState.LOW_ANOMALOUS: (
            N_("groaning"),
            Say(
                "The string groaned lower than its note.",
                "The string groaned below its note: it was held too hard to let go in time.",
                "Period longer than the note's: far too much weight for the speed.",
            ),
        ),
        ToneState.NOISE: (
            N_("hair noise"),
            Say(
                "We heard the hair, but hardly the string.",
                "The hair slid along the string without catching it.",
                "Hair noise without a tone: the string was not caught.",
            ),
        ),
        ToneState.PLUCKED: (
            N_("plucked"),
            Say("This note was plucked.", "This note was plucked.", "Plucked; the bow is not judged."),
        ),
        ToneState.STEADY: (
            N_("steady"),
            Say(
                "The tone was steady.",
                "The tone was steady, each vibration like the last.",
                "Periodic; this take alone cannot tell one slip a period from several.",
            ),
        ),
        ToneState.UNSURE: (
            N_("unsure"),
            Say(
                "This one was hard to hear.",
                "This could not be judged from the recording.",
                "Not judged: the take does not tell.",
            ),
        ),
    }
)

#: Starts by kind. The limits are those of Guettler and Askenfelt (1997).
STARTS: Mapping[str, Say] = MappingProxyType(
    {
        "clean": Say("It began cleanly.", "The note began cleanly.", "Clean start."),
        "creaking": Say(
            "It began with a creak.",
            "The note began with a creak before it spoke.",
            "Creaking start: prolonged periods before the note settled.",
        ),
        "slipping": Say(
            "It began with a whistle.",
            "The note began with a light whistle before it spoke.",
            "Slipping start: several slips a period before the note settled.",
        ),
        "unknown": Say(
            "How it began was hard to hear.",
            "How the note began could not be told.",
            "Kind of start not resolved by this take.",
        ),
    }
)

#: Figures of a comparison with the player's own marked strokes.
_TIMES = N_("{ratio:.1f} times as much, likely {low:.1f} to {high:.1f}|sounding point {point:g}")
_TIMES_AS_FAR = N_("{ratio:.1f} times as far, likely {low:.1f} to {high:.1f}|sounding point {point:g}")

EVIDENCE: Mapping[str, Heard | Turning] = MappingProxyType(
    {
        "period_correlation": Turning(
            "value",
            0.7,
            below=Say(
                "One wave hardly looked like the next.",
                "One vibration hardly resembled the next",
                "Neighbouring periods differ in shape",
            ),
            above=Say(
                "Each wave looked like the one before.",
                "Each vibration resembled the one before",
                "Neighbouring periods agree in shape",
            ),
            figures=N_("{value:.2f}; 1 is the same"),
        ),
        "inter_harmonic_noise_db": Turning(
            "value",
            -10.0,
            below=Say(
                "There was little noise around the note.",
                "There was little noise between the overtones",
                "Little noise between the harmonics",
            ),
            above=Say(
                "There was a lot of noise around the note.",
                "There was much noise between the overtones",
                "Much noise between the harmonics",
            ),
            figures=N_("{value:.0f} dB against the tone"),
        ),
        "half_period_energy_db": Turning(
            "value",
            -14.0,
            below=Say(
                "Nothing sounded below the note.",
                "Hardly anything sounded below the note",
                "Hardly any energy at fractions of the note's frequency",
            ),
            above=Say(
                "Something growled below the note.",
                "Something growled below the note",
                "Energy at fractions of the note's frequency",
            ),
            figures=N_("{value:.0f} dB against the tone"),
        ),
        "shimmer_db": Turning(
            "value",
            1.2,
            below=Say(
                "Every wave was about as strong.",
                "One vibration was about as strong as the next",
                "Level steady from period to period",
            ),
            above=Say(
                "The waves kept changing in strength.",
                "The strength jumped from one vibration to the next",
                "Level jumps from period to period",
            ),
            figures="{value:.1f} dB",
        ),
        "harmonic_wander_db": Turning(
            "value",
            4.2,
            below=Say(
                "The colour of the sound held still.",
                "The overtones kept their strength",
                "Harmonics keep their levels",
            ),
            above=Say(
                "The colour of the sound would not hold still.",
                "The overtones wandered in strength",
                "Harmonics wander in level, each for itself",
            ),
            figures="{value:.1f} dB",
        ),
        "period_jitter_percent": Turning(
            "value",
            1.0,
            below=Say(
                "The waves came evenly.",
                "The vibrations followed each other evenly",
                "Periods of even length",
            ),
            above=Say(
                "The waves came unevenly.",
                "The vibrations followed each other unevenly",
                "Periods of uneven length",
            ),
            figures="{value:.1f} %",
        ),
        "votes": Turning(
            "count",
            3,
            below=Say(
                "Few signs of a rough sound were counted.",
                "Few signs of a rough tone were counted",
                "Few signs of roughness",
            ),
            above=Say(
                "Many signs of a rough sound were counted.",
                "Most signs of a rough tone were there",
                "Most signs of roughness",
            ),
            figures=N_("{count:.0f} of {of:.0f}"),
        ),
        "level_to_noise_db": Turning(
            "value",
            20.0,
            below=Say(
                "The room was nearly as loud as the note.",
                "The note hardly stood out from the noise of the room",
                "Tone close to the noise of the room",
            ),
            above=Say(
                "The note was much louder than the room.",
                "The note stood well above the noise of the room",
                "Tone well above the noise of the room",
            ),
            figures="{value:.0f} dB",
        ),
        "few_periods": Heard(
            Say(
                "The note was too short to be sure.",
                "The note held too few vibrations to judge",
                "Too few periods to judge",
            ),
            "{periods:.0f}",
        ),
        "two_pitches": Heard(
            Say(
                "Two notes sounded together.",
                "Two notes sounded together, so the tone was not judged",
                "Two pitches at once; tone not judged",
            ),
            N_("{low_hz:.0f} and {high_hz:.0f} Hz"),
        ),
        "biphase_turn": Heard(
            Say(
                "The bow turned round here.",
                "The wave turned upside down here: the bow changed direction",
                "Biphase of the harmonics turned: change of bow",
            ),
            N_("{score:+.2f}; -1 is a full turn"),
        ),
        "biphase_uncertain": Heard(
            Say(
                "Maybe the bow turned round here.",
                "The bow may have changed direction here",
                "Biphase of the harmonics between two readings: change of bow not sure",
            ),
            N_("{score:+.2f}; -1 is a full turn"),
        ),
        "pluck_decay": Heard(
            Say(
                "It rang out by itself, as a plucked note does.",
                "It started at once and died away, as a plucked note does",
                "Quick rise and free decay, as of a plucked note",
            ),
            "{decay_ms:.0f} ms",
        ),
        "no_pitch": Heard(
            Say("No clear note was heard.", "No clear note was heard", "No pitch found"),
        ),
        "string_rings": Heard(
            Say(
                "There was no clear note, but the string rang.",
                "There was no clear note, but a string rang in the noise",
                "No pitch, but the modes of a string in the sound",
            ),
            N_("contrast {contrast:.2f}; plain noise gives up to 0.31"),
        ),
        "only_falls": Heard(
            Say(
                "The sound only died away.",
                "The sound rose at once and then only died away",
                "Struck or plucked envelope: no bowed tone to judge",
            ),
        ),
        "gliding": Heard(
            Say(
                "The pitch slid all the time.",
                "The pitch slid all the time, so this was no held note",
                "Pitch gliding throughout: no held note",
            ),
        ),
        "below_tone_db": Heard(
            Say(
                "It was much softer than your notes.",
                "It was much softer than the notes of this recording",
                "Level far below the tone of this take",
            ),
            "{value:.0f} dB",
        ),
        "octave_low": Heard(
            Say(
                "It sounded much lower than the note.",
                "It sounded well below the note that was expected",
                "Period longer than the expected note's",
            ),
            N_("{cents:+.0f} cents|{wanted} expected"),
        ),
        "brighter_within_stroke": Heard(
            Say(
                "The sound turned bright and glassy in the bow.",
                "The sound turned brighter within the one stroke",
                "Centroid rose within the stroke",
            ),
            N_("{octaves:.1f} octaves"),
        ),
        "thinner_within_stroke": Heard(
            Say(
                "The sound turned thin in the bow.",
                "The sound lost its deepest part within the one stroke",
                "First harmonic fell within the stroke",
            ),
            N_("{db:.0f} dB|{octaves:.1f} octaves brighter"),
        ),
        "octave_within_stroke": Heard(
            Say(
                "The note jumped up high in the bow.",
                "The note jumped to its octave within the one stroke",
                "Octave of the note within the stroke, as of a string that slips twice",
            ),
            "{seconds:.1f} s",
        ),
        "below_lowest_string": Heard(
            Say(
                "It sounded lower than your lowest string.",
                "It sounded below the lowest string",
                "Period longer than that of the lowest string",
            ),
            N_("{cents:+.0f} cents"),
        ),
        "like_reference": Heard(
            Say(
                "It sounded like your own good sound.",
                "It sounded like your own accepted tone",
                "Spectrum agrees with the player's reference take: one slip a period",
            ),
        ),
        "unlike_reference": Heard(
            Say(
                "It sounded thinner than your own good sound.",
                "It had lost the deepest part of your own accepted tone",
                "Lowest harmonics lost against the player's reference take: several slips a period",
            ),
        ),
        "against_reference": Heard(
            Say(
                "We compared it with your own good sound.",
                "Compared with your own accepted tone, the colour differed",
                "Colour against the player's reference take",
            ),
            "{db:+.1f} dB|{bands}",
        ),
        "own_speed": Turning(
            "ratio",
            1.0,
            below=Say(
                "Your bow was slower than in your good sound.",
                "The bow was slower than for your own accepted tone",
                "Slower than the player's reference at a marked place",
            ),
            above=Say(
                "Your bow was faster than in your good sound.",
                "The bow was faster than for your own accepted tone",
                "Faster than the player's reference at a marked place",
            ),
            figures=_TIMES,
        ),
        "own_weight": Turning(
            "ratio",
            1.0,
            below=Say(
                "Your bow was lighter than in your good sound.",
                "The bow was lighter than for your own accepted tone",
                "Less weight than the player's reference at a marked place",
            ),
            above=Say(
                "Your bow was heavier than in your good sound.",
                "The bow was heavier than for your own accepted tone",
                "More weight than the player's reference at a marked place",
            ),
            figures=_TIMES,
        ),
        "own_distance": Turning(
            "ratio",
            1.0,
            below=Say(
                "Your bow was nearer to the bridge than in your good sound.",
                "The bow was nearer to the bridge than for your own accepted tone",
                "Nearer to the bridge than the player's reference at a marked place",
            ),
            above=Say(
                "Your bow was farther from the bridge than in your good sound.",
                "The bow was farther from the bridge than for your own accepted tone",
                "Farther from the bridge than the player's reference at a marked place",
            ),
            figures=_TIMES_AS_FAR,
        ),
        "own_speed_or_place": Turning(
            "ratio",
            1.0,
            below=Say(
                "Your bow was slower, or farther from the bridge, than in your good sound.",
                "The bow was slower, or farther from the bridge, than for your own accepted tone",
                "Speed over distance from the bridge below the player's reference at a marked place",
            ),
            above=Say(
                "Your bow was faster, or nearer to the bridge, than in your good sound.",
                "The bow was faster, or nearer to the bridge, than for your own accepted tone",
                "Speed over distance from the bridge above the player's reference at a marked place",
            ),
            figures=_TIMES,
        ),
        "many_reversals": Heard(
            Say(
                "The bow went to and fro very fast.",
                "The bow went to and fro too fast to judge each stroke",
                "Tremolo: many changes of bow, strokes not judged one by one",
            ),
            N_("{rate_hz:.0f} a second"),
        ),
        "short_note": Heard(
            Say(
                "The note was too short to be sure.",
                "The note was too short to judge its tone",
                "Note too short for a verdict on its tone",
            ),
            "{seconds:.2f} s",
        ),
        "note_edge": Heard(
            Say(
                "This was just the edge of a note.",
                "This lies at the edge of a note, where the tone is not judged",
                "Edge of a note; tone not judged there",
            ),
        ),
        "many_players": Heard(
            Say(
                "It sounded like many players together.",
                "More than one player seems to sound",
                "Several players seem to sound; tone not judged",
            ),
        ),
        "edge_of_range": Heard(
            Say(
                "This note is too high or low to be sure.",
                "The note lies at the edge of what can be judged",
                "Note at the edge of the range that can be judged",
            ),
        ),
    }
)

WARNINGS: Mapping[str, Heard | Turning] = MappingProxyType(
    {
        "clipped": Heard(
            Say(
                "The phone was too near or too loud.",
                "The recording is overloaded: move the phone farther away",
                "Overloaded recording: move the microphone away or turn it down",
            ),
            N_("{share:.1%} of the samples"),
        ),
        "truncated": Heard(
            Say(
                "Only part of the recording could be read.",
                "Only the beginning of the recording could be read",
                "The file ends early; what could be read was heard",
            ),
            "{heard_s:.1f} s",
        ),
        "noisy": Heard(
            Say(
                "The room was noisy. Try a quiet one.",
                "The room is noisy, so some tones could not be judged: try a quieter one",
                "Noisy recording; some verdicts withheld",
            ),
            N_("tone {snr_db:.0f} dB above the noise"),
        ),
        "quiet": Heard(
            Say(
                "The recording is very quiet. Move the phone nearer.",
                "The recording is very quiet: move the phone nearer",
                "Very low level: move the microphone nearer",
            ),
            N_("{level_db:.0f} dB of full scale"),
        ),
        "narrow_band": Heard(
            Say(
                "The recording sounds like a telephone.",
                "The recording holds no high sounds, as over a telephone; colour is heard less well",
                "Narrow band; statements on colour are weaker",
            ),
            N_("nothing above {limit_hz:.0f} Hz"),
        ),
        "no_tone": Heard(
            Say(
                "No note of a bowed string was heard.",
                "No tone of a bowed string was heard in this recording",
                "No tone of a bowed string found",
            ),
        ),
        "tuning_far": Heard(
            Say(
                "The strings are tuned far off. Tune first.",
                "The tuning lies far from the usual: tune first, or say which pitch you use",
                "Tuning far from the usual A4",
            ),
            N_("A4 at {a4_hz:.1f} Hz"),
        ),
        "not_one_string": Heard(
            Say(
                "This may not be one bowed string alone.",
                "This does not sound like one bowed string alone; read the findings with care",
                "Not like one bowed string alone: other instruments, voices or several players",
            ),
        ),
        "expected_missing": Heard(
            Say(
                "Some notes that we waited for did not come.",
                "Some expected notes were not heard",
                "Expected notes not heard",
            ),
            "{notes}",
        ),
        "expected_unmatched": Heard(
            Say(
                "Some notes came that we did not wait for.",
                "Some notes were heard that were not expected",
                "Notes heard beyond the expected ones",
            ),
            "{notes}|{count:.0f}",
        ),
        "tuning_uncertain": Heard(
            Say(
                "The tuning could not be told for sure.",
                "The tuning could not be told from this take; distances from the note are rough",
                "Tuning not resolved; cents are against the standard A4",
            ),
        ),
        "joined_at": Heard(
            Say(
                "The recording stops and goes on here.",
                "The recording breaks off and goes on here",
                "Two parts of the recording meet here",
            ),
            N_("at {seconds:.1f} s"),
        ),
    }
)


def evidence(item: Evidence, *, reader: Reader = "adult", strict: bool = False) -> str:
    """Return one sentence for a piece of evidence or a warning, its figures in brackets.

    A child reads no figures. Figures that the item lacks are left out. A kind without words is named as
    it is, or raises `KeyError` when ``strict``.
    """
    words = EVIDENCE.get(item.kind) or WARNINGS.get(item.kind)
    if words is None:
        if strict:
            raise KeyError(item.kind)
        return _("Noticed: {kind}.").format(kind=item.kind.replace("_", " "))
    if isinstance(words, Turning):
        value = item.values.get(words.key)
        limit = item.values.get("limit", words.at)
        is_above = isinstance(value, int | float) and isinstance(limit, int | float) and value >= limit
        say = words.above if is_above else words.below
    else:
        say = words.say
    sentence = say.to(reader)
    if reader == "child":
        return sentence
    told = _fill(_(words.figures), item.values)
    return f"{sentence} ({told})." if told else f"{sentence}."


def state_word(state: ToneState, *, reader: Reader = "adult") -> str:
    """Return the word that stands beside a state's sign; the same for every reader."""
    return _(STATES[state][0])


def state_sentence(state: ToneState, *, reader: Reader = "adult") -> str:
    """Return one sentence about what the string did in a state."""
    return STATES[state][1].to(reader)


def start_sentence(onset: Onset, *, reader: Reader = "adult") -> str:
    """Return one sentence about how a stroke began."""
    return STARTS[onset.kind].to(reader)


#: From here on a swing of level or pitch is remarked upon. A remark, not a fault: it may be meant.
#: Good recorded notes of violin and cello swing by up to 11 dB and, high up, 39 cents.
LEVEL_SWING_DB = 12.0
PITCH_SWING_CENTS = 45.0


_SWELLING = Say(
    "The sound swelled and faded. Did you mean it?",
    "The level rose and fell by {decibels} dB within the stroke. Unless that was meant, keep speed and place "
    "even.",
    "Level swing {decibels} dB: speed uneven or the bow wandering, unless meant. A mirror tells which.",
)
_DRIFTING = Say(
    "The note slid a little up or down.",
    "The pitch drifted by {cents} cents, apart from any vibrato.",
    "Pitch drift {cents} cents apart from vibrato: the finger, or on an open string much weight, which "
    "flattens.",
)


def remarks(stroke: Stroke) -> tuple[Say, ...]:
    """Return what is worth saying of a stroke without being wrong in itself: swings of level and pitch.

    A swell may be meant and a drift of pitch is mostly the left hand's, so neither becomes advice.
    Vibrato is no drift.
    """
    level_db = stroke.steadiness.level_swing_db or 0.0
    pitch_cents = stroke.steadiness.pitch_swing_cents or 0.0
    found = []
    if level_db >= LEVEL_SWING_DB:
        found.append(said(lambda reader: _SWELLING.to(reader).format(decibels=f"{level_db:.0f}")))
    if pitch_cents >= PITCH_SWING_CENTS:
        found.append(said(lambda reader: _DRIFTING.to(reader).format(cents=f"{pitch_cents:.0f}")))
    return tuple(found)


_NOTE = re.compile(r"\b[A-G][#b♯♭]?\d")


class _Figure(float):
    """A number that is written with the decimal mark of the language."""

    def __format__(self, spec: str) -> str:
        return figures(super().__format__(spec))


def _fill(parts: str, values: Mapping[str, float | str]) -> str:
    """Return the figures whose values are there, parted by commas."""
    shown = {
        name: _notes(value) if isinstance(value, str) else _Figure(value) for name, value in values.items()
    }
    filled = []
    for part in filter(None, parts.split("|")):
        try:
            filled.append(part.format(**shown))
        except (KeyError, ValueError):
            continue
    return ", ".join(filled)


def _notes(text: str) -> str:
    """Return names of notes, such as "F#4 A4", as the players of the language write them."""
    return _NOTE.sub(lambda found: note_name(found.group()), text).replace("#", "♯")
