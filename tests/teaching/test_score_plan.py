"""The bow plan keeps the trade's rules, the published durations and its own arithmetic."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from score_parts import BOW_MM, N, make_part, plan, remarks, ways

from colophony.physics.strings import BowedString, strings_of
from colophony.teaching.room import Room
from colophony.teaching.score import words
from colophony.teaching.score.dynamics import level_db
from colophony.teaching.score.piece import DYNAMICS, DynamicMark, Hairpin, Part, Remark, Turning
from colophony.teaching.score.placing import hold, wanted_point
from colophony.teaching.score.strokes import Plan, telling

#: Seconds of a whole bow at a dynamic, with the longest in brackets or the span "in practice": pp 12 (to 15),
#: p 6 (to 12), mf 3 (to 6), f 1 (2.5 to 4.5), ff 0.5 (1.5 to 3); cello six tenths. Sevsay p. 10, Widor
#: p. 163, Forsyth p. 343, Askenfelt (1986) p. 1011, Flesch p. 64, Schoonderwaldt (2009) p. 2715, as a survey
#: quotes them.
SURVEY = {"pp": (12.0, 15.0), "p": (6.0, 12.0), "mf": (3.0, 6.0), "f": (2.5, 4.5), "ff": (1.5, 3.0)}
CELLO_SHARE = 0.6


def line(names: str, quarters: float = 1.0) -> list[N]:
    return [N("" if name == "-" else name, quarters) for name in names.split()]


# --- directions: common practice, no source


def test_even_notes_alternate_from_a_down_bow() -> None:
    """Common practice: down on one, then to and fro."""
    made = plan(make_part(line("G4 A4 B4 A4 G4 A4 B4 A4")))
    assert ways(made) == "DUDUDUDU"
    assert [stroke.rule for stroke in made.strokes[:4]] == ["strong-beat", "alternates"] * 2


def test_a_piece_that_begins_on_the_strong_beat_begins_down() -> None:
    """Common practice: also where all that follows would fall better the other way round; not where the next
    strong beat has the sign for down."""
    bars = [*line("G4 A4 B4"), N("C5", 2)]
    slur = [N("D5", slur=1), N("E5", slur=1)]
    piece = [*bars, N("D5"), *bars, *slur, N("D5", 2), N("C5", 3)]
    assert ways(plan(make_part(piece, bar=3.0, tempo=90)))[:3] == "DUD"
    led = [N("D4"), *line("G4 G4 G4"), N("B4", 2), N("D5"), *line("C5 C5 C5"), N("G4", 2)]
    assert ways(plan(make_part(led, bar=3.0, pickup=1.0, tempo=110)))[:2] == "UD"
    signed = [N("G4", 3), N("C5", 3, bow="down")]
    assert ways(plan(make_part(signed, bar=3.0, tempo=90))) == "UD"


@pytest.mark.parametrize(("count", "expected"), [(1, "UD"), (2, "DUD"), (3, "UDUD")])
def test_a_pickup_is_bowed_so_that_the_strong_beat_goes_down(count: int, expected: str) -> None:
    """Common practice: one note before the bar goes up; an odd number begins up, an even one down."""
    made = plan(make_part([*[N("A4", 0.5)] * count, N("D4", 2), N("E4", 2)], pickup=count * 0.5))
    assert ways(made)[: len(expected)] == expected
    assert made.strokes[0].rule == ("pickup" if count % 2 else "ahead")


def test_a_slur_and_a_tie_are_one_stroke() -> None:
    """Common practice; a tied note sounds once and is told once."""
    made = plan(make_part([N("G4", slur=1), N("A4", slur=1), N("B4", 2), N("B4", 2, tied=True), N("A4", 2)]))
    assert [stroke.notes for stroke in made.strokes] == [("G4", "A4"), ("B4",), ("A4",)]
    assert [stroke.seconds for stroke in made.strokes] == pytest.approx([2.0, 4.0, 2.0])


def test_grace_notes_go_with_the_note_they_lead_to() -> None:
    """Common practice."""
    made = plan(make_part([N("G4", 2), N("B4", grace=True), N("A4", 2)]))
    assert [stroke.event_indices for stroke in made.strokes] == [(0,), (1, 2)]


def test_written_signs_are_kept_and_split_a_slur() -> None:
    """The composer's bowing goes before every rule."""
    notes = [N("G4", bow="up"), N("A4", bow="up"), N("B4", slur=1), N("A4", slur=1, bow="down"), N("G4")]
    made = plan(make_part(notes))
    assert ways(made)[:2] == "UU"
    assert [stroke.direction for stroke in made.strokes if stroke.is_given] == ["up", "up", "down"]
    assert all(stroke.rule == "written" for stroke in made.strokes if stroke.is_given)


def test_after_a_rest_the_bow_is_set_anew_for_the_strong_beat() -> None:
    """Common practice: three notes and a rest of a bar leave the bow free to begin the next bar down."""
    made = plan(make_part(line("G4 A4 B4 - G4 A4 B4 -")))
    assert ways(made) == "DUDDUD"
    assert made.strokes[3].direction == "down"


def test_two_down_bows_written_in_a_row_set_the_bow_anew() -> None:
    """Common practice: the sign repeated is the sign of a retake."""
    made = plan(make_part([N("G4", 2, bow="down"), N("G4", 2, bow="down"), N("D4", 4)], tempo=40))
    assert ways(made)[:2] == "DD"
    assert made.strokes[1].is_retake


def test_long_and_short_are_linked_where_it_is_written() -> None:
    """Common practice (hooked bowing): a long note and a short one the same way, where it is written so."""
    notes = [
        N("G4", 0.75, bow="down"),
        N("A4", 0.25, bow="down"),
        N("B4", 0.75, bow="up"),
        N("A4", 0.25, bow="up"),
    ]
    made = plan(make_part(notes))
    assert [stroke.is_linked for stroke in made.strokes] == [False, True, False, True]
    assert "no-time" not in remarks(made)


def test_a_chord_of_three_strings_goes_down_from_the_frog() -> None:
    """Common practice: also on a light beat, where a single note in its place would go up."""
    free, chord = (
        plan(make_part([N("A4"), N(""), N(names), N("A4", 3)], bar=3.0)).strokes[1]
        for names in ("D4", "G3 D4 B4")
    )
    assert (free.direction, chord.direction, chord.rule) == ("up", "down", "chord")
    assert chord.start_at_mm < 0.1 * BOW_MM["violin"]


def test_plucked_notes_need_no_bow() -> None:
    """They take no hair, and the bow may begin anew behind them."""
    made = plan(
        make_part([N("G4"), N("A4", plucked=True), N("B4", plucked=True), N("D4", bow="down"), N("E4")])
    )
    assert [stroke.rule for stroke in made.strokes[1:3]] == ["plucked"] * 2
    assert all(stroke.hair_used_mm == 0.0 for stroke in made.strokes[1:3])
    assert "no-time" not in remarks(made)


def test_a_crescendo_goes_up_where_nothing_else_decides() -> None:
    """Common practice: the up-bow grows, the down-bow fades."""
    rest = N("", 2)
    long = [rest, N("A4", 2), rest, N("A4", 2)]
    grows = make_part(long, hairpins=[Hairpin(2.0, 4.0, "crescendo"), Hairpin(6.0, 8.0, "crescendo")])
    fades = make_part(long, hairpins=[Hairpin(2.0, 4.0, "diminuendo"), Hairpin(6.0, 8.0, "diminuendo")])
    off_beat = [
        replace(part, events=tuple(replace(e, beat_strength=0.1) for e in part.events))
        for part in (grows, fades)
    ]
    assert [ways(plan(part)) for part in off_beat] == ["UU", "DD"]


def test_a_repeat_is_bowed_as_the_first_time() -> None:
    """Three strokes and no rest: linked at the seam, so that the repeat begins down too (common practice)."""
    made = plan(make_part([N("G4", 4 / 3), N("A4", 4 / 3), N("B4", 4 / 3)], times=2))
    assert ways(made) == "DUDDUD"
    assert made.strokes[3].is_linked
    assert remarks(made) == []


def test_a_repeat_that_turns_the_bowing_is_told() -> None:
    """One stroke over and over has no room for a link: every other time goes the other way round."""
    made = plan(make_part([N("G4", 4)], times=2))
    assert ways(made) == "DU"
    assert remarks(made) == ["turned-repeat"]


# --- hair, speed and the published durations


@pytest.mark.parametrize(("instrument", "share"), [("violin", 1.0), ("cello", CELLO_SHARE)])
@pytest.mark.parametrize("mark", sorted(SURVEY))
def test_published_bow_durations_bracket_the_plan(mark: str, instrument: str, share: float) -> None:
    """A note as long as the usual or longest bow of its dynamic fits one bow; a longer one runs out."""
    usual, longest = (share * seconds for seconds in SURVEY[mark])
    for seconds in (usual, (usual * longest) ** 0.5, longest):
        made = plan(one_note(seconds, mark), instrument=instrument)
        assert "hair-out" not in remarks(made), seconds
        assert made.strokes[0].hair_used_mm <= made.bow_mm
    assert "hair-out" in remarks(plan(one_note(1.1 * longest, mark), instrument=instrument))


def one_note(seconds: float, mark: str) -> Part:
    dynamic = next(one for one in DYNAMICS if one == mark)
    return make_part([N("A4", seconds)], dynamics=[DynamicMark(0.0, dynamic)])


@pytest.mark.parametrize("mark", sorted(SURVEY))
def test_a_free_stroke_moves_as_fast_as_the_survey_says(mark: str) -> None:
    """Even notes of half a second: a whole bow at their speed would last the usual seconds, within 2 %."""
    dynamic = next(one for one in DYNAMICS if one == mark)
    made = plan(make_part([N("A4", 0.5)] * 8, dynamics=[DynamicMark(0.0, dynamic)]))
    for stroke in made.strokes:
        assert made.bow_mm / (10.0 * stroke.speed_cm_s) == pytest.approx(SURVEY[mark][0], rel=0.02)


def test_a_shorter_bow_runs_out_sooner() -> None:
    """Six seconds mezzo-forte fill a full-size bow; an eighth-size bow has no such stroke."""
    part = one_note(5.5, "mf")
    assert "hair-out" not in remarks(plan(part))
    assert "hair-out" in remarks(plan(part, size="1/8", bow_mm=410.0))


def test_long_and_short_notes_in_turn_stay_on_the_bow() -> None:
    """Half note and quarter, over and over: the short one takes more than its share, so nothing drifts."""
    made = plan(make_part([N("G4", 2), N("A4", 1)] * 24, bar=3.0))
    assert ways(made) == "DU" * 24
    assert "hair-out" not in remarks(made)
    long, short = made.strokes[20], made.strokes[21]
    assert short.speed_cm_s > 1.3 * long.speed_cm_s
    assert abs(made.strokes[40].start_at_mm - made.strokes[20].start_at_mm) < 0.1 * made.bow_mm


def test_staccato_moves_for_half_of_its_time() -> None:
    """The bow stands for the rest (chosen, not measured): hair is speed times the seconds it moves."""
    made = plan(make_part([N("A4", 1, marks=("staccato",)), N("A4", 1)]))
    assert made.strokes[0].seconds == pytest.approx(0.5 * made.strokes[1].seconds)


# --- place and weight


def test_the_trades_direction_of_point_weight_speed_and_tilt() -> None:
    """At the fingerboard light, fast, tilted, at the bridge slow, heavy, flat (common practice)."""
    slow = plan(one_note(6.0, "mf")).strokes[0]
    fast = plan(make_part([N("A4", 0.5), N("A4", 0.25)] * 8), bow_mm=650.0).strokes
    quick = max(fast, key=lambda stroke: stroke.speed_cm_s)
    assert slow.speed_cm_s < quick.speed_cm_s
    assert slow.sounding_point < quick.sounding_point
    assert slow.weight_n > quick.weight_n
    assert slow.tilt_deg < quick.tilt_deg


def test_louder_is_faster_nearer_and_heavier() -> None:
    """From pp to ff speed and weight grow and the point comes nearer (common practice, no source)."""
    strokes = [
        plan(make_part([N("A4", 0.5)] * 2, dynamics=[DynamicMark(0.0, mark)])).strokes[0] for mark in DYNAMICS
    ]
    for softer, louder in itertools.pairwise(strokes):
        assert softer.speed_cm_s < louder.speed_cm_s
        assert softer.sounding_point > louder.sounding_point
        assert softer.weight_n < louder.weight_n


def test_a_dynamic_keeps_its_level_whatever_the_speed() -> None:
    """The string moves as v_b / beta (Helmholtz motion): a slow bow makes up for it near the bridge."""
    levels = {}
    for mark in ("p", "mf", "f"):
        dynamic = DynamicMark(0.0, next(one for one in DYNAMICS if one == mark))
        made = plan(make_part([N("A4", 2), N("A4", 1), N("A4", 0.5), N("A4", 0.5)] * 4, dynamics=[dynamic]))
        told = [level_db(10.0 * stroke.speed_cm_s, stroke.sounding_point) for stroke in made.strokes]
        assert max(told) - min(told) < 1.0
        levels[mark] = sum(told) / len(told)
    assert levels["p"] + 4.0 < levels["mf"] < levels["f"] - 2.0


def test_weight_is_the_middle_of_what_the_string_bears() -> None:
    """Of the range that the room gives, in ratio, below what an arm lays down with ease."""

    def ask(string: BowedString, frequency_hz: float, distance_m: float, speed_m_s: float) -> Room:
        return Room(distance_m, speed_m_s, (0.2, 0.8))

    stroke = plan(one_note(2.0, "mf"), ask=ask).strokes[0]
    assert stroke.weight_span_n == (0.2, 0.8)
    assert stroke.weight_n == pytest.approx(0.4)
    assert stroke.range_db == pytest.approx(12.04, abs=0.01)


def test_where_there_is_no_room_the_bow_goes_elsewhere_or_says_so() -> None:
    """A string that speaks only far from the bridge moves the point; one that never speaks is told."""

    def far(string: BowedString, frequency_hz: float, distance_m: float, speed_m_s: float) -> Room:
        return Room(distance_m, speed_m_s, (0.1, 0.9) if distance_m > 0.040 else None)

    def never(string: BowedString, frequency_hz: float, distance_m: float, speed_m_s: float) -> Room:
        return Room(distance_m, speed_m_s, None)

    moved = plan(one_note(2.0, "f"), ask=far)
    assert moved.strokes[0].distance_mm > 40.0
    assert remarks(moved) == ["too-soft"]
    assert remarks(plan(one_note(2.0, "f"), ask=never)) == ["no-room"]


def test_the_point_moves_with_the_left_hand() -> None:
    """Points are shares of the sounding length: an octave up the same point lies at half the distance."""
    low, high = plan(make_part(line("E5 E6", 2))).strokes
    assert high.sounding_point == pytest.approx(low.sounding_point)
    assert high.distance_mm == pytest.approx(low.distance_mm / 2.0, rel=0.01)


@pytest.mark.parametrize(
    ("names", "string"),
    [
        ("G3", "G"),
        ("D4", "D"),
        ("C#4", "G"),
        ("E6", "E"),
        ("G3 D4", "G+D"),
        ("B4 D5", "D+A"),
        ("D5 B5", "A+E"),
    ],
)
def test_notes_lie_where_the_hand_is_lowest(names: str, string: str) -> None:
    """First position where it reaches; double stops on neighbouring strings (common practice)."""
    assert plan(make_part([N(names, 2)])).strokes[0].string == string


def test_notes_that_lie_nowhere_are_named_with_their_measure() -> None:
    """Below the lowest string; two notes on one string's length apart."""
    made = plan(make_part([N("F3", 4), N("G3 A3", 4)]))
    assert [(one.name, one.measure) for stroke in made.strokes for one in stroke.remarks] == [
        ("reach", "1"),
        ("double-stop", "2"),
    ]


def test_a_string_that_the_score_asks_for_is_taken() -> None:
    """String 2 of a violin is the A string; E5 on it is a fifth up."""
    event = make_part([N("E5")]).events[0]
    asked = replace(event, pitches=(replace(event.pitches[0], string_number=2),))
    strings = strings_of("violin", "4/4")
    assert hold(event, strings, a4_hz=440.0).name == "E"
    assert hold(asked, strings, a4_hz=440.0).name == "A"


# --- hairpins


def test_a_crescendo_saves_the_bow_and_then_spends_it() -> None:
    """Speed grows along the stroke: half of its time takes less than half of its hair; level grows too."""
    notes = [N("A4", 2, slur=1), N("B4", 2, slur=1)]
    marks = [DynamicMark(0.0, "p"), DynamicMark(4.0, "f")]
    made = plan(make_part([*notes, N("A4", 4)], dynamics=marks, hairpins=[Hairpin(0.0, 4.0, "crescendo")]))
    stroke = made.strokes[0]
    speeds = [moment.speed_cm_s for moment in stroke.path]
    assert speeds == sorted(speeds)
    assert speeds[-1] > 1.5 * speeds[0]
    half = next(moment for moment in stroke.path if moment.share == 0.5)
    assert abs(half.at_mm - stroke.start_at_mm) < 0.45 * stroke.hair_used_mm
    levels = [level_db(10.0 * one.speed_cm_s, one.sounding_point) for one in stroke.path]
    assert levels == sorted(levels)
    assert stroke.means[0] in ("speed", "weight")
    assert stroke.path[-1].at_mm == stroke.end_at_mm


def test_a_note_that_swells_and_comes_back_is_told_with_its_turn() -> None:
    """The long bow that grows to its middle and fades again (messa di voce, common practice): faster, nearer
    and heavier in the middle than at either end, and said so."""
    marks = [DynamicMark(0.0, "p"), DynamicMark(2.0, "f"), DynamicMark(4.0, "p")]
    pins = [Hairpin(0.0, 2.0, "crescendo"), Hairpin(2.0, 4.0, "diminuendo")]
    notes = [N("A4", 2), N("A4", 2, tied=True), N("A4", 4)]
    swell, steady = plan(make_part(notes, dynamics=marks, hairpins=pins)).strokes
    first, turn, last = telling(swell.path)
    assert turn.share == 0.5
    assert turn.speed_cm_s > 1.3 * max(first.speed_cm_s, last.speed_cm_s)
    assert turn.sounding_point < min(first.sounding_point, last.sounding_point)
    assert turn.weight_n > max(first.weight_n, last.weight_n)
    assert set(swell.means) == {"speed", "weight", "point"}
    assert (len(telling(steady.path)), steady.means) == (2, ())


def test_a_dynamic_counts_from_its_note_on() -> None:
    """A stroke that ends where forte begins stays soft to its end."""
    marks = [DynamicMark(0.0, "p"), DynamicMark(2.0, "f")]
    soft, loud = plan(make_part([N("A4", 2), N("A4", 2)], dynamics=marks)).strokes
    assert (soft.dynamic, loud.dynamic) == ("p", "f")
    assert len(soft.path) == 2
    assert soft.means == ()


def test_a_hairpin_over_several_strokes_steps_up_from_one_to_the_next() -> None:
    """Each stroke begins where the last one left the dynamic."""
    marks = [DynamicMark(0.0, "p"), DynamicMark(8.0, "ff")]
    part = make_part([N("A4")] * 12, dynamics=marks, hairpins=[Hairpin(0.0, 8.0, "crescendo")])
    made = plan(part)
    levels = [level_db(10.0 * one.speed_cm_s, one.sounding_point) for one in made.strokes]
    assert levels[:9] == sorted(levels[:9])
    assert made.strokes[0].dynamic == "p"
    assert made.strokes[8].dynamic == "ff"


def points_of(made: Plan, first: int, last: int) -> list[float]:
    return [moment.sounding_point for stroke in made.strokes[first:last] for moment in stroke.path]


@pytest.mark.parametrize("turning", ["crescendo", "diminuendo"])
@pytest.mark.parametrize("rhythm", [(2, 1, 1, 2, 0.5, 0.5, 1), (1, 3, 1, 1, 2), (0.5, 0.5, 3, 0.5, 0.5, 3)])
def test_a_swell_goes_one_way_over_the_string_whatever_its_rhythm(
    turning: Turning, rhythm: tuple[float, ...]
) -> None:
    """Nearer to the bridge as it grows, farther as it falls (common practice, no source)."""
    marks = [DynamicMark(0.0, "p"), DynamicMark(sum(rhythm), "f")]
    if turning == "diminuendo":
        marks = [DynamicMark(0.0, "f"), DynamicMark(sum(rhythm), "p")]
    notes = [N("A4", quarters) for quarters in (*rhythm, 2)]
    made = plan(make_part(notes, dynamics=marks, hairpins=[Hairpin(0.0, sum(rhythm), turning)]))
    points = points_of(made, 0, len(rhythm))
    assert points == sorted(points, reverse=turning == "crescendo")
    assert max(points) > min(points) + 0.3


def test_a_swell_in_even_strokes_is_placed_by_its_level_alone() -> None:
    """Where nothing turns back there is nothing to put in order: each point is that of the speed."""
    marks = [DynamicMark(0.0, "p"), DynamicMark(4.0, "f")]
    made = plan(make_part([N("A4")] * 5, dynamics=marks, hairpins=[Hairpin(0.0, 4.0, "crescendo")]))
    for stroke in made.strokes[:4]:
        for moment in stroke.path:
            degree = 2.0 + 3.0 * min(1.0, (stroke.onset_ql + moment.share * stroke.duration_ql) / 4.0)
            usual = wanted_point(degree, 10.0 * moment.speed_cm_s, "violin")
            assert moment.sounding_point == pytest.approx(usual, abs=0.45)


# --- ways out


def long_slur(seconds: float = 9.0) -> list[N]:
    return [N(name, seconds / 4, slur=1) for name in ("G4", "A4", "B4", "C5")]


def test_a_split_slur_is_tried_and_holds_when_it_is_written() -> None:
    """The split that is offered is written into the part, which then plans without running out."""
    notes = [*long_slur(), N("B4", 1)]
    made = plan(make_part(notes))
    stroke = made.strokes[0]
    split = next(way for way in stroke.alternatives if way.change == "split")
    assert (split.remaining, split.bows, split.cures) == (0, 2, ("hair-out",))
    cut = split.after_notes[0]
    parted = [replace(note, slur=note.slur and 1 + (k > cut)) for k, note in enumerate(notes)]
    assert "hair-out" not in remarks(plan(make_part(parted)))


def test_a_slur_that_grows_is_split_by_hair_not_by_time() -> None:
    """Soft and then loud: the loud part takes several bows, the soft one few, and written so it all fits."""
    notes = [N("A4", 1, slur=1)] * 16
    marks = [DynamicMark(0.0, "pp"), DynamicMark(8.0, "f")]
    made = plan(make_part(notes, dynamics=marks))
    split = next(way for way in made.strokes[0].alternatives if way.change == "split")
    assert split.remaining == 0
    assert sum(cut >= 8 for cut in split.after_notes) > sum(cut < 7 for cut in split.after_notes)
    bows = [sum(cut < k for cut in split.after_notes) for k in range(16)]
    parted = [replace(note, slur=1 + bow) for note, bow in zip(notes, bows, strict=True)]
    again = plan(make_part(parted, dynamics=marks))
    assert len(again.strokes) == split.bows
    assert remarks(again) == []


def test_a_faster_tempo_is_tried_and_holds() -> None:
    """At the tempo that is offered the piece plans without running out."""
    part = make_part([*long_slur(7.0), N("B4", 1)])
    way = next(one for one in plan(part).strokes[0].alternatives if one.change == "faster-tempo")
    assert way.tempo is not None
    assert way.tempo > 60.0
    assert way.remaining == 0
    assert "hair-out" not in remarks(plan(part, tempo=way.tempo))


def test_a_long_note_is_parted_into_bows() -> None:
    """A note without a place for a split is played on several bows: as few as have hair enough."""
    made = plan(one_note(13.0, "mf"))
    way = next(one for one in made.strokes[0].alternatives if one.change == "split-note")
    assert way.bows == 3


def test_a_slower_bow_nearer_the_bridge_is_offered_where_it_has_the_level() -> None:
    """A little longer than the longest bow: the same v_b / beta lies nearer to the bridge."""
    made = plan(one_note(6.5, "mf"))
    way = next(one for one in made.strokes[0].alternatives if one.change == "point")
    assert way.sounding_point is not None
    assert 1.2 <= way.sounding_point < 2.0


def test_a_written_sign_that_leaves_no_time_may_be_turned() -> None:
    """Two long notes with the same sign and no rest: without the second sign nothing is in the way."""
    made = plan(make_part([N("A4", 5, bow="down"), N("B4", 5, bow="down")], bar=5.0))
    assert remarks(made) == ["no-time"]
    way = next(one for one in made.strokes[1].alternatives if one.change == "turned")
    assert (way.cures, way.remaining) == (("no-time",), 0)
    assert remarks(plan(make_part([N("A4", 5, bow="down"), N("B4", 5)], bar=5.0))) == []


def test_what_fails_nowhere_has_no_ways_out() -> None:
    """And the sentence on top says that the bow reaches."""
    made = plan(make_part(line("G4 A4 B4 A4")))
    assert all(stroke.alternatives == () for stroke in made.strokes)
    assert words.headline(made) == "The bow reaches: 4 strokes, and hair enough for each."
    assert words.headline(plan(make_part([*long_slur(), N("B4")]))) == "In 1 of 2 strokes the bow runs out."


# --- arithmetic, for any part


@st.composite
def any_part(draw: st.DrawFn) -> Part:
    """Up to 14 notes and rests with slurs, signs, marks, dynamics and hairpins in any mixture."""
    notes: list[N] = []
    slur = 0
    for k in range(draw(st.integers(1, 14))):
        name = draw(st.sampled_from(["", "G3", "A4", "E5", "C6", "G3 D4", "G3 D4 B4", "F3"]))
        if draw(st.booleans()):
            slur = k + 1
        notes.append(
            N(
                name,
                draw(st.sampled_from([0.25, 0.5, 1.0, 1.5, 3.0, 8.0])),
                bow=draw(st.sampled_from([None, None, None, "down", "up"])),
                slur=slur if draw(st.booleans()) else 0,
                tied=bool(notes) and name == notes[-1].names != "" and draw(st.booleans()),
                marks=draw(st.sampled_from([(), (), ("staccato",), ("accent",)])),
                grace=draw(st.integers(0, 9)) == 0,
                plucked=draw(st.integers(0, 9)) == 0,
            )
        )
    whole = sum(0.0 if note.grace else note.quarters for note in notes)
    marks = [
        DynamicMark(draw(st.floats(0.0, max(whole, 0.1))), draw(st.sampled_from(DYNAMICS)))
        for _ in range(draw(st.integers(0, 3)))
    ]
    pins = [
        Hairpin(begin, begin + draw(st.floats(0.2, 8.0)), draw(st.sampled_from(["crescendo", "diminuendo"])))
        for begin in sorted(draw(st.lists(st.floats(0.0, max(whole, 0.1)), max_size=2)))
    ]
    return make_part(
        [*notes, N("A4")],
        tempo=draw(st.sampled_from([40.0, 90.0, 200.0])),
        dynamics=sorted(marks, key=lambda mark: mark.onset_ql),
        hairpins=pins,
    )


@settings(max_examples=40, deadline=None)
@given(part=any_part(), instrument=st.sampled_from(sorted(BOW_MM)))
def test_every_plan_keeps_its_arithmetic(part: Part, instrument: str) -> None:
    """Every note in exactly one stroke; the bow stays on the hair, goes on where it ended, and hair is speed
    times time; signs are kept; weight lies within its span; ways out only where something is in the way."""
    made = plan(part, instrument=instrument)
    told = [k for stroke in made.strokes for k in stroke.event_indices]
    assert sorted(told) == [k for k, event in enumerate(part.events) if event.pitches]
    assert [s.onset_ql for s in made.strokes] == sorted(s.onset_ql for s in made.strokes)
    before = None
    for stroke in made.strokes:
        if stroke.is_plucked:
            continue
        low, high = sorted((stroke.start_at_mm, stroke.end_at_mm))
        assert 0.0 <= low <= high <= made.bow_mm
        assert (stroke.end_at_mm >= stroke.start_at_mm) == (stroke.direction == "down") or high == low
        assert stroke.hair_used_mm == pytest.approx(high - low)
        assert 10.0 * stroke.speed_cm_s * stroke.seconds == pytest.approx(stroke.hair_used_mm, abs=1e-6)
        if before is not None and not stroke.is_retake:
            assert stroke.start_at_mm == pytest.approx(before.end_at_mm)
        assert [stroke.path[0].at_mm, stroke.path[-1].at_mm] == pytest.approx(
            [stroke.start_at_mm, stroke.end_at_mm]
        )
        signs = {part.events[k].bowing for k in stroke.event_indices} - {None}
        first = next((part.events[k].bowing for k in stroke.event_indices if part.events[k].bowing), None)
        assert not signs or stroke.direction == first
        if stroke.weight_span_n is not None:
            assert stroke.weight_span_n[0] < stroke.weight_n < stroke.weight_span_n[1]
        if not {"hair-out", "no-time"} & {remark.name for remark in stroke.remarks}:
            assert stroke.alternatives == ()
        before = stroke
    assert made == plan(part, instrument=instrument), "the same part has the same plan"


def test_everything_a_plan_says_has_words_for_three_readers() -> None:
    """Every remark, rule and way out is said without a gap left open."""
    made: list[Plan] = [
        plan(make_part([*long_slur(), N("B4"), N("F3"), N("G3 A3")])),
        plan(one_note(13.0, "mf")),
    ]
    for one in made:
        for stroke in one.strokes:
            assert words.rule(stroke.rule)
            for reader in ("child", "adult", "teacher"):
                told = [words.remark(remark, reader=reader) for remark in stroke.remarks]
                told += [words.alternative(way, stroke, reader=reader) for way in stroke.alternatives]
                assert all(text and "{" not in text for text in told)
    values = {"words": "x", "tempo": 60, "notes": "A4", "passing": 2, "range_db": 3.5, "level_db": 4}
    values |= {"needs_mm": 1, "has_mm": 2, "missing_mm": 3}
    for name in words.REMARKS:
        for reader in ("child", "adult", "teacher"):
            assert "{" not in words.remark(Remark(name, "7", values), reader=reader)
