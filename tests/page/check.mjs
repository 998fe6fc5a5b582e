// Looks at finished pages as a person would: in Chromium, at desktop, phone and paper size, in
// light and dark. Called by run.py: node check.mjs FOLDER CHROMIUM. For each NAME.html in the
// folder there is NAME.json, the answer of `check --format json` to the same question.

import { createRequire } from "node:module";
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [folder, chromiumPath] = process.argv.slice(2);
// The packages lie in the folder, not beside this file.
const require = createRequire(join(folder, "node_modules", "x.js"));
const { chromium } = require("playwright-core");
const { HtmlValidate, StaticConfigLoader } = require("html-validate");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const SIZES = { desktop: [1280, 900], phone: [390, 844] };
const PAPERS = ["A4", "Letter"];
// Smallest letters on a phone, in CSS pixels.
const LEAST_PX = 7;

const faults = [];
let asserted = 0;

function expect(good, page, what) {
  asserted += 1;
  if (!good) faults.push(`${page}: ${what}`);
}

async function validate(name, text) {
  const rules = {
    extends: ["html-validate:standard"],
    // Bytes, not looks: maud writes an empty SVG element with its end tag, and long lines.
    rules: { "no-trailing-whitespace": "off", "long-title": "off" },
  };
  const report = await new HtmlValidate(new StaticConfigLoader(rules)).validateString(text);
  const messages = report.results.flatMap((result) => result.messages);
  const told = messages.slice(0, 5).map((m) => `${m.ruleId} at ${m.line}:${m.column} ${m.message}`);
  expect(report.valid && messages.length === 0, name, `html-validate: ${told.join(" | ")}`);
}

function pointer(json, at) {
  const keys = at.split("/").slice(1);
  return keys.reduce((value, key) => (value === undefined ? undefined : value[key]), json);
}

async function numbers(name, page, json) {
  const tagged = await page.$$eval("[data-at]", (all) =>
    all.map((one) => [one.dataset.at, one.getAttribute("value") ?? one.dataset.value, one.textContent]),
  );
  expect(tagged.length > 20, name, `only ${tagged.length} numbers are tagged`);
  for (const [at, raw, shown] of tagged) {
    const told = pointer(json, at);
    expect(told === Number(raw), name, `${at}: ${raw}, JSON ${told}`);
    expect(shown.trim() !== "", name, `${at}: nothing is shown`);
  }
  return tagged.length;
}

// Everything that may be cut off or too small to read.
async function looks(name, size, page) {
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
  expect(wide <= 0, name, `${size}: the page is ${wide} px too wide`);
  const found = await page.$$eval(
    "svg[role=img]",
    (all, least) =>
      all.flatMap((svg) => {
        const outer = svg.getBoundingClientRect();
        return [...svg.querySelectorAll("text")].flatMap((text) => {
          const box = text.getBoundingClientRect();
          const out = box.left < outer.left - 1 || box.right > outer.right + 1 ||
            box.top < outer.top - 1 || box.bottom > outer.bottom + 1;
          const small = box.height < least;
          return out || small ? [`"${text.textContent}" ${out ? "cut off" : "too small"}`] : [];
        });
      }),
    LEAST_PX,
  );
  expect(found.length === 0, name, `${size}: ${found.slice(0, 4).join(", ")}`);
}

// What stands beside a name in an isolate stays at its side of it, wherever both are on one line.
async function order(name, size, page) {
  const [seen, wrong] = await page.evaluate(() => {
    let seen = 0;
    const wrong = [];
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const node = walker.currentNode;
      const box = (from, to) => {
        const range = document.createRange();
        range.setStart(node, from);
        range.setEnd(node, to);
        const boxes = [...range.getClientRects()].filter((one) => one.width > 0);
        const tops = boxes.map((one) => one.top);
        if (boxes.length === 0 || Math.max(...tops) - Math.min(...tops) > 4) return undefined;
        return { left: Math.min(...boxes.map((one) => one.left)), right: Math.max(...boxes.map((one) => one.right)), top: tops[0] };
      };
      for (const match of node.data.matchAll(/\u2068([^\u2069]*)\u2069/g)) {
        const [from, to] = [match.index, match.index + match[0].length];
        const inside = box(from + 1, to - 1);
        const before = from > 0 ? box(from - 1, from) : undefined;
        const after = to < node.data.length ? box(to, to + 1) : undefined;
        for (const [side, one] of [["before", before], ["after", after]]) {
          if (!inside || !one || Math.abs(one.top - inside.top) > 4) continue;
          seen += 1;
          const good = side === "before" ? one.right <= inside.left + 1 : one.left >= inside.right - 1;
          if (!good) wrong.push(`${side} "${match[1]}" in "${node.data.slice(0, 60)}"`);
        }
      }
    }
    return [seen, wrong];
  });
  expect(wrong.length === 0, name, `${size}: other order on the page: ${wrong.slice(0, 3).join(" | ")}`);
  if (name === "nasty") expect(seen > 10, name, `${size}: only ${seen} sides of names were looked at`);
}

async function accessible(name, look, page) {
  await page.evaluate(axe);
  const result = await page.evaluate(() => window.axe.run(document));
  const told = result.violations.map((v) => `${v.id}: ${v.nodes[0].target} ${v.nodes[0].failureSummary}`);
  expect(told.length === 0, name, `axe, ${look}: ${told.join(" | ")}`);
  expect(result.passes.length > 10, name, `axe looked at ${result.passes.length} rules only`);
}

async function one(browser, name) {
  const file = join(folder, `${name}.html`);
  const text = readFileSync(file, "utf8");
  const json = JSON.parse(readFileSync(join(folder, `${name}.json`), "utf8"));
  expect(text.includes("/reached/") === (json.reached !== undefined), name, "where tools reach is in both or in none");
  await validate(name, text);
  let count = 0;
  for (const scheme of ["light", "dark"]) {
    const context = await browser.newContext({ colorScheme: scheme });
    const page = await context.newPage();
    const noise = [];
    page.on("console", (message) => noise.push(message.text()));
    page.on("pageerror", (error) => noise.push(String(error)));
    page.on("request", (request) => {
      const url = request.url();
      if (!url.startsWith("file:") && !url.startsWith("data:")) noise.push(`asks for ${url}`);
    });
    for (const [size, [width, height]] of Object.entries(SIZES)) {
      await page.setViewportSize({ width, height });
      await page.goto(pathToFileURL(file).href);
      await page.screenshot({ path: join(folder, `${name}-${size}-${scheme}.png`), fullPage: true });
      await unfold(name, page);
      await looks(name, `${size}, ${scheme}`, page);
      await order(name, `${size}, ${scheme}`, page);
    }
    expect(noise.length === 0, name, `${scheme}: ${noise.slice(0, 3).join(" | ")}`);
    await accessible(name, scheme, page);
    count = await numbers(name, page, json);
    await keyboard(name, page);
    if (scheme === "light") {
      const sheets = await printed(name, page, "");
      await unfold(name, page);
      const unfolded = await printed(name, page, "-unfolded");
      const folds = (await page.$$("details")).length > 0;
      expect(folds === sheets < unfolded, name, `${sheets} sheets, ${unfolded} unfolded`);
      expect(folds === (name === "steps"), name, "smaller faces are folded up, and nothing else");
      await pictures(name, page);
    }
    await context.close();
  }
  console.log(`${name}: ${count} numbers equal the JSON's`);
}

// What is folded up is a dial or a table to be looked at like all others. Its summary says what it is, and is
// a stop of the keyboard that unfolds it.
async function unfold(name, page) {
  for (const fold of await page.$$("details")) {
    expect(!(await fold.evaluate((one) => one.open)), name, "unfolded from the start");
    const summary = await fold.$("summary");
    expect(/^\d+ more dials?, /.test(await summary.textContent()), name, "no count of what is folded up");
    await summary.focus();
    await page.keyboard.press("Enter");
    expect(await fold.evaluate((one) => one.open), name, "the keyboard does not unfold it");
    const hidden = await fold.$$eval("svg[role=img], table", (all) => all.filter((one) => one.getBoundingClientRect().height < 50).length);
    expect(hidden === 0, name, `${hidden} pictures are not to be seen though unfolded`);
  }
}

// PDF files; how many sheets of A4 there are.
async function printed(name, page, how) {
  let sheets;
  for (const paper of PAPERS) {
    const pdf = await page.pdf({ format: paper, preferCSSPageSize: false, printBackground: true });
    writeFileSync(join(folder, `${name}-${paper}${how}.pdf`), pdf);
    sheets ??= pdf.toString("latin1").match(/\/Type \/Page\b(?!s)/g)?.length;
  }
  return sheets;
}

// The first key press reaches the skip link, which leads to the answer.
async function keyboard(name, page) {
  await page.reload();
  await page.keyboard.press("Tab");
  const first = await page.evaluate(() => document.activeElement.getAttribute("href"));
  expect(first === "#answer", name, `the first stop of the keyboard is ${first}`);
}

// One gap drawing and one dial by themselves.
async function pictures(name, page) {
  await page.setViewportSize({ width: 1280, height: 900 });
  for (const [what, selector] of [["gap", "figure.gap .views"], ["dial", "figure.dial svg"], ["reached", "#reached .dials"]]) {
    const element = await page.$(selector);
    if (element) await element.screenshot({ path: join(folder, `${name}-${what}.png`) });
  }
}

const browser = await chromium.launch({ executablePath: chromiumPath, args: ["--no-sandbox"] });
const names = readdirSync(folder).filter((file) => file.endsWith(".html"));
for (const name of names) await one(browser, name.replace(/\.html$/, ""));
await browser.close();
faults.forEach((fault) => console.error(`FAULT ${fault}`));
console.log(`${asserted - faults.length} passed, ${faults.length} failed`);
process.exit(faults.length > 0 || names.length === 0 ? 1 : 0);
