"use strict";
/* What needs a script: order, filter, and two pictures over each other. All else is there without. */
const form = document.getElementById("find");
const body = document.querySelector(".frames > tbody");
const rows = [...body.rows];
const worst = new Map(rows.map((row, at) => [row, at]));
const orders = {
  rank: (x, y) => worst.get(x) - worst.get(y),
  place: (x, y) => x.dataset.place - y.dataset.place,
  person: (x, y) => x.dataset.person.localeCompare(y.dataset.person) || x.dataset.place - y.dataset.place,
  left: (x, y) => y.dataset.left - x.dataset.left || x.dataset.place - y.dataset.place,
};
const people = row => row.dataset.person.split(",").map(name => name.trim());

function find() {
  const want = new FormData(form);
  rows.sort(orders[want.get("order")]);
  for (const row of rows) {
    row.hidden = ["verdict", "camera", "depth"].some(key => want.get(key) && row.dataset[key] !== want.get(key)) ||
      (want.get("person") !== "" && !people(row).includes(want.get("person")));
  }
  body.append(...rows);
  form.elements.count.value = `${rows.filter(row => !row.hidden).length} of ${rows.length} frames`;
}
form.hidden = false;
form.addEventListener("change", find);
find();
/* A link to a frame that is filtered out shows all again. */
addEventListener("hashchange", () => {
  const row = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (row && row.hidden) { form.reset(); find(); row.scrollIntoView(); }
});

const over = document.getElementById("over");
const part = name => document.getElementById(`over-${name}`);
let shown = null;
let flipped = false;

function draw() {
  const [before, after] = over.querySelectorAll(".stack img");
  const wipe = part("wipe").value;
  before.hidden = after.hidden = false;
  after.style.clipPath = flipped ? "inset(0 100% 0 0)" : `inset(0 ${100 - wipe}% 0 0)`;
  part("which").textContent = flipped ? "before" : wipe === "100" ? "after" : "after | before";
}
function show(row) {
  shown = row;
  flipped = false;
  part("wipe").value = 100;
  part("name").textContent = row.querySelector(".name").textContent;
  over.querySelector(".stack").replaceChildren(...[...row.querySelectorAll(".shot img")].map(img => {
    const copy = img.cloneNode();
    copy.loading = "eager";
    return copy;
  }));
  draw();
  if (!over.open) over.showModal();
}
function step(by) {
  const all = [...body.rows].filter(row => !row.hidden && row.querySelector(".over"));
  const next = all[all.indexOf(shown) + by];
  if (next) show(next);
}
function flip() { flipped = !flipped; draw(); }
for (const button of document.querySelectorAll(".over")) {
  button.hidden = false;
  button.addEventListener("click", () => show(button.closest("tr")));
}
part("flip").addEventListener("click", flip);
over.querySelector(".stack").addEventListener("click", flip);
part("wipe").addEventListener("input", () => { flipped = false; draw(); });
part("back").addEventListener("click", () => step(-1));
part("next").addEventListener("click", () => step(1));
part("close").addEventListener("click", () => over.close());
over.addEventListener("close", () => { if (shown) shown.querySelector(".over").focus(); });
over.addEventListener("keydown", event => {
  if (event.target === part("wipe")) return;
  if (event.key === "ArrowLeft" || event.key === "ArrowRight") step(event.key === "ArrowLeft" ? -1 : 1);
  if (event.key === " " && event.target.tagName !== "BUTTON") { event.preventDefault(); flip(); }
});
