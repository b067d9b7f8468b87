// What the scripts of a page say. The sentences stand in the page, in its language: see script_words in
// components.html.j2.

const said = JSON.parse(document.getElementById("words")?.textContent ?? "{}");

// A sentence of the page, with {names} filled in.
export function words(name, values = {}) {
  return said[name].replace(/\{(\w+)\}/g, (whole, key) => values[key] ?? whole);
}

const MARK = new Intl.NumberFormat(document.documentElement.lang).format(1.1)[1];

// A number as it is written in the page's language.
export function figures(number) {
  return String(number).replace(".", MARK);
}
