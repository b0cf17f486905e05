// Looks at the pages of a report in headless Chromium, as a person would; prints one line a check:
// "ok NAME" or "not ok NAME: WHY", and "# FIGURE". usage: node look.cjs NPM CHROMIUM REPORT WIDTHS [SHOTS]
"use strict";
const [npm, executablePath, report, list, shots] = process.argv.slice(2);
const fs = require("fs");
const path = require("path");
const { chromium } = require(path.resolve(npm, "node_modules/playwright-core"));
const axe = fs.readFileSync(path.resolve(npm, "node_modules/axe-core/axe.min.js"), "utf8");
const say = (name, why) => console.log(why ? `not ok ${name}: ${String(why).replace(/\s+/g, " ").slice(0, 600)}` : `ok ${name}`);
const args = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];
const widths = list.split(",").map(Number);
const table = name => {
  const [heads, ...rows] = fs.readFileSync(path.join(report, name), "utf8").trimEnd().split("\n").map(line => line.split("\t"));
  return rows.map(row => Object.fromEntries(heads.map((head, at) => [head, row[at] ?? ""])));
};

async function open(browser, name, options) {
  const context = await browser.newContext({ viewport: { width: widths[0], height: 900 }, colorScheme: "light", ...options });
  const page = await context.newPage();
  page.said = [];
  page.on("console", message => page.said.push(message.text()));
  page.on("pageerror", error => page.said.push(error.message));
  page.on("request", request => { if (!/^(file|data):/.test(request.url())) page.said.push(`asks for ${request.url()}`); });
  await page.goto(`file://${path.resolve(report, name)}`);
  return page;
}

/* ---- how the pages look ---- */

async function picturesOf(page, name) {
  const loaded = await page.evaluate(() => [...document.images].filter(img => img.complete && img.naturalWidth > 0).length);
  const { all, broken, wrong } = await page.evaluate(async () => {
    const wrong = [...document.images].filter(img => img.loading !== "lazy" || !(img.width > 0 && img.height > 0)).map(img => img.src);
    for (const img of document.images) img.loading = "eager";
    const broken = await Promise.all([...document.images].map(img => img.decode().then(() => "", () => img.src)));
    for (const img of document.querySelectorAll(".shot img, .board img"))
      if (Math.abs(img.getAttribute("width") / img.getAttribute("height") * img.naturalHeight / img.naturalWidth - 1) > 0.02) wrong.push(img.src);
    return { all: document.images.length, broken: broken.filter(Boolean), wrong };
  });
  say(`no broken picture: ${name}`, all > 0 ? broken.slice(0, 3).join(" ") : "no picture at all");
  say(`pictures are lazy and keep their room: ${name}`, wrong.slice(0, 3).join(" "));
  if (all > 200)
    say(`few are loaded before one scrolls: ${name}`, loaded <= all / 4 ? "" : `${loaded} of ${all}`);
}

/* What has to hold at each width and in each scheme. */
async function measure(page, where, width) {
  const seen = await page.evaluate(() => ({
    width: document.documentElement.scrollWidth,
    surround: getComputedStyle(document.body).backgroundColor,
    text: Math.min(...[...document.querySelectorAll(".plot > svg text")].map(text =>
      parseFloat(getComputedStyle(text).fontSize) * text.ownerSVGElement.getScreenCTM().a)),
    unnamed: document.querySelector(".frames > thead") && getComputedStyle(document.querySelector(".frames > thead")).display === "none" &&
      [...document.querySelectorAll(".shot")].slice(0, 2).map(cell => getComputedStyle(cell, "::before").content).join() !== '"before","after"',
    picture: Math.max(...[...document.querySelectorAll(".shot img")].map(img => img.width)),
  }));
  say(`nothing lies outside its width: ${where}`, seen.width > width ? seen.width : "");
  say(`pictures lie on L* 50: ${where}`, seen.surround === "rgb(118, 118, 118)" ? "" : seen.surround);
  say(`pictures are told by a head or a word: ${where}`, seen.unnamed ? "before and after are not told" : "");
  if (width >= 2000 && seen.picture > 0)
    say(`a wide screen has larger pictures: ${where}`, seen.picture > 240 ? "" : seen.picture);
  say(`texts of plots are 11 pixels high or more: ${where}`, seen.text >= 11 ? "" : seen.text);
}

async function look(browser, name) {
  const page = await open(browser, name);
  await picturesOf(page, name);
  const many = table("frames.tsv").length > 100;
  const session = await page.context().newCDPSession(page);
  // Not as a script in the page, which its own policy would rightly refuse.
  await session.send("Runtime.evaluate", { expression: axe });
  for (const width of widths)
    for (const colorScheme of ["light", "dark"]) {
      const where = `${name}, ${width} px, ${colorScheme}`;
      await page.setViewportSize({ width, height: 900 });
      await page.emulateMedia({ colorScheme });
      await measure(page, where, width);
      if (shots) await page.screenshot({ path: `${shots}/${name}-${width}-${colorScheme}.png` });
      if (many && width !== 1280) continue; // the rules take a minute over 300 frames
      // The one rule of WCAG 2.2 AA that is off by default is asked for.
      const found = await page.evaluate(() => axe.run({ rules: { "target-size": { enabled: true } } }));
      say(`axe-core finds nothing: ${where}`, found.violations.map(v => `${v.id} ${v.nodes.length} ${v.nodes[0].html}`).join("; ") ||
        (found.passes.length > 20 ? "" : "few rules ran"));
    }
  say(`no error: ${name}`, page.said.join("; "));
  await page.context().close();
}

/* The median of three, after one that starts the browser. */
async function firstPaint(browser) {
  const times = [];
  for (let i = 0; i < 4; i++) {
    const page = await open(browser, "index.html");
    times.push(await page.evaluate(() => new Promise(done => {
      new PerformanceObserver(seen => done(seen.getEntries()[0].startTime)).observe({ type: "paint", buffered: true });
    })));
    await page.context().close();
  }
  const [, median] = times.slice(1).sort((x, y) => x - y);
  console.log(`# first paint after ${Math.round(median)} ms, ${table("frames.tsv").length} frames, ${(fs.statSync(path.join(report, "index.html")).size / 1e6).toFixed(2)} MB of HTML`);
}

/* ---- what they say ---- */

async function read(page, frames) {
  const shown = await page.$$eval(".frames > tbody > tr", rows => rows.map(row => ({
    id: row.id, name: row.querySelector(".name").textContent, verdict: row.querySelector("b.verdict").textContent,
    figures: [...row.querySelectorAll(".numbers tbody tr")].map(line => [...line.querySelectorAll("td")].map(td => td.textContent)),
  })));
  say("every frame has its row", shown.length === frames.length ? "" : `${shown.length} of ${frames.length}`);
  const columns = [["L", 1], ["chroma", 1], ["hue", 1], ["magenta_by_cyan", 2], ["yellow_by_magenta", 2], ["ciede2000", 1]];
  const wrong = [];
  let compared = 0;
  for (const row of shown) {
    const frame = frames.find(one => `f-${one.id}` === row.id) ?? {};
    if (frame.frame !== row.name || (frame.state !== "failed" && frame.verdict !== row.verdict)) wrong.push(`${row.name} ${row.verdict}`);
    for (const [line, stage] of ["before", "after"].entries())
      for (const [at, [column, decimals]] of row.figures.length > line ? columns.entries() : []) {
        compared++;
        if (!(Math.abs(Number(row.figures[line][at]) - Number(frame[`${stage}_${column}`])) <= 0.5001 * 10 ** -decimals)) wrong.push(`${row.name} ${stage} ${column} ${row.figures[line][at]} ${frame[`${stage}_${column}`]}`);
      }
  }
  say("figures are those of frames.tsv", wrong.slice(0, 5).join("; ") || (compared >= 6 ? "" : `${compared} compared`));
  const counts = Object.fromEntries(await page.$$eval(".counts > div", divs => divs.map(div => [div.children[0].textContent, Number(div.children[1].textContent)])));
  const summary = JSON.parse(fs.readFileSync(path.join(report, "summary.json"), "utf8"));
  say("counts are those of summary.json", ["frames", "on", "held", "off", "unsure", "failed"].filter(key => counts[key] !== summary[key]).join());
  const rows = table("summary.tsv");
  const needs = await page.$$eval(".needs li", items => items.map(item => item.textContent.replace(/\s+/g, " ").trim()));
  const persons = rows.filter(row => row.part === "person").map(row => [row.what, row.about, row.note === "-" ? "" : row.note].join(" ").replace(/\s+/g, " ").trim());
  say("what needs a person is that of summary.tsv", [...needs].sort().join("\n") === [...persons].sort().join("\n") ? "" : `${needs.length} ${persons.length}: ${needs.find(one => !persons.includes(one))}`);
  const even = await page.textContent("#evenness svg");
  const lost = rows.filter(row => row.part === "cameras" && row.about === "mean" && row.before !== "-" && row.after !== "-" && Number(row.before) > 0)
    .map(row => [row.before, row.after].map(v => Number(v).toFixed(/hue|chroma/.test(row.what) ? 1 : 2)).join(" to ")).filter(text => !even.includes(text));
  say("evenness is that of summary.tsv", lost.join("; "));
  const last = Math.max(...await page.$$eval("#magenta svg text[text-anchor=middle]", all => all.map(text => Number(text.textContent)).filter(Number.isFinite)));
  say("the axis of frames ends with them", last >= frames.length && last <= frames.length + 5 ? "" : last);
  const rank = ["failed", "off", "unsure"];
  const ranks = shown.map(row => rank.includes(row.verdict) ? rank.indexOf(row.verdict) : 9);
  say("the worst come first", ranks.some((r, i) => i && r < ranks[i - 1]) ? ranks.join() : "");
}

/* ---- how they work ---- */

async function find(page, frames) {
  const rows = () => page.$$eval(".frames > tbody > tr:not([hidden])", all => all.map(row => ({ name: row.querySelector(".name").textContent, ...row.dataset })));
  const worst = await rows();
  for (const key of ["verdict", "person", "camera", "depth"]) {
    const value = await page.$$eval(`#find [name=${key}] option`, (all, [key, rows]) => all.map(o => o.textContent).slice(1)
      .find(text => rows.some(row => row[key].split(/, */).includes(text))), [key, worst]);
    await page.selectOption(`#find [name=${key}]`, value);
    const want = worst.filter(row => key === "person" ? row.person.split(/, */).includes(value) : row[key] === value).map(row => row.name);
    say(`a filter leaves one ${key}`, want.length > 0 && (await rows()).map(row => row.name).join("\n") === want.join("\n") ? "" : `${value}: ${want.length}`);
    await page.selectOption(`#find [name=${key}]`, "");
  }
  const orders = {
    place: frames.map(frame => frame.frame),
    person: [...worst].sort((x, y) => x.person.localeCompare(y.person) || x.place - y.place).map(row => row.name),
    left: [...worst].sort((x, y) => y.left - x.left || x.place - y.place).map(row => row.name),
    rank: worst.map(row => row.name),
  };
  for (const [order, want] of Object.entries(orders)) {
    await page.selectOption("#find [name=order]", order);
    say(`rows in the order ${order}`, (await rows()).map(row => row.name).join("\n") === want.join("\n") ? "" : "other order");
  }
}

async function layOver(page) {
  const button = page.locator(".frames .over").nth(1);
  const [before, after] = await button.evaluate(one => [...one.closest("tr").querySelectorAll(".shot img")].map(img => img.src));
  await button.click();
  await page.waitForSelector("dialog[open]");
  const pictures = await page.$$eval(".stack img", async all => { await Promise.all(all.map(img => img.decode())); return all.map(img => img.src); });
  if (shots) await page.screenshot({ path: `${shots}/over.png` });
  say("the frame's own pictures lie over each other", pictures.join() === [before, after].join() ? "" : pictures.join());
  const style = () => page.$eval(".stack img:last-child", img => img.style.clipPath);
  const which = () => page.textContent("#over-which");
  const first = await which();
  await page.click("#over-flip");
  const second = await which();
  say("they flip", first === "after" && second === "before" && /inset\(0(px)? 100%/.test(await style()) ? "" : `${first} ${second}`);
  await page.focus("#over-wipe");
  for (let i = 0; i < 40; i++) await page.keyboard.press("ArrowLeft");
  say("and wipe, by keyboard", /inset\(0(px)? 40%/.test(await style()) ? "" : await style());
  const name = await page.textContent("#over-name");
  await page.focus("#over-close");
  await page.keyboard.press("ArrowRight");
  say("an arrow goes to the next frame", await page.textContent("#over-name") !== name ? "" : name);
  await page.keyboard.press("Escape");
  say("Escape closes them", await page.$("dialog[open]"));
}

async function print(page, name, frames) {
  const before = page.viewportSize();
  await page.emulateMedia({ media: "print" });
  await page.setViewportSize({ width: 710, height: 1000 }); // A4 less its margins, at 96 a inch
  const seen = await page.evaluate(() => ({
    wide: document.documentElement.scrollWidth,
    head: document.querySelector(".frames > thead") ? getComputedStyle(document.querySelector(".frames > thead")).display : "table-header-group",
    lost: [...document.querySelectorAll(".frames > thead th, .frames > tbody > tr:first-child > *")].filter(cell => cell.getBoundingClientRect().width < 20).length,
  }));
  say(`no column is lost on A4, heads repeat: ${name}`, seen.wide > 710 || seen.head !== "table-header-group" || seen.lost ? JSON.stringify(seen) : "");
  const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
  if (shots) fs.writeFileSync(path.join(shots, `${name}.pdf`), pdf);
  const pages = (pdf.toString("latin1").match(/\/Type \/Page\b/g) || []).length;
  say(`24 frames print on 4 pages at most, more on a sixth: ${name} (${frames.length} on ${pages})`, pages > 0 && pages <= Math.max(4, frames.length / 6) ? "" : pages);
  await page.emulateMedia({ media: "screen" });
  await page.setViewportSize(before);
}

async function use(browser) {
  const frames = table("frames.tsv").filter(frame => frame.state !== "card");
  const page = await open(browser, "index.html", { viewport: { width: 1280, height: 900 } });
  await page.keyboard.press("Tab");
  say("the first key leads past the head", await page.evaluate(() => document.activeElement.className === "skip" && document.activeElement.getBoundingClientRect().left >= 0) ? "" : "it does not");
  await read(page, frames);
  await find(page, frames);
  await layOver(page);
  say("no error in use", page.said.join("; "));
  await page.context().close();
  const plain = await open(browser, "index.html", { javaScriptEnabled: false });
  say("all is there without a script", await plain.locator(".frames > tbody > tr:visible").count() === frames.length && !(await plain.locator("#find:visible").count()) ? "" : "rows or controls");
  await print(plain, "index.html", frames);
  await plain.context().close();
}

async function drag(browser) {
  const page = await open(browser, "contact.html", { viewport: { width: 1280, height: 900 }, colorScheme: "dark" });
  await print(page, "contact.html", table("frames.tsv"));
  const place = page.locator(".place:has(img)").first();
  await place.evaluate(figure => figure.scrollIntoView({ block: "start" })); // the rows cover what lies below
  const box = await place.locator(".board").boundingBox();
  await page.mouse.move(box.x + box.width * 0.25, box.y + box.height * 0.2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width * 0.75, box.y + box.height * 0.6, { steps: 4 });
  await page.mouse.up();
  const name = await place.getAttribute("data-frame");
  const rows = () => page.inputValue("[name=patch-rows]");
  const near = text => text.startsWith(`${name}\tface-1\tall\t`) && text.trim().split("\t").slice(3, 7).map(parseFloat).every((v, i) => Math.abs(v - [25, 20, 50, 40][i]) < 0.6);
  say("a dragged box gives its row, tabs and per cent", near(await rows()) && /%\t/.test(await rows()) ? "" : JSON.stringify(await rows()));
  await page.fill("[name=x]", "30");
  say("and so does a typed one", (await rows()).includes("\t30%\t") ? "" : await rows());
  await page.check("[name=approved]");
  say("approval gives a row for job.tsv", new RegExp(`^${name}\t.*\tyes\n$`).test(await page.inputValue("[name=job-rows]")) ? "" : await page.inputValue("[name=job-rows]"));
  await page.fill("[name=subject]", "who");
  say("and so does a subject", (await page.inputValue("[name=job-rows]")).startsWith(`${name}\twho\t`) ? "" : await page.inputValue("[name=job-rows]"));
  if (shots) await page.screenshot({ path: `${shots}/drag.png` });
  say("no error in contact.html", page.said.join("; "));
  fs.writeFileSync(path.join(report, "dragged"), await rows());
  await page.context().close();
}

(async () => {
  const browser = await chromium.launch({ executablePath, args });
  if (widths.length > 1) await firstPaint(browser);
  await look(browser, "index.html");
  await look(browser, "contact.html");
  await use(browser);
  await drag(browser);
  await browser.close();
  console.log("# all was looked at");
})().catch(error => { say("the browser", error.stack); process.exitCode = 1; });
