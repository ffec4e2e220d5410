// A browser that does as it is told: one JSON command a line in, one JSON answer a line out, with the command's number.
// Many use it at once, each under a name of their own.
//
//   node browser.mjs NODE_MODULES CHROMIUM
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";
import { pathToFileURL } from "node:url";

const [modules, executablePath] = process.argv.slice(2);
const require = createRequire(pathToFileURL(`${modules}/`));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const args = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
];
const browser = await chromium.launch({ executablePath, args });
const everybody = new Map();

const commands = {
  // Each page is a visitor of their own, with their own cookies.
  async open({ pages, outside, broken }, { page, url, width = 1280, height = 900, dark, language, script = true, still }) {
    const context = await browser.newContext({
      colorScheme: dark ? "dark" : "light",
      reducedMotion: still ? "reduce" : "no-preference",
      locale: language ?? "en",
      javaScriptEnabled: script,
      viewport: { width, height },
      ignoreHTTPSErrors: true,
    });
    const opened = await context.newPage();
    opened.setDefaultTimeout(10000);
    const home = new URL(url).host;
    opened.on("request", (request) => {
      if (new URL(request.url()).host !== home) outside.push(request.url());
    });
    opened.on("console", (said) => { if (/Content Security|Refused/.test(said.text())) broken.push(said.text()); });
    opened.on("pageerror", (error) => broken.push(String(error)));
    await opened.goto(url, { waitUntil: "load" });
    pages.set(page, opened);
  },
  goto: ({ pages }, { page, url }) => pages.get(page).goto(url, { waitUntil: "load" }).then((answer) => answer.status()),
  eval: ({ pages }, { page, code }) => pages.get(page).evaluate(code),
  // By asking again: a page whose policy forbids to evaluate text cannot be told to wait for some.
  async wait({ pages }, { page, code, limit = 8000 }) {
    const until = Date.now() + limit;
    for (;;) {
      // Between two pages there is nothing to ask.
      const there = await pages.get(page).evaluate(code).catch((error) => String(error));
      if (there === true) return true;
      if (Date.now() > until) throw new Error(`never came: ${code}: ${there}`);
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
  },
  async click({ pages }, { page, selector }) {
    await pages.get(page).locator(selector).first().click();
    await pages.get(page).waitForLoadState("load");
  },
  picture: ({ pages }, { page, path }) => pages.get(page).screenshot({ path, fullPage: true }).then(() => null),
  fill: ({ pages }, { page, selector, text }) => pages.get(page).locator(selector).first().fill(text),
  press: ({ pages }, { page, key }) => pages.get(page).keyboard.press(key),
  async axe({ pages }, { page }) {
    const of = pages.get(page);
    // Through the debugger, which the page's own policy does not bind.
    const client = await of.context().newCDPSession(of);
    await client.send("Runtime.evaluate", { expression: axe });
    const run = "axe.run(document, { resultTypes: ['violations'] }).then((r) => JSON.stringify({ passes: r.passes.length,"
      + " violations: r.violations.map((v) => v.id + ': ' + v.help + ': ' + v.nodes[0].html.slice(0, 200)) }))";
    const { result } = await client.send("Runtime.evaluate", { expression: run, awaitPromise: true, returnByValue: true });
    await client.detach();
    return JSON.parse(result.value);
  },
  heard: ({ outside, broken }) => ({ outside, broken }),
  // Whoever leaves takes their pages along.
  async leave({ pages }, { by }) {
    everybody.delete(by);
    await Promise.all([...pages.values()].map((page) => page.context().close()));
  },
};

async function answer(line) {
  const asked = JSON.parse(line);
  if (!everybody.has(asked.by)) everybody.set(asked.by, { pages: new Map(), outside: [], broken: [] });
  try {
    const value = await commands[asked.do](everybody.get(asked.by), asked);
    console.log(JSON.stringify({ n: asked.n, value: value ?? null }));
  } catch (error) {
    console.log(JSON.stringify({ n: asked.n, error: String(error).slice(0, 600) }));
  }
}

for await (const line of createInterface({ input: process.stdin })) answer(line);
await browser.close();
