// Check the report of a plan with axe-core in Chromium: at 390 and 1280 px, by day and by night, and as printed;
// tells how high the page is.
//
//   npm install --prefix /tmp/axe axe-core playwright-core
//   NODE_PATH=/tmp/axe/node_modules node scripts/accessibility.mjs PLAN_FOLDER/report.html
//
// CHROMIUM names the browser (/usr/bin/chromium by default). Exits with 1 when any rule is broken or
// the page is wider than its window.
import { createRequire } from "node:module";
import { readFileSync, realpathSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";

const where = (process.env.NODE_PATH ?? "").split(path.delimiter)[0] || process.cwd();
const need = createRequire(path.join(where, "resolver.js"));
const { chromium } = need("playwright-core");
const axe = readFileSync(need.resolve("axe-core/axe.min.js"), "utf8");

const page_file = process.argv[2];
if (!page_file) {
  console.error("which report?");
  process.exit(2);
}
const address = pathToFileURL(realpathSync(page_file)).href;
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu"],
});
let broken = 0;
for (const width of [390, 1280]) {
  for (const view of ["light", "dark", "print"]) {
    const colorScheme = view === "print" ? "light" : view;
    const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme, bypassCSP: true });
    const page = await context.newPage();
    const asked = [];
    page.on("request", (r) => asked.push(r.url()));
    await page.goto(address);
    if (view === "print") await page.emulateMedia({ media: "print" });
    const [wide, high] = await page.evaluate(() => [
      document.documentElement.scrollWidth,
      document.documentElement.scrollHeight,
    ]);
    await page.evaluate(axe);
    const found = await page.evaluate(() => axe.run(document, { resultTypes: ["violations", "incomplete"] }));
    const other = asked.filter((u) => u !== address);
    console.log(
      `${width} px ${view}: ${found.violations.length} violations, ${found.passes.length} rules passed, ` +
        `${found.incomplete.length} to look at by eye, ${other.length} other requests, page ${wide} px wide, ${high} px high`,
    );
    for (const v of [...found.violations, ...(process.env.VERBOSE ? found.incomplete : [])]) {
      console.log(`  ${v.id}: ${v.help} (${v.nodes.length})`);
      for (const n of v.nodes.slice(0, 4)) console.log(`    ${n.target.join(" ")} ${n.failureSummary ?? ""}`);
    }
    if (view !== "print") {
      // The keyboard: the first stop is the link past the contents, and every stop can be seen.
      await page.keyboard.press("Tab");
      const first = await page.evaluate(() => document.activeElement?.getAttribute("href"));
      if (first !== "#main") {
        console.log(`  the first stop of the keyboard is ${first}, not the skip link`);
        broken += 1;
      }
      broken += wide > width ? 1 : 0;
    }
    broken += found.violations.length + other.length;
    await context.close();
  }
}
await browser.close();
process.exit(broken ? 1 : 0);
