// Looks at the pages of a report in headless Chromium, as a person would; prints one line a check:
// "ok NAME" or "not ok NAME: WHY". usage: node report-pages.cjs NPM CHROMIUM REPORT WIDTHS [SHOTS]
"use strict";
const [npm, executablePath, report, widths, shots] = process.argv.slice(2);
const fs = require("fs");
const path = require("path");
const { chromium } = require(path.resolve(npm, "node_modules/playwright-core"));
const axe = fs.readFileSync(path.resolve(npm, "node_modules/axe-core/axe.min.js"), "utf8");
const say = (name, why) => console.log(why ? `not ok ${name}: ${String(why).replace(/\s+/g, " ").slice(0, 600)}` : `ok ${name}`);
const args = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];

async function open(browser, name, width, colorScheme, options) {
  const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme, ...options });
  const page = await context.newPage();
  page.said = [];
  page.on("console", message => page.said.push(message.text()));
  page.on("pageerror", error => page.said.push(error.message));
  page.on("request", request => { if (!/^(file|data):/.test(request.url())) page.said.push(`asks for ${request.url()}`); });
  await page.goto(`file://${path.resolve(report, name)}`);
  return page;
}

async function look(browser, name, width, scheme) {
  const page = await open(browser, name, width, scheme);
  const where = `${name}, ${width} px, ${scheme}`;
  const broken = await page.evaluate(async () => {
    for (const img of document.images) img.loading = "eager";
    const all = await Promise.all([...document.images].map(img => img.decode().then(() => "", () => img.src)));
    return all.filter(Boolean).slice(0, 3).join(" ");
  });
  say(`no broken picture: ${where}`, broken);
  say(`nothing lies outside its width: ${where}`, await page.evaluate(() => document.documentElement.scrollWidth > innerWidth ? document.documentElement.scrollWidth : ""));
  if (shots) await page.screenshot({ path: `${shots}/${name}-${width}-${scheme}.png` });
  say(`no error: ${where}`, page.said.join("; "));
  await page.context().close();
  // The rules come in as a script, which the page's own policy would rightly refuse.
  const judged = await open(browser, name, width, scheme, { bypassCSP: true });
  await judged.evaluate(axe);
  const found = await judged.evaluate(() => axe.run());
  say(`axe-core finds nothing (${found.passes.length} rules passed): ${where}`,
    found.violations.map(v => `${v.id} ${v.nodes.length} ${v.nodes[0].html}`).join("; ") || (found.passes.length > 20 ? "" : "few rules ran"));
  await judged.context().close();
}

async function use(browser) {
  const page = await open(browser, "index.html", 1280, "light");
  const names = () => page.$$eval(".frames > tbody > tr", rows => rows.filter(row => !row.hidden).map(row => row.querySelector(".name").textContent));
  const all = await names();
  const table = fs.readFileSync(path.join(report, "frames.tsv"), "utf8").trim().split("\n").map(line => line.split("\t"));
  const column = name => table[0].indexOf(name);
  const frames = table.slice(1).filter(row => row[column("state")] !== "card");
  say("every frame has its row", all.length === frames.length ? "" : `${all.length} of ${frames.length}`);
  const wrong = [];
  for (const row of frames) {
    const shown = await page.$eval(`[id="f-${row[column("id")]}"]`, tr => [...tr.querySelectorAll(".numbers tbody tr:last-child td")].map(td => td.textContent));
    if (shown.length && shown[0] !== Number(row[column("after_L")]).toFixed(1)) wrong.push(`${row[0]} ${shown[0]} ${row[column("after_L")]}`);
  }
  say("figures are those of frames.tsv", wrong.join("; "));
  const counts = Object.fromEntries(await page.$$eval(".counts > div", divs => divs.map(div => [div.children[0].textContent, Number(div.children[1].textContent)])));
  const summary = JSON.parse(fs.readFileSync(path.join(report, "summary.json"), "utf8"));
  say("counts are those of summary.json", ["frames", "on", "held", "off", "unsure", "failed"].filter(key => counts[key] !== summary[key]).join());
  const rank = ["failed", "off", "unsure"];
  const verdicts = await page.$$eval(".frames > tbody > tr", rows => rows.map(row => row.dataset.verdict));
  const ranks = verdicts.map(v => rank.includes(v) ? rank.indexOf(v) : 9);
  say("the worst come first", ranks.some((r, i) => i && r < ranks[i - 1]) || ranks[0] === 9 ? verdicts.join() : "");
  const camera = await page.$eval("#find [name=camera] option:nth-child(2)", o => o.textContent);
  await page.selectOption("#find [name=camera]", camera);
  const some = await page.$$eval(".frames > tbody > tr:not([hidden])", rows => rows.map(row => row.dataset.camera));
  say("a filter leaves one camera", some.length === 0 || some.length === all.length || some.some(c => c !== camera) ? some.join() : "");
  await page.selectOption("#find [name=camera]", "");
  await page.selectOption("#find [name=order]", "place");
  say("sorting gives the order of frames.tsv", (await names()).join() === frames.map(row => row[0]).join() ? "" : "other order");
  await page.click(".frames .over >> nth=1");
  const style = () => page.$eval(".stack img:last-child", img => img.style.clipPath);
  const which = () => page.textContent("#over-which");
  await page.waitForSelector("dialog[open]");
  if (shots) { await page.waitForTimeout(300); await page.screenshot({ path: `${shots}/over.png` }); }
  const first = await which();
  await page.click("#over-flip");
  const second = await which();
  say("two pictures lie over each other and flip", first === "after" && second === "before" ? "" : `${first} ${second}`);
  await page.focus("#over-wipe");
  for (let i = 0; i < 40; i++) await page.keyboard.press("ArrowLeft");
  say("and wipe, by keyboard", /inset\(0(px)? 40%/.test(await style()) ? "" : await style());
  await page.keyboard.press("Escape");
  say("Escape closes them", await page.$("dialog[open]"));
  say("no error in use", page.said.join("; "));
  await page.context().close();
  const plain = await open(browser, "index.html", 1280, "light", { javaScriptEnabled: false });
  say("all is there without a script", await plain.locator(".frames > tbody > tr:visible").count() === all.length && !(await plain.locator("#find:visible").count()) ? "" : "rows or controls");
  const pdf = await plain.pdf({ preferCSSPageSize: true, printBackground: true });
  fs.writeFileSync(path.join(shots || report, "index.pdf"), pdf);
  const pages = (pdf.toString("latin1").match(/\/Type \/Page\b/g) || []).length;
  say(`24 frames print on 4 pages at most, more on a sixth (${frames.length} on ${pages})`, pages > 0 && pages <= Math.max(4, frames.length / 6) ? "" : pages);
  await plain.context().close();
}

async function drag(browser) {
  const page = await open(browser, "contact.html", 1280, "dark");
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
  if (shots) await page.screenshot({ path: `${shots}/drag.png` });
  say("no error in contact.html", page.said.join("; "));
  fs.writeFileSync(path.join(report, "dragged"), await rows());
  await page.context().close();
}

(async () => {
  const browser = await chromium.launch({ executablePath, args });
  for (const name of ["index.html", "contact.html"])
    for (const width of widths.split(",").map(Number))
      for (const scheme of ["light", "dark"])
        await look(browser, name, width, scheme);
  await use(browser);
  await drag(browser);
  await browser.close();
})().catch(error => { say("the browser", error.stack); process.exitCode = 1; });
