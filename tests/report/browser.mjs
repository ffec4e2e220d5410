// The report in a browser: what it looks like, what it asks for, and what axe-core says of it.
//
//   node browser.mjs NODE_MODULES CHROMIUM REPORT.html DIRECTORY
//
// Puts screenshots and a print into DIRECTORY, and prints one JSON object.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [modules, executablePath, file, directory] = process.argv.slice(2);
const require = createRequire(pathToFileURL(`${modules}/`));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const quiet = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
];
const sizes = { desktop: [1280, 900], telephone: [390, 844], small: [360, 740] };
const found = { requests: [], violations: [], overflow: {}, outline: [], sideways: [], letters: {}, checked: 0 };

const browser = await chromium.launch({ executablePath, args: quiet });
try {
  for (const colorScheme of ["light", "dark"]) {
    // The page's own policy forbids scripts; the check's has to run all the same.
    const context = await browser.newContext({ colorScheme, bypassCSP: true });
    const page = await context.newPage();
    page.on("request", (request) => {
      if (!request.url().startsWith("file:")) found.requests.push(request.url());
    });
    await page.goto(pathToFileURL(file).href);
    for (const [name, [width, height]] of Object.entries(sizes)) {
      await page.setViewportSize({ width, height });
      await page.screenshot({ path: `${directory}/${name}-${colorScheme}.png`, fullPage: true });
      found.overflow[`${name}-${colorScheme}`] = await page.evaluate(
        () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
      );
      // What has to be moved sideways by itself, but for tables; and the smallest letters, in pixels.
      found.sideways.push(
        ...(await page.evaluate(() =>
          [...document.querySelectorAll("body *")]
            .filter((e) => e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX !== "visible")
            .filter((e) => !e.querySelector(":scope > table"))
            .map((e) => e.outerHTML.slice(0, 80)),
        )),
      );
      found.letters[`${name}-${colorScheme}`] = await page.evaluate(() => {
        const high = (e) => {
          const own = Number.parseFloat(getComputedStyle(e).fontSize);
          const svg = e.closest("svg");
          return svg ? (own * svg.getBoundingClientRect().width) / svg.viewBox.baseVal.width : own;
        };
        const seen = [...document.querySelectorAll("main *")].filter(
          (e) => e.getClientRects().length > 0 && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()),
        );
        return Math.min(...seen.filter((e) => !["title", "desc"].includes(e.tagName)).map(high));
      });
      await page.evaluate(axe);
      const result = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
      found.checked += result.passes.length;
      for (const violation of result.violations) {
        found.violations.push(
          `${name} ${colorScheme}: ${violation.id}: ${violation.help}: ${violation.nodes[0].html.slice(0, 200)}`,
        );
      }
    }
    if (colorScheme === "light") {
      found.outline = await page.evaluate(() =>
        [...document.querySelectorAll("h1, h2, caption")].map((e) => `${e.tagName} ${e.textContent}`),
      );
      await page.pdf({ path: `${directory}/print-a4.pdf`, format: "A4", preferCSSPageSize: false });
      await page.pdf({ path: `${directory}/print-letter.pdf`, format: "Letter" });
    }
    await context.close();
  }
} finally {
  await browser.close();
}
console.log(JSON.stringify(found));
