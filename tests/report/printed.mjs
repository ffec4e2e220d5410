// A page as Chromium prints it:  node printed.mjs NODE_MODULES CHROMIUM PAGE.html OUT.pdf
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const [modules, executablePath, file, path] = process.argv.slice(2);
const { chromium } = createRequire(pathToFileURL(`${modules}/`))("playwright-core");
const browser = await chromium.launch({ executablePath, args: ["--no-sandbox", "--disable-gpu"] });
try {
  const page = await browser.newPage();
  await page.goto(pathToFileURL(file).href);
  await page.pdf({ path, format: "A4", margin: { top: "20mm", left: "20mm" } });
} finally {
  await browser.close();
}
