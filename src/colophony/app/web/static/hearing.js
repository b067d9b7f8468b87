// Follows a hearing and opens what comes of it. Without this script the page refreshes itself.

import { words } from "./words.js";

const EVERY_MS = 400;

const box = document.querySelector("[data-hearing]");
if (box) follow(box);

async function follow(box) {
  const bar = box.querySelector("progress");
  const said = box.querySelector("[data-said]");
  let before = said.textContent.trim();
  for (;;) {
    let state = null;
    try {
      const answer = await fetch(`${box.dataset.hearing}/state`, { headers: { Accept: "application/json" } });
      if (answer.status === 404) return location.reload();
      state = await answer.json();
    } catch {
      state = null;
    }
    if (state && !["waiting", "hearing"].includes(state.stage)) return location.replace(box.dataset.hearing);
    const text = told(state);
    if (state?.stage === "hearing" && state.share > 0) bar.value = state.share;
    // Said only when it changes, in quarters, so that a screen reader is not flooded.
    if (text !== before) said.textContent = before = text;
    await new Promise((done) => setTimeout(done, EVERY_MS));
  }
}

function told(state) {
  if (!state) return words("no_answer");
  if (state.stage === "waiting") return words(state.place === 1 ? "one_before" : "more_before", { n: state.place });
  return words(String(Math.floor(state.share * 4)));
}
