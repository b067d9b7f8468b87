"""The String bench in a real browser: controls, presets, comparison, the bow drawn by hand, its delay."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from serving import Site

from browser import axe_violations, overflow_px, wait_until

#: Seconds of drawing that are measured; a minute where somebody asks for it.
DRAWN_S = float(os.environ.get("COLOPHONY_BENCH_SECONDS", "5"))
#: Asked of the page: 60 ms for 19 events in 20, from the pointer's event to the sample at the sound card, and
#: no gap. Sound, browser, server and the hand that is played here take more than a core: where other tests
#: run beside this one it can only be seen that the bow is heard, with few gaps. COLOPHONY_TIMINGS=1 says that
#: nothing does.
ALONE = os.environ.get("COLOPHONY_TIMINGS") == "1"
LATEST_MS = 60.0 if ALONE else 250.0
_MOST_GAPS = 0 if ALONE else 4 * DRAWN_S
_TRIES = 6 if ALONE else 3


@pytest.fixture
def bench(site: Site, open_page: Any) -> Any:
    page = open_page(f"{site.address}/bench")
    wait_until(page, "!document.querySelector('[data-run]').closest('[data-scripted]').hidden")
    return page


def query(page: Any) -> dict[str, str]:
    return {name: values[0] for name, values in parse_qs(urlsplit(page.url).query).items()}


def says(page: Any) -> str:
    text: str = page.inner_text("[data-part=says]")
    return text.strip()  # before the style sheet is there, the sign's place is a blank


def test_a_control_moved_by_keyboard_is_answered_and_the_address_reopens_it(
    bench: Any, open_page: Any
) -> None:
    before = bench.inner_html("[data-part=forces]")
    heavier = float(bench.input_value("#weight_n"))
    bench.focus("[data-range=weight_n]")
    for _ in range(3):
        bench.keyboard.press("PageDown")
    wait_until(bench, "location.search.includes('weight_n')")
    bench.wait_for_timeout(600)
    assert float(query(bench)["weight_n"]) < heavier
    assert bench.input_value("#weight_n") == query(bench)["weight_n"]
    assert bench.inner_html("[data-part=forces]") != before
    again = open_page(bench.url)
    for name in ("says", "forces", "picture"):
        assert again.inner_text(f"[data-part={name}]") == bench.inner_text(f"[data-part={name}]")
    assert again.input_value("#weight_n") == bench.input_value("#weight_n")


def test_a_number_is_typed_and_one_out_of_reach_is_said(bench: Any) -> None:
    bench.fill("#distance_mm", "14")
    bench.fill("#weight_n", "0.35")
    wait_until(bench, "document.querySelector('[data-part=says]').innerText.startsWith('surface')")
    wait_until(bench, "!document.querySelector('[data-part=cure]').hidden")
    assert "Tried here" in bench.inner_text("[data-part=cure]")
    assert axe_violations(bench) == []
    bench.fill("#weight_n", "900")
    wait_until(bench, "!document.querySelector('[data-line]').hidden")
    assert "weight of 900 N is out of reach" in bench.inner_text("[data-line]")
    bench.click("[data-part=cure] [data-preset]")
    wait_until(bench, "document.querySelector('[data-part=says]').innerText.startsWith('clear')")
    assert bench.is_hidden("[data-line]")
    assert bench.is_hidden("[data-part=cure]")


def test_another_instrument_brings_its_strings_and_turns_the_place(bench: Any) -> None:
    """The cellist looks along the strings from the scroll's side (common practice, no source)."""
    height = """word => +[...document.querySelectorAll('.surface text')]
      .find(text => text.textContent === word).getAttribute('y')"""
    assert bench.evaluate(height, "bridge") > bench.evaluate(height, "fingerboard")
    bench.select_option("#instrument", "cello")
    wait_until(bench, "document.querySelector('#string').value === 'D' && location.search.includes('cello')")
    wait_until(bench, "[...document.querySelector('#string').options].map(o => o.value).join('') === 'CGDA'")
    assert bench.evaluate(height, "bridge") < bench.evaluate(height, "fingerboard")


def test_a_preset_two_strokes_and_the_link(bench: Any, site: Site) -> None:
    bench.context.grant_permissions(["clipboard-read", "clipboard-write"], origin=site.address)
    bench.click("[data-keep]")
    wait_until(bench, "!document.querySelector('[data-part=kept]').hidden")
    bench.click("text=Near the fingerboard, slow and heavy")
    wait_until(bench, "document.querySelector('[data-part=says]').innerText.startsWith('pressed')")
    states = bench.locator(".pair-one h3 .state").all_inner_texts()
    assert [state.strip() for state in states] == ["clear", "pressed"]
    assert bench.locator(".pair-one .string-view").count() == 2
    assert axe_violations(bench) == []
    assert overflow_px(bench) <= 0
    bench.click("[data-copy]")
    wait_until(bench, "document.querySelector('[data-copied]').textContent === 'Copied.'")
    assert bench.evaluate("navigator.clipboard.readText()") == bench.url
    bench.click("[data-hear-both]")
    wait_until(bench, "document.querySelector('[data-playing]') !== null")
    bench.keyboard.press("Escape")
    wait_until(bench, "document.querySelector('[data-playing]') === null")
    bench.click("[data-without]")
    wait_until(bench, "document.querySelector('[data-part=kept]').hidden")
    assert not any(name.startswith("kept_") for name in query(bench))


def test_the_string_stands_still_until_asked_where_motion_is_unwanted(bench: Any) -> None:
    """WCAG 2.2.2 and the wish for reduced motion: nothing moves by itself, and what moves can be held."""
    shape = "document.querySelector('.bench-picture .now').getAttribute('d')"
    first = bench.evaluate(shape)
    bench.wait_for_timeout(200)
    assert bench.evaluate(shape) == first
    bench.click("[data-move]")
    wait_until(bench, f"{shape} !== {json.dumps(first)}")
    bench.click("[data-move]")
    held = bench.evaluate(shape)
    bench.wait_for_timeout(200)
    assert bench.evaluate(shape) == held


def test_the_bench_without_script(site: Site, open_page: Any) -> None:
    page = open_page(f"{site.address}/bench", javascript=False)
    page.fill("#distance_mm", "40")
    page.fill("#speed_cm_s", "5")
    page.fill("#weight_n", "1")
    page.click("text=Bow it")
    assert says(page).startswith("pressed")
    assert "Tried here" in page.inner_text("[data-part=cure]")
    assert page.locator("audio").first.is_visible()
    page.click("text=Keep it to compare")
    assert page.locator(".pair-one").count() == 2
    assert not page.is_visible("[data-surface]")


def test_the_bow_runs_by_keyboard_and_its_state_is_said(bench: Any) -> None:
    """Space starts and stops; arrows move the bow, and the controls with it; Escape is silence."""
    bench.focus("[data-surface]")
    bench.keyboard.press("Space")
    wait_until(bench, "document.querySelector('[data-hand-state] .state') !== null", seconds=20)
    assert bench.inner_text("[data-run]") == "Stop the bow"
    bench.keyboard.press("ArrowUp")
    wait_until(bench, "location.search.includes('distance_mm=28.5')")
    bench.keyboard.press("Escape")
    assert bench.inner_text("[data-run]") == "Let the bow run"


def test_a_pen_presses_as_hard_as_the_hand(bench: Any) -> None:
    """W3C Pointer Events: pressure 0 to 1; a device without pressure says 0.5."""
    draw = """p => { const s = document.querySelector('[data-surface]'), b = s.getBoundingClientRect();
      const at = (type, x) => s.dispatchEvent(new PointerEvent(type, {pointerId: 7, pointerType: 'pen',
        pressure: p, clientX: b.x + x, clientY: b.y + 200, bubbles: true, button: 0}));
      s.setPointerCapture = () => {}; at('pointerdown', 100); at('pointermove', 140); }"""
    bench.fill("#weight_n", "0.8")
    wait_until(bench, "location.search.includes('weight_n=0.8&')")
    for pressure, weight in ((0.5, "0.80"), (0.25, "0.40")):
        bench.evaluate(draw, pressure)
        bench.wait_for_timeout(400)
        assert bench.inner_text("[data-now=weight]").startswith(weight)
        bench.evaluate(
            "document.querySelector('[data-surface]')"
            ".dispatchEvent(new PointerEvent('pointerup', {pointerId: 7}))"
        )
    bench.wait_for_timeout(400)
    assert bench.inner_text("[data-now=weight]").startswith("0.00")


def test_sound_sets_in_and_ends_without_a_click(bench: Any) -> None:
    """A level of 0.5 that is suddenly there and suddenly gone leaves the worklet in ramps of 2 ms."""
    steps = bench.evaluate(
        """async () => {
          const context = new OfflineAudioContext(1, 9600, 48000);
          await context.audioWorklet.addModule('/static/bench-worklet.js');
          const node = new AudioWorkletNode(context, 'bow', {numberOfInputs: 0, outputChannelCount: [1]});
          node.connect(context.destination);
          const {port1, port2} = new MessageChannel();
          node.port.postMessage({port: port1}, [port1]);
          const samples = new Float32Array(2 + 2000).fill(0.5);
          port2.postMessage({samples: samples.buffer, stamps: []}, [samples.buffer]);
          await new Promise(done => setTimeout(done, 300));
          const out = (await context.startRendering()).getChannelData(0);
          const steps = out.map((v, i) => Math.abs(v - (out[i - 1] ?? 0)));
          return {most: Math.max(...steps), peak: Math.max(...out), end: out.at(-1)};
        }"""
    )
    assert steps["peak"] == pytest.approx(0.5)
    assert steps["end"] == 0
    assert steps["most"] < 2 * 0.5 / 96


def test_a_gap_is_faded_over_and_counted(bench: Any) -> None:
    """440 Hz at 0.5 that stays away for 50 ms, from a height on: no step is larger than the tone's own and
    that of setting in. Meanwhile there is silence, and what came late is played."""
    heard = bench.evaluate(
        """async () => {
          const context = new OfflineAudioContext(1, 24000, 48000);
          await context.audioWorklet.addModule('/static/bench-worklet.js');
          const node = new AudioWorkletNode(context, 'bow', {numberOfInputs: 0, outputChannelCount: [1]});
          node.connect(context.destination);
          const {port1, port2} = new MessageChannel();
          node.port.postMessage({port: port1}, [port1]);
          let gaps = 0;
          node.port.onmessage = ({data}) => gaps = data.gaps;
          let given = 0;
          const give = () => {  // 22.26 periods, the tone going on where it was
            const samples = new Float32Array(2 + 2428);
            const value = () => 0.5 * Math.sin(2 * Math.PI * 440 * given++ / 48000);
            for (let i = 2; i < samples.length; i++) samples[i] = value();
            port2.postMessage({samples: samples.buffer, stamps: []}, [samples.buffer]);
            return new Promise(done => setTimeout(done, 300));
          };
          port2.postMessage({active: true});
          await give();
          context.suspend(4864 / 48000).then(async () => { await give(); context.resume(); });
          const out = (await context.startRendering()).getChannelData(0);
          await new Promise(done => setTimeout(done, 300));
          const peak = (from, to) => Math.max(...out.slice(from, to).map(Math.abs));
          const most = Math.max(...out.map((v, i) => Math.abs(v - (out[i - 1] ?? 0))));
          return {most, gaps, before: peak(500, 2000), within: peak(2700, 4864), after: peak(5500, 7000),
            end: peak(9000, 24000)};
        }"""
    )
    assert heard["most"] < 0.5 * (2 * math.pi * 440 / 48000 + 1 / 96)
    assert heard["before"] == pytest.approx(0.5, rel=1e-3) == heard["after"]
    assert heard["within"] == heard["end"] == 0
    assert heard["gaps"] == 2


def draw(page: Any, seconds: float) -> dict[str, Any]:
    """Draw whole bows for a while, down and up, and return what the page measured meanwhile."""
    box = page.locator("[data-surface]").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.55
    before = page.evaluate("colophonyDelays()")
    began = time.monotonic()
    while (now := time.monotonic() - began) < seconds:
        page.mouse.move(x + 0.3 * box["width"] * math.sin(2.5 * now), y + 10 * math.sin(now))
        page.wait_for_timeout(12)
    page.wait_for_timeout(300)
    after = page.evaluate("colophonyDelays()")
    measured = {name: sorted(after[name]) for name in ("toCard", "toEar")}
    return measured | {"gaps": after["gaps"] - before["gaps"], "ready": after["ready"]}


def share(values: list[float], part: float) -> float:
    return values[min(len(values) - 1, int(part * len(values)))]


@pytest.fixture
def served_alone(tmp_path: Path) -> Iterator[str]:
    """The address of a studio in a process of its own, as ``studio serve`` runs it."""
    code = (
        "from pathlib import Path; from colophony.app.web.serve import serve;"
        f"serve(Path({str(tmp_path / 'studio')!r}), port=0, open_browser=False)"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        yield next(word for word in process.stdout.readline().split() if word.startswith("http"))
        process.kill()


@pytest.fixture
def drawing(served_alone: str, open_page: Any) -> Iterator[Any]:
    """The page with the bow on the string, its sound running."""
    bench = open_page(f"{served_alone}bench")
    wait_until(bench, "window.colophonyDelays !== undefined", seconds=40)
    bench.locator("[data-surface]").scroll_into_view_if_needed()
    box = bench.locator("[data-surface]").bounding_box()
    bench.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.55)
    bench.wait_for_timeout(800)
    bench.mouse.down()
    wait_until(bench, "document.querySelector('[data-hand-state] .state') !== null", seconds=20)
    yield bench
    bench.mouse.up()


def test_a_drawn_bow_is_heard_at_once_and_without_gaps(drawing: Any, record_property: Any) -> None:
    """By the page's own clock: from the pointer's event to the first sample computed with it, as the sound
    card takes it, what is held ready included. The best of a few tries counts, as for any timing. Beside
    other tests only that the bow is heard: see ALONE."""
    tries = []
    for _ in range(_TRIES):
        measured = draw(drawing, DRAWN_S)
        late_ms = share(measured["toCard"], 0.95)
        tries.append((late_ms, measured["gaps"]))
        print(
            f"\n{DRAWN_S:g} s drawn: {len(measured['toCard'])} gestures, half within "
            f"{share(measured['toCard'], 0.5):.0f} ms, 19 in 20 within {late_ms:.0f} ms "
            f"(with the device {share(measured['toEar'], 0.95):.0f} ms), {measured['gaps']} gaps, "
            f"{measured['ready']:.0f} ms held ready"
        )
        if late_ms < LATEST_MS and measured["gaps"] <= _MOST_GAPS:
            break
    record_property("late_ms_and_gaps", tries)
    assert len(measured["toCard"]) > 3 * DRAWN_S
    assert any(late_ms < LATEST_MS and gaps <= _MOST_GAPS for late_ms, gaps in tries)


def test_the_longest_delays_are_shown_on_request(drawing: Any) -> None:
    draw(drawing, 1.0)
    drawing.mouse.up()
    drawing.click("text=Delay and gaps in the sound")
    wait_until(drawing, "document.querySelector('[data-latency=p95]').innerText.includes('ms')")
    assert drawing.inner_text("[data-latency=gaps]").isdigit()
