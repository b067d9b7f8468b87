// Arranging a talk with a pointer, and keeping it in this browser under its name. Links do the rest.

const rows = document.querySelector("[data-rows]");
const kept = document.querySelector("[data-kept]");
const STORE = "colophony-talks";

if (rows) {
  rows.dataset.ready = "";
  for (const grip of rows.querySelectorAll(".grip")) grip.title = rows.dataset.dragWords;
  let dragged = null;
  let before = "";
  const order = () => [...rows.children].map((row) => row.dataset.key).join(",");
  rows.addEventListener("pointerdown", (event) => {
    const row = event.target.closest(".grip")?.closest("li");
    if (!row || event.button !== 0) return;
    [dragged, before] = [row, order()];
    row.classList.add("dragged");
    row.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  rows.addEventListener("pointermove", (event) => {
    if (!dragged) return;
    for (const row of rows.children) {
      const { top, height } = row.getBoundingClientRect();
      if (row === dragged || event.clientY < top || event.clientY > top + height) continue;
      const below = event.clientY > top + height / 2;
      if (below) row.after(dragged);
      else row.before(dragged);
      break;
    }
  });
  const drop = (done) => {
    if (!dragged) return;
    const { key } = dragged.dataset;
    dragged.classList.remove("dragged");
    dragged = null;
    if (!done || order() === before) return;
    const query = new URLSearchParams(kept.dataset.query);
    query.set("slides", order());
    location.assign(`/talk?${query}#later-${key}`);
  };
  rows.addEventListener("pointerup", () => drop(true));
  rows.addEventListener("pointercancel", () => drop(false));
}

// Playing takes a few seconds: whoever waits is told.
const waiting = document.querySelector("[data-waiting]");
for (const link of document.querySelectorAll("[data-plays]")) {
  link.addEventListener("click", () => {
    waiting.textContent = waiting.dataset.waitingWords;
    setTimeout(() => {
      waiting.textContent = "";
    }, 12000);
  });
}
window.addEventListener("pageshow", () => {
  if (waiting) waiting.textContent = "";
});

function read() {
  const found = JSON.parse(localStorage.getItem(STORE) ?? "{}");
  return found && typeof found === "object" ? found : {};
}

function list() {
  const talks = read();
  const items = Object.keys(talks).sort().map((name) => {
    const item = document.createElement("li");
    const link = document.createElement("a");
    link.href = `/talk?${talks[name]}`;
    link.textContent = name;
    const forget = document.createElement("button");
    forget.type = "button";
    forget.className = "button slight";
    forget.textContent = kept.dataset.removeWords;
    forget.setAttribute("aria-label", `${kept.dataset.removeWords}: ${name}`);
    forget.addEventListener("click", () => {
      const left = read();
      delete left[name];
      localStorage.setItem(STORE, JSON.stringify(left));
      list();
    });
    item.append(link, forget);
    return item;
  });
  kept.querySelector("[data-list]").replaceChildren(...items);
}

try {
  list();
  kept.hidden = false;
} catch {
  // This browser keeps nothing: the address does.
}
kept.querySelector("[data-keep]").addEventListener("click", () => {
  const said = kept.querySelector("[data-said]");
  const name = document.querySelector("#name").value.trim();
  said.textContent = name ? said.dataset.keptWords : said.dataset.unnamedWords;
  if (!name) return;
  const query = new URLSearchParams(kept.dataset.query);
  query.set("name", name);
  localStorage.setItem(STORE, JSON.stringify({ ...read(), [name]: String(query) }));
  list();
});
