"""The words: complete, short where a child reads, without words that do not belong."""

from __future__ import annotations

import ast
import importlib
import re
from pathlib import Path

import pytest

from colophony.app.look.signs import SIGNS
from colophony.listening.take import Evidence, Onset, Span, Steadiness, ToneState
from colophony.teaching import cautions, wording
from colophony.teaching.advice import judge
from colophony.teaching.faults import FAULTS
from colophony.teaching.findings import Reader, Say
from colophony.teaching.wording.bowed import CHOKED, told_state
from colophony.teaching.wording.cures import CURES, cause_test
from colophony.teaching.wording.heard import EVIDENCE, STARTS, STATES, WARNINGS, Turning
from colophony.teaching.wording.summary import Counts, check_at_home, headline
from factories import make_stroke, make_take

READERS: tuple[Reader, ...] = ("child", "adult", "teacher")

#: What listening hands over, with plausible figures.
KINDS: dict[str, dict[str, float | str]] = {
    "period_correlation": {"value": 0.31},
    "inter_harmonic_noise_db": {"value": -6.0},
    "half_period_energy_db": {"value": -7.0},
    "shimmer_db": {"value": 2.4},
    "harmonic_wander_db": {"value": 5.0},
    "period_jitter_percent": {"value": 2.2},
    "votes": {"count": 4, "of": 5},
    "level_to_noise_db": {"value": 12.0},
    "few_periods": {"periods": 9},
    "two_pitches": {"low_hz": 293.7, "high_hz": 440.0},
    "biphase_turn": {"score": -0.9},
    "biphase_uncertain": {"score": 0.1},
    "pluck_decay": {"decay_ms": 140.0},
    "no_pitch": {},
    "string_rings": {"contrast": 0.45},
    "gliding": {},
    "only_falls": {},
    "below_tone_db": {"value": 22.0},
    "octave_low": {"cents": -1150.0, "wanted": "A4"},
    "brighter_within_stroke": {"octaves": 0.8},
    "thinner_within_stroke": {"db": 7.0, "octaves": 0.8},
    "octave_within_stroke": {"seconds": 0.3},
    "below_lowest_string": {"cents": -420},
    "like_reference": {},
    "unlike_reference": {},
    "against_reference": {"db": 7.5, "bands": "above 3 kHz"},
    "own_speed": {"ratio": 0.5, "low": 0.4, "high": 0.6, "point": 3.0},
    "own_weight": {"ratio": 2.0, "low": 1.5, "high": 2.6, "point": 3.0},
    "own_distance": {"ratio": 0.6, "low": 0.5, "high": 0.7, "point": 3.0},
    "own_speed_or_place": {"ratio": 1.8, "low": 1.5, "high": 2.2, "point": 3.0},
    "many_reversals": {"rate_hz": 9.0},
    "short_note": {"seconds": 0.2},
    "note_edge": {},
    "many_players": {},
    "edge_of_range": {},
    "clipped": {"share": 0.013},
    "truncated": {"heard_s": 12.0},
    "noisy": {"snr_db": 9.0},
    "quiet": {"level_db": -52.0},
    "narrow_band": {"limit_hz": 4000.0},
    "no_tone": {},
    "tuning_far": {"a4_hz": 466.2},
    "not_one_string": {},
    "expected_missing": {"notes": "D4, E4"},
    "expected_unmatched": {"notes": "F4"},
    "tuning_uncertain": {},
    "joined_at": {"seconds": 4.0},
}

#: Words of machines, of alarm, of sport and of praise that a lesson does without.
FORBIDDEN = re.compile(
    r"\b(error|fail|failed|wrong|bad|invalid|null|score[ds]?|algorithm|detect\w*|"
    r"analy[sz]\w*|parameter|threshold|classif\w*|AI|app|tool|awesome|great job|perfect|amazing)\b",
    re.IGNORECASE,
)


def sentences(text: str) -> list[str]:
    return [part for part in re.split(r"(?<=[.!?])\s+", text) if part]


def every_say() -> list[Say]:
    says = [say for _, say in STATES.values()] + list(STARTS.values()) + list(CURES.values())
    for words in (*EVIDENCE.values(), *WARNINGS.values()):
        says += [words.below, words.above] if isinstance(words, Turning) else [words.say]
    says += [check_at_home(name) for name in (None, *FAULTS)] + [check_at_home(None, judged=False)]
    says += list(cautions.CAUTIONS.values())
    for fault in FAULTS.values():
        says += [cause_test(fault.name, a, b) for a in fault.cures for b in fault.cures if a != b]
    swinging = make_stroke(steadiness=Steadiness(14.0, 45.0, None, None))
    says += wording.remarks(swinging)
    for judged in (0, 1, 2, 12):
        for good in range(judged + 1):
            faults = tuple((name, judged - good) for name in FAULTS) if good < judged else ()
            for start in range(max(1, len(faults))):
                says.append(headline(Counts(judged, good, 2, 1, faults[start:])))
    says += [
        headline(Counts(0, 0, 0, 3, ())),
        headline(Counts(0, 0, 0, 0, ())),
        headline(Counts(3, 3, 0, 0, ())),
    ]
    return says


def test_every_kind_that_listening_hands_over_has_words() -> None:
    assert set(EVIDENCE) | set(WARNINGS) == set(KINDS)
    assert not set(EVIDENCE) & set(WARNINGS)
    assert set(STATES) == set(ToneState)
    assert set(STARTS) == {"clean", "creaking", "slipping", "unknown"}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("reader", READERS)
def test_every_kind_becomes_one_sentence_with_its_figures(kind: str, reader: Reader) -> None:
    said = wording.evidence(Evidence(kind, KINDS[kind]), reader=reader, strict=True)
    assert said[-1] in ".?!"
    assert "{" not in said
    if reader == "child":
        assert not re.search(r"\d", said)
    else:
        assert bool(re.search(r"\(.+\)\.$", said)) == bool(KINDS[kind])


@pytest.mark.parametrize("kind", KINDS)
def test_missing_figures_are_left_out(kind: str) -> None:
    said = wording.evidence(Evidence(kind), strict=True)
    assert said.endswith(".")
    assert "{" not in said
    assert "(" not in said


def emitted_by_listening() -> dict[str, set[str]]:
    """Read from its source every kind that listening makes, with the names of its values."""
    folder = Path(importlib.import_module("colophony.listening").__file__ or "").parent
    found: dict[str, set[str]] = {}
    for source in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Evidence" and node.args:
                kinds = [node.args[0]]
                if isinstance(node.args[0], ast.IfExp):
                    kinds = [node.args[0].body, node.args[0].orelse]
                values = node.args[1] if len(node.args) > 1 else ast.Dict([], [])
                names = {key.value for key in values.keys} if isinstance(values, ast.Dict) else set()
                for kind in kinds:
                    if isinstance(kind, ast.Constant):  # a few come from the table of votes
                        found.setdefault(kind.value, set()).update(names)
    return found


def test_listening_makes_no_evidence_without_words() -> None:
    """And its figures have the names that the words ask for."""
    emitted = emitted_by_listening()
    assert len(emitted) > 15
    assert set(emitted) <= set(EVIDENCE) | set(WARNINGS)
    for kind, names in emitted.items():
        words = EVIDENCE.get(kind) or WARNINGS[kind]
        said = [set(re.findall(r"{(\w+)", part)) for part in words.figures.split("|")]
        assert any(needed <= names for needed in said), kind


def test_an_unknown_kind_is_named_in_use_and_refused_when_strict() -> None:
    assert wording.evidence(Evidence("new_sign", {"value": 1.0})) == "Noticed: new sign."
    with pytest.raises(KeyError):
        wording.evidence(Evidence("new_sign"), strict=True)


def test_the_limit_that_listening_used_parts_the_thoughts() -> None:
    steady = wording.evidence(Evidence("shimmer_db", {"value": 1.1, "limit": 1.2}))
    rough = wording.evidence(Evidence("shimmer_db", {"value": 1.1, "limit": 0.9}))
    assert steady.startswith("One vibration was about as strong")
    assert rough.startswith("The strength jumped")


def test_a_figure_on_the_other_side_of_its_limit_says_the_opposite() -> None:
    alike = wording.evidence(Evidence("period_correlation", {"value": 0.98}))
    unlike = wording.evidence(Evidence("period_correlation", {"value": 0.13}))
    assert alike == "Each vibration resembled the one before (0.98; 1 is the same)."
    assert unlike == "One vibration hardly resembled the next (0.13; 1 is the same)."


def test_the_word_beside_a_sign_is_the_word_in_the_findings() -> None:
    assert {state: wording.state_word(state) for state in ToneState} == {
        state: sign.word for state, sign in SIGNS.items()
    }


def test_a_child_reads_short_sentences() -> None:
    """At most 14 words a sentence and mostly words of one or two syllables, as early readers are printed:
    common practice, no source.
    """
    for say in every_say():
        for sentence in sentences(say.child):
            words = re.findall(r"[\w'-]+", sentence)
            assert len(words) <= 14, sentence
            assert sum(len(word) > 9 for word in words) <= 1, sentence
            assert "(" not in sentence


def test_adults_read_sentences_of_one_breath() -> None:
    for say in every_say():
        for sentence in sentences(say.adult):
            assert len(re.findall(r"[\w'-]+", sentence)) <= 34, sentence


def test_no_reader_meets_words_that_do_not_belong() -> None:
    for say in every_say():
        for text in (say.child, say.adult, say.teacher):
            assert text
            assert not FORBIDDEN.search(text), text
            assert "  " not in text
            assert " ," not in text


@pytest.mark.parametrize(("good", "judged"), [(0, 3), (1, 3), (2, 3)])
def test_the_headline_counts_what_was_heard(good: int, judged: int) -> None:
    state = ToneState.RAUCOUS
    bad = [make_stroke(state=state, spans=(Span(0.5, 2.5, state, 0.9),))] * (judged - good)
    say = judge(make_take(*([make_stroke()] * good), *bad)).summary.headline
    words = ("none", "one", "two", "three")
    steady, pressed = words[good].capitalize(), words[judged - good]
    if good == 0:
        assert say.adult == "All three bow strokes sounded pressed."
        return
    assert say.adult == f"{steady} of three bow strokes sounded steady throughout; {pressed} sounded pressed."


def test_the_headline_names_two_faults_and_counts_the_rest() -> None:
    counts = Counts(9, 2, 1, 0, (("pressed", 3), ("surface", 1), ("creaking-start", 2), ("no-tone", 1)))
    assert headline(counts).adult == (
        "Two of nine bow strokes sounded steady throughout; three sounded pressed, one stayed on the "
        "surface, and three had another fault; one could not be judged."
    )


def test_a_good_take_is_praised_by_what_was_heard() -> None:
    assert judge(make_take(make_stroke(), make_stroke())).summary.headline == Say(
        "Both bow strokes sounded steady.",
        "Both bow strokes sounded steady throughout.",
        "Both bow strokes steady throughout, no fault heard.",
    )


def test_clear_is_said_only_where_one_slip_a_period_is_known() -> None:
    """A steady double slip is as periodic as one slip a period: "clear" would promise too much."""
    known = make_stroke(state=ToneState.HELMHOLTZ)
    assert judge(make_take(known)).summary.headline.adult == "The bow stroke sounded clear throughout."
    mixed = judge(make_take(known, make_stroke())).summary.headline
    assert mixed.adult == "Both bow strokes sounded steady throughout."


def test_swings_are_remarked_and_vibrato_is_not() -> None:
    vibrato = make_stroke(steadiness=Steadiness(3.0, 6.0, 6.0, 30.0))
    assert wording.remarks(vibrato) == ()
    assert len(wording.remarks(make_stroke(steadiness=Steadiness(14.0, 45.0, None, None)))) == 2


def test_starts_are_said_by_kind() -> None:
    onset = Onset("slow", 120.0, 40.0, "creaking", False)
    assert wording.start_sentence(onset, reader="child") == "It began with a creak."


@pytest.mark.parametrize(
    ("newton", "thing"),
    [(0.049, "a sheet of paper"), (0.55, "an egg"), (1.5, "an apple"), (9.8, "a bag of flour")],
)
def test_a_weight_is_compared_with_a_thing_of_that_weight(newton: float, thing: str) -> None:
    """A sheet of A4 is 1/16 m^2 (ISO 216) and 5 g at 80 g/m^2; a hen's egg about 55 g, common knowledge."""
    assert wording.hand_weight(newton) == thing


@pytest.mark.parametrize(("level_dba", "hours"), [(85, 8.0), (88, 4.0), (91, 2.0), (94, 1.0), (100, 0.25)])
def test_allowed_hours_follow_the_published_table(level_dba: float, hours: float) -> None:
    """NIOSH publication 98-126 (1998), table 1-1."""
    assert cautions.allowed_hours(level_dba) == pytest.approx(hours)


@pytest.mark.parametrize("reader", READERS)
def test_the_cautions_send_on_to_doctor_teacher_and_law(reader: Reader) -> None:
    text = " ".join(cautions.all_cautions(reader=reader))
    wanted = {
        "child": ("grown-up", "parent"),
        "adult": ("doctor", "teacher", "law"),
        "teacher": ("doctor", "law"),
    }
    for word in wanted[reader]:
        assert word in text
    assert len(cautions.all_cautions(reader=reader)) == len(cautions.CAUTIONS)


@pytest.mark.parametrize(
    "state", ["multiple-slip", "noise", "helmholtz", "raucous", "low-anomalous", "s-motion"]
)
def test_a_light_bows_state_above_the_greatest_weight_is_told_as_choked(state: str) -> None:
    """Schelleng (1973): a light bow slips more than once or not at all; too much weight is never light."""
    assert told_state(state, weight_n=1.0, greatest_n=1.5) == state
    heavy = told_state(state, weight_n=2.0, greatest_n=1.5)
    assert heavy == (CHOKED if state in ("multiple-slip", "noise") else state)
