import test, { after } from "node:test";
import assert from "node:assert/strict";
import path from "node:path";
import { chromium } from "playwright-core";
import { clinic, look, PHONE, signIn, watch } from "./house.js";

const house = clinic();

const phones = [];
after(async () => { for (const context of phones) await context.close().catch(() => {}); });

/** A browser with a profile of its own, which survives being killed. */
async function phone(name) {
  const context = await chromium.launchPersistentContext(path.join(house.profile, name), {
    ...PHONE,
    executablePath: process.env.CHROMIUM,
    baseURL: house.base,
    locale: "en-GB",
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
  watch(context);
  phones.push(context);
  return context;
}
const cream = () => house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Calendula cream'");
const written = (batch) => Number(house.sql(`SELECT last_entry FROM batch WHERE id = '${batch}'`));

async function begin(page, name) {
  await page.goto("/sign-in");
  await signIn(page, name);
  await page.goto(`/revisions/${cream()}/recipe?way=jars&containers=12&fill=30+g&readability=0.1+g`);
  await page.getByRole("button", { name: "Start a batch" }).click();
  await page.locator("main.bench").waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => caches.match("/offline")).then((kept) => { if (!kept) throw new Error("the page is not kept"); }));
  return /batches\/([^/?]+)/.exec(page.url())[1];
}
/** How many keys and entries are on the phone. */
const onPhone = (page) => page.evaluate(async () => {
  const db = await new Promise((done) => { const asked = indexedDB.open("stillroom"); asked.onsuccess = () => done(asked.result); });
  const count = (name) => new Promise((done) => { const asked = db.transaction(name).objectStore(name).count(); asked.onsuccess = () => done(asked.result); });
  const told = { keys: await count("keys"), entries: await count("entries") };
  db.close();
  return told;
});
/** Asks again until it is so; a page that is just being left cannot answer. */
async function until(question) {
  for (const end = Date.now() + 30000; ;) {
    if (await question().catch(() => false)) return;
    assert.ok(Date.now() < end, `not so: ${question}`);
  }
}
/** Writes the act that stands there. */
async function write(page) {
  const heading = await page.locator("h1").textContent();
  const more = page.getByRole("button", { name: /more$/ });
  if (await more.count()) await more.click();
  await page.locator("button.big").click();
  await page.waitForFunction((was) => document.querySelector("#here h1")?.textContent !== was, heading);
}

test("five entries without network survive a killed browser and are written once, in order", async () => {
  let context = await phone("noor");
  let page = context.pages()[0];
  const batch = await begin(page, "noor.haddad");
  house.cut();
  for (let i = 0; i < 5; i += 1) await write(page);
  await page.getByText("5 entries are kept on this phone").waitFor();
  await look(page, "bench-offline");
  assert.equal(written(batch), 0);
  // Nothing of the recipe is in any store or cache.
  const stored = await page.evaluate(async () => {
    const all = [JSON.stringify(localStorage), JSON.stringify(sessionStorage)];
    for (const name of await caches.keys()) for (const request of await (await caches.open(name)).keys()) all.push(await (await caches.match(request)).text());
    const db = await new Promise((done) => { const asked = indexedDB.open("stillroom"); asked.onsuccess = () => done(asked.result); });
    const rows = await new Promise((done) => { const asked = db.transaction("entries").objectStore("entries").getAll(); asked.onsuccess = () => done(asked.result); });
    db.close();
    for (const row of rows) all.push(Object.keys(row).join(), new TextDecoder().decode(row.sealed), row.id);
    return all.join("\n");
  });
  assert.doesNotMatch(stored, /emulsifying wax|\b112\.5\b|\b231\b/);
  // Killed, not closed.
  await context.close();

  context = await phone("noor");
  page = context.pages()[0];
  house.cut();
  await page.goto(`/batches/${batch}/bench`);
  await page.getByText("The recipe is not kept on this phone").waitFor();
  assert.equal(await page.locator("#kept-list li").count(), 5);
  assert.doesNotMatch(await page.locator("main").textContent(), /emulsifying wax/);
  await look(page, "bench-reload");
  house.mend();
  await page.goto(`/batches/${batch}/bench`);
  // Sent: nothing waits on the phone any more.
  await until(async () => (await onPhone(page)).entries === 0);
  await page.waitForLoadState();
  const count = written(batch);
  assert.equal(count, Number(house.sql(`SELECT count(*) FROM batch_entry WHERE batch_id = '${batch}'`)));
  const lines = house.sql(`SELECT string_agg(coalesce(line, 's' || step), ' ' ORDER BY number) FROM batch_entry WHERE batch_id = '${batch}'`);
  assert.match(lines, /^1\.1 1\.2 2\.1 2\.2 2\.3/, `${count} entries written: ${lines}`);
  // Another window finds nothing to send.
  const fresh = await context.newPage();
  await fresh.goto(`/batches/${batch}/bench`);
  await fresh.locator("main.bench").waitFor();
  assert.equal(written(batch), count);
  await context.close();
});

test("two windows send what is kept once, and a refused entry stays with its cure", async () => {
  const context = await phone("tomas");
  const page = context.pages()[0];
  await page.goto("/sign-in");
  await signIn(page, "tomas.lind");
  await page.goto(`/revisions/${cream()}`);
  for (const box of await page.locator(".reading .read").all()) await box.click();
  await page.getByRole("button", { name: "Open the recipe" }).click();
  await page.getByText("in all").waitFor();
  await page.goto(`/revisions/${cream()}/recipe?way=jars&containers=12&fill=30+g&readability=0.1+g`);
  await page.getByRole("button", { name: "Start a batch" }).click();
  await page.locator("main.bench").waitFor();
  const batch = /batches\/([^/?]+)/.exec(page.url())[1];
  const other = await context.newPage();
  await other.goto(page.url());
  house.cut();
  await write(page);
  await page.getByLabel("Weighed, in grams").fill("112,5");
  await page.locator("button.big").click();
  await write(page);
  await page.getByText("3 entries are kept").waitFor();
  house.mend();
  await page.getByText(/^Not accepted/).waitFor();
  await until(async () => written(batch) === 2);
  await look(page, "bench-refused-kept");
  await page.getByRole("button", { name: "Discard it" }).click();
  await page.waitForFunction(() => document.querySelector("#kept").hidden);
  assert.equal(written(batch), 2);
  // Somebody else signs in: what waits cannot be read, and is sent when its person is back.
  house.cut();
  await write(page);
  await page.getByText("One entry is kept").waitFor();
  house.mend();
  await page.goto("about:blank");
  house.cut();
  await page.goto(`/batches/${batch}/bench`);
  house.mend();
  await other.close();
  await page.goto("/account");
  await page.getByRole("button", { name: "Sign out" }).click();
  await page.getByRole("heading", { name: "Sign in" }).waitFor();
  await until(async () => (await onPhone(page)).keys === 0);
  await context.close();
});
