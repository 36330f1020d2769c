// A clinic of its own for each file of tests: a copy of the demo's database, a service on it, and a browser.
import { spawn, execFileSync } from "node:child_process";
import { appendFileSync, readFileSync, mkdtempSync, rmSync } from "node:fs";
import { connect, createServer } from "node:net";
import { createRequire } from "node:module";
import { after, afterEach, before } from "node:test";
import assert from "node:assert/strict";
import path from "node:path";
import { chromium } from "playwright-core";

const require = createRequire(import.meta.url);
const AXE = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const { PAGES_BINARY, PAGES_TEMPLATE, PAGES_WORK, PAGES_SHOTS, CHROMIUM, TEST_DATABASE_URL, TEST_SERVICE_DATABASE_URL, TEST_PG_BIN } = process.env;

export const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 };
export const DESK = { viewport: { width: 1440, height: 900 } };

const free = () => new Promise((answer) => {
  const server = createServer().listen(0, "127.0.0.1", () => {
    const { port } = server.address();
    server.close(() => answer(port));
  });
});

/** The demo's passwords, by sign-in name. */
const passwords = Object.fromEntries(
  readFileSync(path.join(PAGES_WORK, "demo"), "utf8").split("\n").map((line) => line.trim().split(/\s+/)).filter((words) => words.length === 3).map(([name, , password]) => [name, password]),
);

/** A clinic for the file of tests that calls this. */
export function clinic() {
  const house = { passwords };
  let service;
  before(async () => {
    const database = `pages_${process.pid}`;
    const sql = (text) => execFileSync(path.join(TEST_PG_BIN, "psql"), ["-X", "-q", "-d", TEST_DATABASE_URL, "-c", text]);
    sql(`CREATE DATABASE ${database} TEMPLATE ${PAGES_TEMPLATE}`);
    const port = await free();
    // A network that can really be cut: what a browser calls offline leaves its service worker connected.
    const open = new Set();
    let whole = true;
    const network = createServer((near) => {
      if (!whole) return near.destroy();
      const far = connect(port, "127.0.0.1");
      for (const [one, other] of [[near, far], [far, near]]) {
        open.add(one);
        one.on("error", () => other.destroy());
        one.on("close", () => { open.delete(one); other.destroy(); });
        one.pipe(other);
      }
    });
    await new Promise((done) => network.listen(0, "127.0.0.1", done));
    house.cut = () => { whole = false; for (const one of open) one.destroy(); };
    house.mend = () => { whole = true; };
    house.network = network;
    house.base = `http://localhost:${network.address().port}`;
    house.owner = TEST_DATABASE_URL.replace(/\/[^/?]*(\?|$)/, `/${database}$1`);
    house.sql = (text) => execFileSync(path.join(TEST_PG_BIN, "psql"), ["-X", "-qAt", "-d", house.owner, "-c", text], { encoding: "utf8" }).trim();
    const env = { ...process.env, DATABASE_URL: TEST_SERVICE_DATABASE_URL.replace(/\/[^/?]*(\?|$)/, `/${database}$1`), STILLROOM_LISTEN: `127.0.0.1:${port}` };
    service = spawn(PAGES_BINARY, ["serve"], { env, stdio: ["ignore", "ignore", "pipe"] });
    let said = "";
    service.stderr.on("data", (data) => { said = (said + data).slice(-4000); });
    house.said = () => said;
    const begun = Date.now();
    for (;;) {
      if (await fetch(`http://127.0.0.1:${port}/health/ready`).then((answer) => answer.ok, () => false)) break;
      assert.ok(Date.now() - begun < 30000 && service.exitCode === null, `the service did not start: ${said}`);
      await new Promise((wait) => setTimeout(wait, 50));
    }
    house.profile = mkdtempSync(path.join(PAGES_WORK, "profile-"));
    house.browser = await chromium.launch({
      executablePath: CHROMIUM,
      args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
    });
  });
  after(async () => {
    await house.browser?.close();
    if (service && service.exitCode === null) {
      const ended = new Promise((answer) => service.once("exit", answer));
      service.kill("SIGTERM");
      await ended;
    }
    house.cut?.();
    house.network?.close();
    rmSync(house.profile, { recursive: true, force: true });
  });

  afterEach(async (told) => {
    // What one test cut is whole for the next.
    house.mend?.();
    if (told.passed === false) await tellOf(told.name);
    pages.length = 0;
  });

  /** What stood on the pages of a test that failed, for a run of which only the output is left. */
  const pages = [];
  async function tellOf(name) {
    for (const { page, said: heard } of pages.slice(-3)) {
      if (page.isClosed()) continue;
      const text = await page.locator("main").first().innerText({ timeout: 2000 }).catch((fault) => fault.message);
      const lines = [`seen in “${name}” at ${page.url()}`, ...heard, ...text.split("\n").filter((line) => line.trim()).slice(0, 40)];
      for (const line of lines) console.log(`seen: ${line.slice(0, 200)}`);
    }
    for (const line of house.said().trim().split("\n").slice(-5)) console.log(`seen: service: ${line.slice(0, 300)}`);
  }

  /** A browser of its own, on a phone or at a desk. */
  house.device = async (device, options = {}) => {
    const context = await house.browser.newContext({ ...device, baseURL: house.base, locale: "en-GB", ...options });
    watch(context);
    const page = await context.newPage();
    const seen = { page, said: [] };
    const hear = (text) => { seen.said = [...seen.said, text].slice(-5); };
    page.on("console", (message) => hear(`console: ${message.text()}`));
    page.on("pageerror", (fault) => hear(`error: ${fault.message}`));
    page.on("requestfailed", (request) => hear(`failed: ${request.method()} ${request.url()} ${request.failure()?.errorText}`));
    pages.push(seen);
    return page;
  };

  /** The same with somebody signed in. */
  house.as = async (name, device, options) => {
    const page = await house.device(device, options);
    await page.goto("/sign-in");
    await signIn(page, name);
    return page;
  };

  /** Reads the cautions of the page that is there, where its reader has not read them. */
  house.read = async (desk) => {
    const go = desk.locator(".after button.do");
    for (let acts = 0; (await desk.locator(".reading").count()) && !(await go.isVisible()); acts += 1) {
      assert.ok(acts < 20, "the reading has no end");
      await desk.locator(".read:visible", { has: desk.locator("input:not(:checked)") }).first().click();
    }
    if (await go.count()) await go.click();
  };

  /** Another instructor releases the hold of a batch. */
  house.release = async (batch, name = "marek.dvorsky") => {
    const desk = await house.as(name, DESK);
    await desk.goto(`/batches/${batch}`);
    await house.read(desk);
    await desk.getByRole("button", { name: /^Release step/ }).click();
    await desk.getByText(/^Released by/).first().waitFor();
    await desk.context().close();
  };
  return house;
}

/** Fills the sign-in page that is there. */
export async function signIn(page, name) {
  await page.getByLabel("Sign-in name").fill(name);
  await page.getByLabel("Password").fill(passwords[name]);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.waitForLoadState();
}

/** Notes every address that was answered, for the list of pages that no test reached, and fails on broken scripts. */
export function watch(context) {
  context.on("response", (response) => {
    const request = response.request();
    if (response.status() < 500) appendFileSync(path.join(PAGES_WORK, "seen"), `${request.method()} ${new URL(response.url()).pathname}\n`);
  });
  context.on("weberror", (error) => { throw error.error(); });
  context.on("console", (message) => {
    if (message.type() === "error" && /Content Security Policy|Refused to/.test(message.text())) throw new Error(message.text());
  });
}

async function wide(page) {
  return page.evaluate(() => {
    const over = document.documentElement.scrollWidth - document.documentElement.clientWidth;
    if (over <= 0) return "";
    const edge = document.documentElement.clientWidth;
    const all = [...document.querySelectorAll("body *")].filter((x) => x.getBoundingClientRect().right > edge + 1);
    return `${over} px too wide: ${all.slice(0, 4).map((x) => `${x.tagName}.${x.className}`).join(", ")}`;
  });
}

const RULES = {
  runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
  rules: { "target-size": { enabled: true } },
};
// In the dark the page is the same but for its colours.
const COLOURS = { runOnly: { type: "rule", values: ["color-contrast"] } };

async function faults(page, scheme) {
  await page.emulateMedia({ colorScheme: scheme });
  if (scheme === "light") await page.evaluate(AXE);
  const { violations } = await page.evaluate((rules) => window.axe.run(document, rules), scheme === "light" ? RULES : COLOURS);
  return violations.map((rule) => `${scheme}: ${rule.id}: ${rule.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")}`);
}

/** A picture for people to look at. A busy browser cannot take one now and then, whatever the page; asked again, it can. */
export async function picture(page, name, options = {}, tries = 3) {
  try {
    await page.screenshot({ path: path.join(PAGES_SHOTS, `${name}.png`), animations: "disabled", ...options });
  } catch (fault) {
    if (tries <= 1 || !/Unable to capture screenshot/.test(fault.message)) throw fault;
    await picture(page, name, options, tries - 1);
  }
}

/** Looks at a page as it stands: a picture, and what any reader needs of it, in every light and width. */
export async function look(page, name) {
  const size = page.viewportSize();
  const device = size.width < 800 ? "phone" : "desk";
  // The picture is of the page at rest: a focus ring and the caret stay, nothing moves.
  await picture(page, `${name}-${device}`, { fullPage: true });
  const found = [];
  for (const scheme of ["light", "dark"]) found.push(...await faults(page, scheme));
  await picture(page, `${name}-${device}-dark`);
  await page.emulateMedia({ colorScheme: "light" });
  found.push(await wide(page));
  if (device === "phone") {
    await page.setViewportSize({ width: 320, height: 700 });
    found.push(`320 px: ${await wide(page)}`.replace(/^320 px: $/, ""));
    await page.setViewportSize(size);
    const session = await page.context().newCDPSession(page);
    await session.send("Page.setFontSizes", { fontSizes: { standard: 32, fixed: 26 } });
    found.push(`text at 200 %: ${await wide(page)}`.replace(/^text at 200 %: $/, ""));
    await picture(page, `${name}-${device}-200`);
    await session.send("Page.setFontSizes", { fontSizes: { standard: 16, fixed: 13 } });
    await session.detach();
  }
  assert.deepEqual(found.filter(Boolean), [], `${name} (${device}) at ${page.url()}`);
}
