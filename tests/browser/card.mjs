// The picture of one card of the demonstration bank for the README.

import { execFileSync } from "node:child_process";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const [program, work, picture] = process.argv.slice(2);
const out = join(work, "demonstration");
execFileSync(program, ["audit", "--quiet", "--write", "html", "--out", out]);
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync"],
});
const page = await browser.newPage({ viewport: { width: 1100, height: 900 }, deviceScaleFactor: 1.5 });
await page.goto(pathToFileURL(join(out, "audit.html")).href);
// Cards that are not in view are not laid out, and their neighbours move when they are.
await page.addStyleTag({ content: ".card { content-visibility: visible !important; margin: 0 !important }" });
// The second form of an enolate whose oxygen lost its charge in copying.
await page.locator("article.card:has(h3 bdi:text-is('HM-2009-r02'))").screenshot({ path: picture });
await browser.close();
