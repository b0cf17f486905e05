"use strict";
/* A box dragged on a picture, or typed, becomes a row for patches.tsv; a frame becomes one for job.tsv. */
const desk = document.getElementById("desk");
const field = name => desk.elements[name];
const heads = { patches: desk.dataset.patches.split("\t"), job: desk.dataset.job.split("\t") };
const narrow = matchMedia("(max-width: 800px)"); // no room beside the pictures: then below the chosen one
const drawn = [];
let chosen = null;

const cell = text => String(text).replace(/%(?=[0-9A-Fa-f]{2})/g, "%25").replace(/[\x00-\x1f\x7f]/g, c => "%" + c.charCodeAt(0).toString(16).padStart(2, "0"));
const clamp = (v, low, high) => Math.min(Math.max(v, low), high);

function patchRow(box) {
  const values = { ...box, x: `${box.x}%`, y: `${box.y}%`, w: `${box.w}%`, h: `${box.h}%` };
  return heads.patches.map(name => name in values ? ("xywh".includes(name) ? values[name] : cell(values[name])) : "-").join("\t");
}
function outline(svg, box, name) {
  const ns = "http://www.w3.org/2000/svg";
  svg.querySelectorAll(".new").forEach(shape => shape.remove());
  const shape = document.createElementNS(ns, box.tone === "all" ? "ellipse" : "rect");
  const at = box.tone === "all" ? { cx: box.x + box.w / 2, cy: box.y + box.h / 2, rx: box.w / 2, ry: box.h / 2 } : { x: box.x, y: box.y, width: box.w, height: box.h };
  for (const [key, value] of Object.entries(at)) shape.setAttribute(key, value);
  shape.setAttribute("class", name);
  svg.append(shape);
}
function choose(place) {
  if (chosen === place) return;
  if (chosen) chosen.classList.remove("chosen");
  chosen = place;
  place.classList.add("chosen");
  if (narrow.matches) place.after(desk); else place.closest(".contact").append(desk);
  desk.querySelector("#desk-frame").textContent = place.dataset.frame;
  const values = place.dataset.job.split("\t");
  field("subject").value = values[heads.job.indexOf("subject")] ?? "-";
  field("approved").checked = !["-", "", "no", "0"].includes(values[heads.job.indexOf("approved")] ?? "-");
  const box = drawn.find(one => one.frame === place.dataset.frame);
  for (const key of "xywh") field(key).value = box ? box[key] : "";
}
function keep() {
  if (!chosen) return;
  const box = { frame: chosen.dataset.frame, patch: field("patch").value || "face-1", tone: field("tone").value };
  for (const key of "xywh") box[key] = Number(field(key).value);
  if (!(box.w > 0 && box.h > 0)) return;
  const at = drawn.findIndex(one => one.frame === box.frame && one.patch === box.patch);
  if (at >= 0) drawn[at] = box; else drawn.push(box);
  outline(chosen.querySelector("svg"), box, "new");
  field("patch-rows").value = drawn.map(patchRow).join("\n") + "\n";
}
function keepJob() {
  if (!chosen) return;
  const values = chosen.dataset.job.split("\t");
  const set = (name, value) => { if (heads.job.includes(name)) values[heads.job.indexOf(name)] = cell(value); };
  set("subject", field("subject").value || "-");
  set("approved", field("approved").checked ? "yes" : "-");
  const rows = field("job-rows").value.split("\n").filter(row => row && row.split("\t")[heads.job.indexOf("frame")] !== values[heads.job.indexOf("frame")]);
  field("job-rows").value = [...rows, values.join("\t")].join("\n") + "\n";
}

for (const place of document.querySelectorAll(".place")) {
  const board = place.querySelector(".board");
  let from = null;
  const at = event => {
    const area = board.getBoundingClientRect();
    return { x: clamp(100 * (event.clientX - area.left) / area.width, 0, 100), y: clamp(100 * (event.clientY - area.top) / area.height, 0, 100) };
  };
  const drag = event => {
    const to = at(event);
    const put = (key, value) => { field(key).value = value.toFixed(1); };
    put("x", Math.min(from.x, to.x));
    put("y", Math.min(from.y, to.y));
    put("w", Math.abs(to.x - from.x));
    put("h", Math.abs(to.y - from.y));
    keep();
  };
  board.addEventListener("pointerdown", event => { event.preventDefault(); choose(place); from = at(event); board.setPointerCapture(event.pointerId); });
  board.addEventListener("pointermove", event => { if (from) drag(event); });
  board.addEventListener("pointerup", event => { if (from) drag(event); from = null; });
  place.querySelector("button").hidden = false;
  place.querySelector("button").addEventListener("click", () => { choose(place); field("x").focus(); });
}
for (const name of ["x", "y", "w", "h", "tone", "patch"]) field(name).addEventListener("input", keep);
for (const name of ["subject", "approved"]) field(name).addEventListener("input", keepJob);
for (const button of desk.querySelectorAll("[data-copy]"))
  button.addEventListener("click", () => {
    const area = field(button.dataset.copy);
    area.select();
    if (navigator.clipboard) navigator.clipboard.writeText(area.value).catch(() => document.execCommand("copy"));
    else document.execCommand("copy");
    desk.querySelector("#desk-said").textContent = "copied";
  });
desk.hidden = false;
desk.addEventListener("submit", event => event.preventDefault());
