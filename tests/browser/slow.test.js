// A slow phone on a slow network: when a recipe is painted first, that nothing moves, and how many bytes a page takes. Bytes
// and movements are held to; times are printed, and held to beside those of the plainest page in the same browser, since how
// fast the machine is that tests is not what is tested.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, PHONE } from "./house.js";

const house = clinic();

/** How many times as long as the plainest page a recipe may take until it is painted. */
const TIMES = 4;
const PLAINEST = "/forgotten";
const FIRST_PAGE = 100_000;
const ANY_PAGE = 200_000;

/** Four times slower, 400 kbit/s there and back, 150 ms on the way. */
async function slow(session) {
  await session.send("Emulation.setCPUThrottlingRate", { rate: 4 });
  await session.send("Network.emulateNetworkConditions", { offline: false, latency: 150, downloadThroughput: 400_000 / 8, uploadThroughput: 400_000 / 8 });
}

/** Sums what a page and everything on it take on the wire. */
async function counted(page) {
  const session = await page.context().newCDPSession(page);
  await session.send("Network.enable");
  const count = { bytes: 0, session };
  session.on("Network.loadingFinished", ({ encodedDataLength }) => { count.bytes += encodedDataLength; });
  return count;
}

/** Watches for what moves by itself, from the first moment of every page. */
const watchShifts = (page) => page.addInitScript(() => {
  window.moved = [];
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.moved.push({ value: entry.value, what: entry.sources.map((source) => source.node?.outerHTML?.slice(0, 80)) });
  }).observe({ type: "layout-shift", buffered: true });
});
const moved = (page) => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(window.moved)))));
const painted = (page) => page.evaluate(() => new Promise((done) => {
  const found = () => performance.getEntriesByName("first-contentful-paint")[0];
  if (found()) return done(found().startTime);
  new PerformanceObserver(() => { if (found()) done(found().startTime); }).observe({ type: "paint", buffered: true });
}));

/** Reads the cautions that stand in the way, if there are some. */
async function read(page) {
  if ((await page.locator(".reading").count()) === 0) return;
  for (const box of await page.locator(".reading .read").all()) await box.click();
  await page.locator(".after .do").click();
  await page.waitForLoadState();
}

test("a recipe is painted soon on a slow phone, with nothing that moves", async () => {
  const page = await house.as("noor.haddad", PHONE);
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Gardener''s hand cream'");
  const address = `/revisions/${id}/recipe?way=jars&containers=12&fill=30+g&transfer_loss=4+%25&readability=0.1+g`;
  await page.goto(address);
  await read(page);
  await page.locator(".total").waitFor();
  await watchShifts(page);
  const count = await counted(page);
  await slow(count.session);
  const times = { cold: [], warm: [] };
  const plainest = { cold: [], warm: [] };
  for (let round = 0; round < 3; round += 1) {
    for (const cache of ["cold", "warm"]) {
      if (cache === "cold") await count.session.send("Network.clearBrowserCache");
      await page.goto(PLAINEST);
      plainest[cache].push((await painted(page)) / 1000);
    }
    await count.session.send("Network.clearBrowserCache");
    for (const cache of ["cold", "warm"]) {
      count.bytes = 0;
      await page.goto(address);
      await page.locator(".total").waitFor();
      times[cache].push((await painted(page)) / 1000);
      assert.deepEqual(await moved(page), [], `${cache}: something moves`);
      assert.ok(count.bytes < (cache === "cold" ? FIRST_PAGE : ANY_PAGE), `${cache}: ${count.bytes} bytes`);
      console.log(`recipe, ${cache}: first paint after ${times[cache].at(-1).toFixed(2)} s, ${Math.round(count.bytes / 1000)} kB`);
    }
  }
  for (const [cache, all] of Object.entries(times)) {
    const least = Math.min(...plainest[cache]);
    assert.ok(Math.min(...all) < TIMES * least, `${cache}: ${all} s, the plainest page ${least} s`);
  }
  // Figures that follow the typing stay in their place.
  await page.getByLabel("How many jars").fill("24");
  await page.locator(".total", { hasText: /^\s*750/ }).waitFor();
  assert.deepEqual(await moved(page), []);
});

const revision = (title) => house.sql(`SELECT approved_revision_id FROM formula WHERE title = '${title}'`);
const batch = (number) => house.sql(`SELECT id FROM batch WHERE number = '${number}'`);
const PAGES = {
  "noor.haddad": () => ["/today", "/formulas", `/revisions/${revision("Comfrey root ointment")}`, `/revisions/${revision("Calendula cream")}/recipe`, `/batches/${batch("2026-0003")}/bench`, `/batches/${batch("2026-0003")}/bench/list`, `/batches/${batch("2026-0001")}`, "/batches", "/calculators", "/calculators/alcohol", "/account", "/problems", "/documentation", "/documentation/batch_view"],
  "ilse.brandt": () => ["/queue", `/batches/${batch("2026-0002")}/review`, "/workshop", "/materials", `/materials/${house.sql("SELECT id FROM material WHERE name = 'yellow beeswax'")}`],
  "petra.hollweg": () => ["/people", "/libraries", "/policy", "/api-clients", "/events"],
};

for (const [device, size] of Object.entries({ phone: PHONE, desk: DESK })) {
  test(`no page is heavy, and none moves while it loads, on a ${device}`, async () => {
    const heaviest = [];
    const weigh = async (page, address, most) => {
      const count = await counted(page);
      await count.session.send("Network.clearBrowserCache");
      await page.goto(address);
      await page.waitForLoadState("networkidle");
      assert.deepEqual(await moved(page), [], `${address}: something moves`);
      assert.ok(count.bytes > 1000 && count.bytes < most, `${address}: ${count.bytes} bytes`);
      heaviest.push([count.bytes, address.replace(/[0-9a-f-]{36}/, "…")]);
      await count.session.detach();
    };
    const stranger = await house.device(size);
    await watchShifts(stranger);
    await weigh(stranger, "/sign-in", FIRST_PAGE);
    await stranger.context().close();
    for (const [who, addresses] of Object.entries(PAGES)) {
      const page = await house.as(who, size);
      await watchShifts(page);
      for (const address of addresses()) await weigh(page, address, ANY_PAGE);
      await page.context().close();
    }
    heaviest.sort(([one], [other]) => other - one);
    console.log(`heaviest, with everything on it: ${heaviest.slice(0, 3).map(([bytes, address]) => `${Math.round(bytes / 1000)} kB ${address}`).join(", ")}`);
  });
}
