// What the page promises, checked in a real Chromium. Every failure is collected; the status is 1 if there is one.

import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { HtmlValidate } from "html-validate";
import { chromium } from "playwright-core";
import { faultless, hostile, hostileTexts, large } from "./banks.mjs";

const [program, work, pictures] = process.argv.slice(2);
const axe = readFileSync(join(import.meta.dirname, "node_modules/axe-core/axe.min.js"), "utf8");
const failures = [];
const fail = (where, what) => {
  failures.push(`${where}: ${what}`);
  console.log(`FAILED ${where}: ${what}`);
};
const check = (good, where, what) => good || fail(where, what);

function audit(name, paths, options = []) {
  const out = join(work, name);
  try {
    execFileSync(program, ["audit", ...paths, "--quiet", "--out", out, "--fail-on", "never", ...options], { cwd: work });
  } catch (error) {
    fail(name, `the audit ended with ${error.status}: ${error.stderr}`);
  }
  return out;
}

function csvRows(file) {
  const rows = [];
  let [row, cell, quoted] = [[], "", false];
  const text = readFileSync(file, "utf8");
  for (let at = 0; at < text.length; at += 1) {
    const c = text[at];
    if (quoted) {
      if (c === "\"" && text[at + 1] === "\"") { cell += c; at += 1; } else if (c === "\"") quoted = false;
      else cell += c;
    } else if (c === "\"") quoted = true;
    else if (c === ",") { row.push(cell); cell = ""; } else if (c === "\n") { rows.push([...row, cell]); row = []; cell = ""; } else cell += c;
  }
  const [head, ...rest] = rows;
  return rest.map((own) => Object.fromEntries(head.map((column, at) => [column, own[at]])));
}

const profile = mkdtempSync(join(work, "profile-"));
const browser = await chromium.launchPersistentContext(profile, {
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  headless: true,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync"],
});
const engine = browser.browser();

// Opens a page and watches it: nothing on the console, nothing asked of the network.
async function open(file, { width = 1600, height = 1000, scheme = "light", scripts = true, hash = "" } = {}) {
  const context = await engine.newContext({ viewport: { width, height }, colorScheme: scheme, javaScriptEnabled: scripts });
  const page = await context.newPage();
  const url = pathToFileURL(file).href;
  page.on("console", (message) => fail(file, `console: ${message.type()} ${message.text()}`));
  page.on("pageerror", (error) => fail(file, `error: ${error}`));
  page.on("dialog", (dialog) => { fail(file, `dialog: ${dialog.message()}`); dialog.dismiss(); });
  page.on("request", (request) => {
    const own = request.isNavigationRequest() && request.url().startsWith(pathToFileURL(work).href);
    check(own, file, `request to ${request.url()}`);
  });
  await page.goto(url + hash);
  return page;
}

const close = (page) => page.context().close();

async function noOverflow(page, where) {
  const wide = await page.evaluate(() => {
    const width = document.documentElement.clientWidth;
    const inScroller = (element) => element.closest(".wide");
    const beyond = [...document.querySelectorAll("body *")].filter((element) =>
      element.getBoundingClientRect().right > width + 1 && !inScroller(element) && getComputedStyle(element).position !== "absolute");
    return { scroll: document.documentElement.scrollWidth, width, beyond: beyond.slice(0, 3).map((own) => own.outerHTML.slice(0, 120)) };
  });
  check(wide.scroll <= wide.width, where, `is ${wide.scroll} px wide in a window of ${wide.width}`);
  check(wide.beyond.length === 0, where, `reaches out of the window: ${wide.beyond.join(" | ")}`);
}

// axe reads every element, and cards are alike: most runs look at every eighth card, without the insides of its drawings.
async function accessible(page, where, { all = false } = {}) {
  await page.evaluate(axe);
  if (!all) {
    await page.evaluate(() => {
      document.querySelectorAll("article.card").forEach((card, at) => { if (at % 8) card.remove(); });
      document.querySelectorAll(".ka-drawing > g").forEach((part) => part.remove());
    });
  }
  const violations = await page.evaluate(async () => {
    const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
    const { violations } = await window.axe.run(document, { runOnly: tags, resultTypes: ["violations"] });
    return violations.map((own) => `${own.id}: ${own.help}: ${own.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")}`);
  });
  for (const violation of violations) fail(where, `axe: ${violation}`);
}

// Rows of a list are alike: the checks that read every element look at the first ones.
const fewerRows = () => document.querySelectorAll(".rows > li").forEach((row, at) => { if (at >= 300) row.remove(); });

async function looks(name, file, { few = false } = {}) {
  for (const width of [390, 800, 1000, 1400]) {
    // Colours do not depend on the width: the widths between are looked at for their layout.
    const between = width === 800 || width === 1000;
    // Pages that are alike are looked at in one scheme a width.
    for (const scheme of between || (few && width > 400) ? ["light"] : few ? ["dark"] : ["light", "dark"]) {
      const where = `${name} at ${width} px, ${scheme}`;
      const page = await open(file, { width, scheme });
      await page.evaluate(fewerRows);
      await noOverflow(page, where);
      if (pictures) await page.screenshot({ path: join(pictures, `${name}-${width}-${scheme}.png`), fullPage: false });
      if (!between) await accessible(page, where);
      await close(page);
    }
  }
}

const validator = new HtmlValidate({
  extends: ["html-validate:recommended"],
  rules: {
    // Their style, not ours; both are valid HTML.
    "void-style": "off", "no-trailing-whitespace": "off", "long-title": "off",
    // Ids of lists hold the names of findings.
    "valid-id": ["error", { relaxed: true }],
  },
});

async function valid(name, folder, files) {
  for (const file of files) {
    let rows = 0;
    const lines = readFileSync(join(folder, file), "utf8").split("\n")
      .filter((line) => !line.startsWith("<ol class=\"rows\"><li><a href=") || (rows += 1) <= 2);
    const report = await validator.validateString(lines.join("\n"), file);
    for (const result of report.results) {
      const messages = result.messages.map((own) => `${file}:${own.line}:${own.column} ${own.ruleId}: ${own.message}`);
      for (const message of new Set(messages.slice(0, 5))) fail(name, `html-validate: ${message}`);
    }
  }
}

// By boxes: computed styles inside `content-visibility` cost Chromium a layout each.
const shownIds = (page) => page.evaluate(() => [...document.querySelectorAll("article.card")]
  .filter((card) => card.getClientRects().length > 0).map((card) => card.querySelector("h3 bdi").textContent));

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

// The filter and the lists against the CSV of the same audit.
async function filters(folder, scripts) {
  const where = `filter, scripts ${scripts ? "on" : "off"}`;
  const rows = csvRows(join(folder, "audit.csv"));
  const ids = (wanted) => [...new Set(rows.filter(wanted).map((row) => row.item))];
  const page = await open(join(folder, "audit.html"), { scripts });
  const [severity, finding, slip, file] = [0, 1, 2, 3].map((at) => page.locator("#filter select").nth(at));
  check(same(await shownIds(page), ids(() => true)), where, "does not show every item at first");
  const values = async (select) => (await select.locator("option").all()).slice(1);
  let tried = 0;
  for (const [select, column] of [[finding, "finding"], [slip, "slip"], [file, "file"]]) {
    for (const option of await values(select)) {
      const name = (await option.textContent()).replace(/ \(\d+\)$/, "");
      await select.selectOption(await option.getAttribute("value"));
      const wanted = ids((row) => (column === "slip" ? row.slip.split(" ").includes(name) : row[column] === name));
      check(same(await shownIds(page), wanted), where, `${column} ${name} shows other cards`);
      const status = scripts ? await page.locator("#shown").textContent() : "";
      check(!scripts || status.startsWith(`${wanted.length} of `), where, `counts ${status}, not ${wanted.length}`);
      tried += 1;
    }
    await select.selectOption({ index: 0 });
  }
  await severity.selectOption("s-error");
  await file.selectOption({ index: 1 });
  const first = rows[0].file;
  const worst = ids((row) => row.severity === "error" && row.file === first);
  check(same(await shownIds(page), worst), where, "severity and file together show other cards");
  check(tried > 10, where, `only ${tried} choices tried`);
  await page.locator("#findings > summary").click();
  const summary = page.locator("#findings li summary", { hasText: "mismatched-product" }).first();
  await summary.click();
  const listed = await page.locator("#findings li details[open] tbody th").allTextContents();
  check(same(listed, ids((row) => row.finding === "mismatched-product")), where, "the list of mismatched-product has other items");
  await close(page);
  console.log(`${where}: ${tried} choices compared with audit.csv`);
}

// Links from the lists land on their cards, though cards out of view have no size yet.
async function landing(folder) {
  for (const scripts of [true, false]) {
    const page = await open(join(folder, "audit.html"), { scripts });
    const targets = await page.evaluate(() => [...document.querySelectorAll(".ids a")].map((own) => own.hash));
    for (const hash of targets.filter((_, at) => at % 20 === 10)) {
      await page.locator(`.ids a[href="${hash}"]`).click();
      await page.waitForTimeout(100);
      const top = await page.evaluate((own) => document.querySelector(own).getBoundingClientRect().top, hash);
      check(top > -5 && top < 400, "landing", `${hash} is at ${Math.round(top)} px`);
      await page.evaluate(() => window.scrollTo(0, 0));
    }
    await close(page);
  }
}

async function liveFilter(folder) {
  const page = await open(join(folder, "audit.html"));
  await page.locator("#filter input").fill("ozone");
  const hits = await page.locator("article.card:visible").allTextContents();
  check(hits.length > 0 && hits.every((text) => /ozone/i.test(text)), "text filter", `shows ${hits.length} cards`);
  await page.locator("#filter input").fill("");
  const order = page.locator("#filter button", { hasText: "finding" }).first();
  await order.click();
  const names = await page.locator(".rows > li > code + span").allTextContents();
  check(same(names, [...names].sort()) && new Set(names).size > 5, "list", "is not in the order of findings");
  await page.locator("article.card input[type=checkbox]").first().check();
  await page.locator("#filter button", { hasText: /^seen$/ }).click();
  const known = await page.locator("#filter textarea").inputValue();
  check(/^item,finding,reason,until\n[^\n]+,[a-z-]+,,/.test(known), "list of known findings", known.slice(0, 100));
  await page.reload();
  check(await page.locator("article.card input[type=checkbox]:checked").count() === 1, "ticks", "do not stay");
  await page.locator("h1").click();
  const at = async () => new URL(page.url()).hash;
  await page.keyboard.press("n");
  const first = await at();
  await page.waitForTimeout(200);
  await page.keyboard.press("n");
  await page.waitForTimeout(200);
  check(first === "#c1" && await at() === "#c2", "next card", `goes to ${first}, then to ${await at()}`);
  await page.keyboard.press("p");
  await page.waitForTimeout(200);
  check(await at() === "#c1", "previous card", `goes to ${await at()}`);
  await close(page);
}

// Tab reaches every control in the order of the page, and each shows that it has the focus.
async function keyboard(folder) {
  for (const scripts of [true, false]) {
    const page = await open(join(folder, "audit.html"), { scripts });
    const wanted = await page.evaluate(() => {
      const all = [...document.querySelectorAll("a[href], select, input, button, textarea, summary, [tabindex='0']")].filter((own) => own.checkVisibility());
      all.forEach((own, at) => { own.dataset.at = at; });
      return all.length;
    });
    const seen = [];
    const outlines = new Map();
    for (let at = 0; at < wanted + 2; at += 1) {
      await page.keyboard.press("Tab");
      const [number, kind, visible] = await page.evaluate(() => {
        const own = document.activeElement;
        return [own?.dataset?.at, own?.tagName, own?.matches(":focus-visible")];
      });
      if (number === undefined) break;
      seen.push(Number(number));
      if (!visible) outlines.set(`control ${number}`, "none");
      else if (!outlines.has(kind)) outlines.set(kind, await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle));
    }
    const where = `keyboard, scripts ${scripts ? "on" : "off"}`;
    check(same(seen.slice(0, wanted), Array.from({ length: wanted }, (_, at) => at)), where, `reached ${new Set(seen).size} of ${wanted} controls in order`);
    for (const [kind, style] of outlines) check(style !== "none", where, `${kind} does not show the focus`);
    console.log(`${where}: ${wanted} controls reached`);
    await close(page);
  }
  const page = await open(join(folder, "audit.html"));
  await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  check(new URL(page.url()).hash === "#items", "keyboard", "the first link does not skip to the items");
  const summary = page.locator("summary").first();
  await summary.focus();
  await page.keyboard.press("Enter");
  check(await page.locator("details[open]").count() > 0, "keyboard", "Enter does not unfold a list");
  await close(page);
}

// The list of a whole large audit: how fast its filter answers, and that the first card or the list begins early on a page.
async function listFilter(folder) {
  const page = await open(join(folder, "audit-items.html"), { width: 1400 });
  const wanted = await page.locator(".rows > li").count();
  check(wanted === 20000, "list of all", `${wanted} items`);
  let slowest = 0;
  for (const text of ["HM-1", "HM-19", "question 7", "charge", ""]) {
    slowest = Math.max(slowest, await page.evaluate((own) => {
      const field = document.querySelector("#filter input");
      field.value = own;
      const from = performance.now();
      field.dispatchEvent(new Event("input", { bubbles: true }));
      document.body.getBoundingClientRect();
      return performance.now() - from;
    }, text));
  }
  // The figure is for who reads it; what fails is a filter that takes for ever, on whatever machine this is.
  check(slowest < 5000, "list of all", `the filter answers in ${Math.round(slowest)} ms`);
  console.log(`list of all: 20000 items, the filter answers in ${Math.round(slowest)} ms at the most`);
  await close(page);
}

async function beginsEarly(folder) {
  const page = await open(join(folder, "audit.html"), { width: 1400 });
  const top = await page.evaluate(() => document.querySelector(".rows").getBoundingClientRect().top);
  check(top <= 1200, "first page", `the list begins at ${Math.round(top)} px`);
  console.log(`first page: the list begins at ${Math.round(top)} px`);
  await close(page);
}

async function prints(folder) {
  const page = await open(join(folder, "audit.html"));
  for (const format of ["A4", "Letter"]) {
    const pdf = await page.pdf({ format });
    const pages = (pdf.toString("latin1").match(/\/Type \/Page\b/g) ?? []).length;
    check(pages > 5, "print", `${format}: ${pages} pages`);
    console.log(`print: ${pages} pages of ${format}`);
  }
  await page.emulateMedia({ media: "print", colorScheme: "dark" });
  const state = await page.evaluate(() => ({
    filter: getComputedStyle(document.querySelector(".filter")).display,
    ground: getComputedStyle(document.body).backgroundColor,
    ink: getComputedStyle(document.body).color,
  }));
  check(state.filter === "none", "print", "shows the filter");
  const light = (colour) => colour.match(/\d+/g).slice(0, 3).reduce((sum, own) => sum + Number(own), 0);
  check(light(state.ground) > 600 && light(state.ink) < 300, "print", `is not dark on light: ${JSON.stringify(state)}`);
  await close(page);
}

async function drawings(folder) {
  const page = await open(join(folder, "audit.html"));
  const bad = await page.evaluate(() => {
    const levels = [...document.querySelectorAll("h1,h2,h3,h4")].map((own) => Number(own.tagName[1]));
    const jumps = levels.filter((level, at) => at > 0 && level > levels[at - 1] + 1).length;
    const drawn = [...document.querySelectorAll(".ka-drawing")];
    const named = (own) => own.querySelector("title")?.textContent && own.querySelector("desc")?.textContent.length > 10;
    const frames = [...document.querySelectorAll(".panels")].map((own) => new Set([...own.querySelectorAll("svg")].map((svg) => svg.getAttribute("viewBox"))).size);
    return { first: levels[0], jumps, unnamed: drawn.filter((own) => !named(own)).length, drawn: drawn.length, one: frames.filter((size) => size === 1).length };
  });
  check(bad.first === 1 && bad.jumps === 0, "headings", JSON.stringify(bad));
  check(bad.drawn > 100 && bad.unnamed === 0, "drawings", `${bad.unnamed} of ${bad.drawn} without title and desc`);
  check(bad.one > 30, "drawings", `only ${bad.one} cards draw all structures in one frame`);
  await close(page);
}

async function hostilePage(folder) {
  for (const file of readdirSync(folder).filter((name) => name.endsWith(".html"))) {
    for (const [width, scripts] of [[1600, true], [400, true], [1600, false]]) {
      const where = `hostile ${file} at ${width} px`;
      const page = await open(join(folder, file), { width, scripts });
      await noOverflow(page, where);
      const state = await page.evaluate(() => ({
        hacked: window.hacked,
        strange: document.querySelectorAll("main img, main iframe, main script, main style, main link, main object, main [onload], main [onerror], main [onfocus], main [onmouseover]").length,
        links: [...document.querySelectorAll("[href], [src]")].map((own) => own.getAttribute("href") ?? own.getAttribute("src"))
          .filter((link) => !/^(#|audit(-[a-z0-9-]+)?\.html)/.test(link)),
        prompts: [...document.querySelectorAll(".prompt")].map((own) => own.textContent),
        footer: getComputedStyle(document.querySelector("footer")).direction,
      }));
      check(state.hacked === undefined, where, `a script of the bank ran: ${state.hacked}`);
      check(state.strange === 0, where, `${state.strange} elements came from the bank`);
      check(state.links.length === 0, where, `links: ${state.links.slice(0, 3)}`);
      check(state.footer === "ltr", where, "the direction of writing leaks");
      if (file === "audit.html") {
        for (const [name, text] of Object.entries(hostileTexts)) {
          const start = text.replace(/[\u0000\u0007\u001b\uFFFE\uFFFF\u{1FFFE}]/gu, "\uFFFD").trim().slice(0, 1900);
          check(state.prompts.some((own) => own.trim().startsWith(start)), where, `does not show the text '${name}'`);
        }
      }
      if (scripts) await accessible(page, where);
      await close(page);
    }
  }
}

// Every page of a large audit opens, from the request to the end of the first layout. The figure is for who reads it; what fails is a
// page that takes for ever, on whatever machine this is.
async function opensFast(folder) {
  const files = readdirSync(folder).filter((name) => name.endsWith(".html"));
  let [slowest, slowestFile, cards] = [0, "", 0];
  for (const file of files) {
    let time = Infinity;
    for (let attempt = 0; attempt < 2 && time >= 2000; attempt += 1) {
      const page = await open(join(folder, file));
      time = await page.evaluate(() => {
        document.body.getBoundingClientRect();
        return performance.now();
      });
      cards += attempt === 0 ? await page.locator("article.card").count() : 0;
      await close(page);
    }
    check(time < 30000, "large audit", `${file} opens in ${Math.round(time)} ms`);
    if (time > slowest) [slowest, slowestFile] = [time, file];
  }
  check(cards === 20000, "large audit", `${cards} cards on all pages, not 20000`);
  console.log(`large audit: ${files.length} pages, the slowest (${slowestFile}) opens in ${Math.round(slowest)} ms`);
}

// Pages, lists and their links: every link leads to an anchor that is there.
async function linked(name, folder) {
  const files = readdirSync(folder).filter((own) => own.endsWith(".html"));
  const texts = new Map(files.map((file) => [file, readFileSync(join(folder, file), "utf8")]));
  const ids = new Map([...texts].map(([file, text]) => [file, new Set([...text.matchAll(/ id="([^"]+)"/g)].map((match) => match[1]))]));
  let count = 0;
  for (const [file, text] of texts) {
    for (const [, href] of text.matchAll(/ href="([^"]+)"/g)) {
      const [target, hash] = href.split("#");
      const there = ids.get(target || file);
      check(there && (!hash || there.has(hash)), name, `${file} links to ${href}, which is not there`);
      count += 1;
    }
  }
  console.log(`${name}: ${count} links in ${files.length} pages lead somewhere`);
}

const htmlFiles = (folder) => readdirSync(folder).filter((name) => name.endsWith(".html"));

const sections = {
  async demonstration() {
    const folder = audit("demonstration", []);
    await looks("demonstration", join(folder, "audit.html"));
    const page = await open(join(folder, "audit.html"));
    await accessible(page, "demonstration, every card", { all: true });
    await close(page);
    await linked("demonstration", folder);
    await valid("demonstration", folder, ["audit.html"]);
  },
  async controls() {
    const folder = audit("controls", []);
    await filters(folder, true);
    await filters(folder, false);
    await liveFilter(folder);
    await landing(folder);
    await keyboard(folder);
    await beginsEarly(folder);
  },
  async paper() {
    const folder = audit("paper", []);
    await prints(folder);
    await drawings(folder);
  },
  async sound() {
    await linked("all", audit("all", [], ["--all", "--write", "html"]));
    faultless(join(work, "sound-bank"));
    const folder = audit("sound", ["sound-bank"]);
    await looks("sound", join(folder, "audit.html"));
    await valid("sound", folder, ["audit.html"]);
  },
  async hostile() {
    hostile(join(work, "hostile-bank"));
    const folder = audit("hostile", ["hostile-bank"]);
    await hostilePage(folder);
    await linked("hostile", folder);
    await valid("hostile", folder, htmlFiles(folder));
  },
  async large() {
    large(join(work, "large-bank"), 20000);
    const folder = audit("large", ["large-bank"], ["--write", "html"]);
    await opensFast(folder);
    await listFilter(folder);
    await linked("large", folder);
    const some = ["audit-2.html", "audit-items.html"];
    for (const file of some) await looks(`large-${file}`, join(folder, file), { few: true });
    await valid("large", folder, ["audit.html", "audit-mismatched-product.html", ...some]);
  },
};

const only = process.env.KEYASSAY_BROWSER_ONLY?.split(",");
for (const [name, section] of Object.entries(sections).filter(([own]) => !only || only.includes(own))) {
  const from = Date.now();
  await section();
  console.log(`${name}: ${Math.round((Date.now() - from) / 1000)} s`);
}
await browser.close();
console.log(failures.length ? `${failures.length} failures` : "the page holds what it promises");
process.exit(failures.length ? 1 : 0);
