"""A talk's claims, each checked on its own simulation; and the file that carries the talk away."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from colophony.app.cli import program
from colophony.app.cli.talk import SLIDES
from colophony.app.talk import Shown, Talk, offline_page, play_demonstration
from colophony.app.talk.page import one_script
from colophony.app.talk.pictures import scenes_of
from colophony.app.talk.places import map_of, room_at
from colophony.app.talk.played import PlayedStroke
from colophony.app.talk.traces import slips_of
from colophony.errors import InputError
from colophony.physics import helmholtz
from colophony.physics.sound import SAFE_PEAK_DB
from colophony.teaching.demonstrations import DEMONSTRATIONS
from colophony.teaching.demonstrations.kinds import PRESSED
from colophony.teaching.sounding_points import point_to_m

TALK = Talk("violin", "4/4", "D")
CLEAR, SURFACE = "helmholtz", "multiple-slip"


def shown(key: str) -> Shown:
    """A demonstration on the violin's D string; played once a run."""
    return play_demonstration(TALK, key)


def weight(one: PlayedStroke) -> float:
    assert one.bowed.request.weight_n is not None
    return one.bowed.request.weight_n


def bow_without_weight(one: PlayedStroke) -> tuple[object, ...]:
    request = one.bowed.request
    return (request.distance_mm, request.speed_cm_s, request.tilt_deg)


@pytest.mark.parametrize("key", DEMONSTRATIONS)
def test_every_stroke_shows_what_its_slide_says(key: str) -> None:
    """The state as told is among those the words mean, and holds while the stroke is heard."""
    found = shown(key)
    assert found.is_true
    for one in found.strokes:
        assert one.state in one.stroke.shows
        assert np.isfinite(one.bowed.motion.bridge_force_n).all()


# The corner; stick and slip


def test_one_slip_a_vibration_for_the_share_beta() -> None:
    """Raman (1918); Woodhouse, Euphonics 9.3.1: one slip a period, for beta of it, here within 15 %."""
    one = shown("corner").strokes[0]
    reading = one.bowed.reading
    assert reading.slips_per_period == pytest.approx(1.0, abs=0.02)
    assert reading.slip_fraction == pytest.approx(one.bowed.motion.beta, rel=0.15)


def ideal_and_shown() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """The last vibration's shapes beside the ideal string's at the best moment; and both corners, 0 to 1."""
    one = shown("corner").strokes[0]
    motion = one.bowed.motion
    half = len(motion.shapes_m) // 2
    shapes = np.asarray(motion.shapes_m, dtype=float)[half:]
    shapes -= shapes.mean(axis=0)  # the bow pulls the string aside while it swings
    times = np.asarray(motion.shape_times_s)[half:]
    x = np.asarray(motion.shape_positions_m) / motion.shape_positions_m[-1]
    f0 = one.bowed.reading.frequency_hz
    assert f0 is not None
    stroke = {"vb": float(motion.bow_speed_m_s[-1]), "beta": motion.beta, "f0": f0}
    moments = np.arange(200) / 200 / f0
    tried = [helmholtz.displacement_m(x[None, :], (times - moment)[:, None], **stroke) for moment in moments]
    best = int(np.argmax([np.corrcoef(shapes.ravel(), ideal.ravel())[0, 1] for ideal in tried]))
    corners = x[np.abs(shapes).argmax(axis=1)]
    return shapes, tried[best], corners, helmholtz.corner(times - moments[best], f0=f0)


def test_the_shown_string_swings_in_helmholtzs_two_straight_pieces() -> None:
    """Helmholtz (1863), in closed form (Woodhouse, Euphonics 9.3.1). The size may differ by a fifth: under
    hair of some width the string also rolls, and its middle goes less far than its surface.
    """
    shapes, ideal, _, _ = ideal_and_shown()
    assert np.corrcoef(shapes.ravel(), ideal.ravel())[0, 1] > 0.99
    assert float((shapes * ideal).sum() / (ideal**2).sum()) == pytest.approx(1.0, abs=0.2)


def test_the_shown_corner_runs_as_the_ideal_one_does() -> None:
    """Bridge to nut and back once a period at even speed: for half of the time within 4 % of the length,
    and over three quarters of it; at the ends what turns is round.
    """
    _, _, corners, ideal = ideal_and_shown()
    assert float(np.median(np.abs(corners - ideal))) < 0.04
    assert np.ptp(corners) > 0.75


def test_what_is_drawn_is_the_engines_own_motion() -> None:
    """The script's heights are the simulated displacements times one factor, to the rounding of a tenth."""
    found = shown("corner")
    motion = found.strokes[0].bowed.motion
    moving = scenes_of(TALK, found)[0].moving
    assert moving is not None
    drawn = np.array(moving["ys"])
    every = int(np.ceil(len(motion.shapes_m) / 96))
    shapes = np.asarray(motion.shapes_m, dtype=float)[::every]
    places = np.linspace(0, shapes.shape[1] - 1, drawn.shape[1]).round().astype(int)
    taken = shapes[:, places]
    factor = float(np.ptp(drawn) / np.ptp(taken))
    middle = float(np.mean(drawn - factor * taken))
    assert np.abs(drawn - middle - factor * taken).max() < 0.2  # of 190 units


def test_under_the_hair_the_string_keeps_the_bows_speed_and_slips_once_a_vibration() -> None:
    """Helmholtz (1863): sticking at the bow's speed, one slip a period; and the trace is that velocity."""
    found = shown("stick-and-slip")
    window = found.strokes[0].bowed.motion.last(3)
    velocity, bow = np.asarray(window.velocity_m_s), np.asarray(window.bow_speed_m_s)
    slips = slips_of(velocity, bow, beta=window.beta)
    assert len(slips) == 3
    sticking = np.ones(len(velocity), dtype=bool)
    for first, end in slips:
        sticking[first:end] = False
    assert float(np.median(velocity[sticking] / bow[sticking])) == pytest.approx(1.0, abs=0.05)
    moving = scenes_of(TALK, found)[0].moving
    assert moving is not None
    heights = np.array(moving["head"])[:, 1]
    at = np.linspace(0, len(velocity) - 1, len(heights)).round().astype(int)
    assert np.corrcoef(heights, velocity[at])[0, 1] < -0.9999  # upward on the page is less


# Too much, too little, the map


def test_too_much_weight_alone_makes_the_slips_lose_their_rhythm() -> None:
    """Schelleng (1973): above the greatest weight no vibration is like the next; only the weight differs."""
    right, heavy = shown("too-much").strokes
    assert bow_without_weight(right) == bow_without_weight(heavy)
    assert weight(heavy) > 2 * weight(right)
    assert heavy.state in PRESSED
    assert heavy.bowed.reading.correlation < right.bowed.reading.correlation - 0.1


def test_too_little_weight_alone_makes_the_string_slip_more_often() -> None:
    """Schelleng (1973): below the least weight there is more than one slip a period. Only weight differs."""
    right, light = shown("too-little").strokes
    assert bow_without_weight(right) == bow_without_weight(light)
    assert weight(light) < weight(right) / 2
    assert light.bowed.reading.slips_per_period > 1.5
    assert right.bowed.reading.slips_per_period == pytest.approx(1.0, abs=0.02)


def test_the_map_says_of_its_strokes_what_they_did() -> None:
    """The clean range at their place holds the right weight, and neither the greater nor the lesser."""
    right, heavy, light = shown("map").strokes
    assert right.bowed.request.distance_mm is not None
    span = room_at(map_of("violin", "4/4", "D"), right.bowed.request.distance_mm / 1000)
    assert span is not None
    assert weight(light) < span[0] < weight(right) < span[1] < weight(heavy)


def test_the_room_opens_from_the_bridge_to_the_fingerboard() -> None:
    """Schelleng (1973): greatest over least weight is in proportion to the distance, 4 beta R / Z0."""
    found = map_of("violin", "4/4", "D")
    spans = [room_at(found, point_to_m(point, TALK.bowed)) for point in (1, 2, 4)]
    ratios = [0.0 if span is None else float(np.log10(span[1] / span[0])) for span in spans]
    assert ratios[0] <= ratios[1] < ratios[2]


def test_near_the_bridge_the_bow_is_slower_and_heavier_and_both_sing() -> None:
    """Common practice (Flesch, from memory): nearer slower and heavier, farther faster and lighter."""
    near, far = shown("near-and-far").strokes
    assert near.state == far.state == CLEAR
    assert (near.bowed.request.distance_mm or 0) < (far.bowed.request.distance_mm or 0) / 2
    assert near.bowed.request.speed_cm_s < far.bowed.request.speed_cm_s / 2
    assert weight(near) > 1.5 * weight(far)


# Tilt, starts, instruments


def test_a_weight_too_light_for_flat_hair_sings_on_its_edge() -> None:
    """Common practice: tilted hair for light bows. Place, speed and weight are those of the flat hair."""
    flat, tilted = shown("tilt").strokes
    assert weight(flat) == weight(tilted)
    assert bow_without_weight(flat)[:2] == bow_without_weight(tilted)[:2]
    assert (flat.bowed.request.tilt_deg, tilted.bowed.request.tilt_deg) == (0.0, 45.0)
    assert (flat.state, tilted.state) == (SURFACE, CLEAR)


def test_a_start_that_is_too_slow_creaks_and_one_that_is_too_fast_slips() -> None:
    """Guettler (2002): for one weight a window of accelerations. Only the time to full speed differs."""
    clean, slow, fast = shown("starts").strokes
    assert weight(clean) == weight(slow) == weight(fast)
    starts = [one.bowed.start for one in (clean, slow, fast)]
    assert [start.kind for start in starts] == ["clean", "creaking", "slipping"]
    ms = [one.bowed.request.start_ms or 0.0 for one in (clean, slow, fast)]
    assert ms[2] < ms[0] < ms[1]
    assert starts[0].settling_s is not None
    for start in starts[1:]:  # Guettler and Askenfelt (1997): not accepted, or never settled
        assert start.accepted is not True


def test_a_small_string_is_pressed_by_a_bow_under_which_a_full_one_sings() -> None:
    """Schelleng (1973): the greatest weight falls with the impedance and as beta grows. All else is equal."""
    full, small, lighter = shown("size").strokes
    assert weight(full) == weight(small)
    assert bow_without_weight(full) == bow_without_weight(small)
    assert small.bowed.string.impedance_kg_s < full.bowed.string.impedance_kg_s
    assert small.bowed.motion.beta > full.bowed.motion.beta
    assert (full.state, lighter.state) == (CLEAR, CLEAR)
    assert small.state in PRESSED
    assert weight(lighter) < weight(full)


def test_lower_strings_bear_more_weight_and_start_more_slowly() -> None:
    """The limits go with the impedance, a start with the period: violin G, viola C, cello C."""
    strokes = shown("family").strokes
    assert [one.bowed.request.note for one in strokes] == ["G3", "C3", "C2"]
    weights = [weight(one) for one in strokes]
    assert weights == sorted(weights)
    starts = [one.bowed.request.start_ms for one in strokes]
    assert starts == sorted(starts)  # type: ignore[type-var]


@pytest.mark.parametrize(("instrument", "size", "string"), [("viola", "4/4", "C"), ("cello", "4/4", "D")])
def test_the_claims_hold_on_other_instruments(instrument: str, size: str, string: str) -> None:
    for key in ("corner", "too-much", "too-little"):
        assert play_demonstration(Talk(instrument, size, string), key).is_true


# Sound


def test_no_stroke_is_louder_than_a_clear_one_may_be() -> None:
    """Hearing: every sound peaks at the safe level at most, loud examples as well; none is silent."""
    for key in DEMONSTRATIONS:
        for one in shown(key).strokes:
            peak_db = 20 * np.log10(float(np.abs(one.sound).max()))
            assert SAFE_PEAK_DB - 25 < peak_db <= SAFE_PEAK_DB + 0.01


# The talk and its file


def test_an_address_reopens_the_talk_it_came_from() -> None:
    talk = Talk.read(
        {"instrument": "cello", "size": "1/2", "string": "g", "slides": "tilt,corner", "name": " Spring\n"}
    )
    assert talk == Talk("cello", "1/2", "G", ("tilt", "corner"), "Spring")
    assert Talk.read(talk.query()) == talk
    empty = talk.without("tilt").without("corner")
    assert empty.keys == ()
    assert Talk.read(empty.query()) == empty
    assert Talk.read({}) == Talk()


def test_slides_are_moved_removed_and_added() -> None:
    talk = Talk(keys=("corner", "map", "tilt"))
    assert talk.moved("tilt", -1).keys == ("corner", "tilt", "map")
    assert talk.moved("corner", -1).keys == talk.keys
    assert talk.moved("starts", 1) == talk
    assert talk.without("map").keys == ("corner", "tilt")
    assert talk.and_then("size").keys == ("corner", "map", "tilt", "size")
    assert {one.key for one in talk.left_out} == set(DEMONSTRATIONS) - set(talk.keys)


@pytest.mark.parametrize(
    ("fields", "line"),
    [
        ({"instrument": "harp"}, "no instrument here"),
        ({"size": "5/4"}, "violin size"),
        ({"string": "C"}, "string of a violin"),
        ({"slides": "corner,<b>"}, "no demonstration"),
    ],
)
def test_what_cannot_be_shown_is_refused_in_one_line(fields: dict[str, str], line: str) -> None:
    with pytest.raises(InputError, match=line):
        Talk.read(fields)


@pytest.fixture(scope="module")
def page() -> str:
    return offline_page(Talk("violin", "4/4", "D", name="<Room & strings>"))


def test_the_file_is_small_and_asks_nothing_of_a_network(page: str) -> None:
    """Every slide with its sounds in less than 15 MB; no address but the name of SVG, and data."""
    assert len(page.encode()) < 15_000_000
    assert set(re.findall(r"https?://[^\s\"'<)]+", page)) <= {"http://www.w3.org/2000/svg"}
    assert "default-src 'none'" in html.unescape(page)
    assert page.count('src="data:audio/mp4;base64,') == sum(
        len(one.strokes) for one in DEMONSTRATIONS.values()
    )
    assert "<Room" not in page
    assert "&lt;Room &amp; strings&gt;" in page


def test_the_file_holds_every_slides_words_and_motion(page: str) -> None:
    for one in DEMONSTRATIONS.values():
        assert f'id="{one.key}"' in page
    found = re.search(r'<script type="application/json" id="moving">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    moving = json.loads(found[1])
    assert set(moving) == set(DEMONSTRATIONS)
    assert all(scene["ms"] > 0 for scenes in moving.values() for scene in scenes if scene)


def test_small_modules_become_one_script() -> None:
    """Their imports of each other and their exports go, and nothing else."""
    joined = one_script(
        ['export function a() {}\nconst text = "export";\n', 'import { a } from "./a.js";\na();\n']
    )
    assert joined == 'function a() {}\nconst text = "export";\n\na();\n'


def test_the_command_writes_the_file_in_the_language_asked_for(tmp_path: Path) -> None:
    out = tmp_path / "talk.html"
    arguments = ["talk", "--out", str(out), "--slides", "corner", "--language", "de", "--name", "Klang"]
    result = CliRunner().invoke(program, arguments, obj=None, standalone_mode=False)
    assert result.exception is None, result.output
    text = out.read_text(encoding="utf-8")
    assert '<html lang="de"' in text
    assert "Klang" in text
    assert tuple(DEMONSTRATIONS) == SLIDES
