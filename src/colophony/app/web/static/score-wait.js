// Says that a plan is being made for as long as the next page takes to come.

const notice = document.querySelector("[data-wait]");
for (const form of document.querySelectorAll("[data-waits]")) {
  form.addEventListener("submit", () => (notice.hidden = false));
}
// A page that is shown again as it was left waits for nothing.
addEventListener("pageshow", () => (notice.hidden = true));
