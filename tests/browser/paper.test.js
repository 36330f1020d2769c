// Forced colours and paper: nothing is lost where the browser takes the colours away, or where a page is printed on A4.
import test from "node:test";
import assert from "node:assert/strict";
import path from "node:path";
import { clinic, DESK, picture } from "./house.js";

const house = clinic();
const shot = (page, name) => picture(page, name, { fullPage: true });

/** Reads the cautions that stand in the way, if there are some. */
async function read(page) {
  if ((await page.locator(".reading").count()) === 0) return;
  for (const box of await page.locator(".reading .read").all()) await box.click();
  await page.locator(".after .do").click();
  await page.waitForLoadState();
}

/** The pages that are printed or read in forced colours most, each open with what belongs on it. */
const SHEETS = {
  recipe: async (page) => {
    const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Gardener''s hand cream'");
    const address = `/revisions/${id}/recipe?way=jars&containers=12&fill=30+g&transfer_loss=4+%25&readability=0.1+g`;
    await page.goto(address);
    await read(page);
    await page.locator(".total").waitFor();
    await page.locator(".lines details.why").first().evaluate((one) => { one.open = true; });
  },
  formula: async (page) => {
    await page.goto(`/revisions/${house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Plain salve'")}`);
    await page.locator(".caution").first().waitFor();
  },
  review: async (page) => {
    await page.goto(`/batches/${house.sql("SELECT id FROM batch WHERE number = '2026-0002'")}/review`);
    await read(page);
    await page.getByRole("heading", { name: "Your decision" }).waitFor();
  },
  record: async (page) => {
    await page.goto(`/batches/${house.sql("SELECT id FROM batch WHERE number = '2026-0001'")}`);
    await read(page);
    await page.locator(".entry, ol .on").first().waitFor();
  },
};

/** What is drawn with which colour, and the texts that cannot be told from what they stand on. */
const colours = (page) => page.evaluate(() => {
  const style = (of, pseudo) => getComputedStyle(of, pseudo);
  const at = (selector, property, pseudo) => { const of = document.querySelector(selector); return of ? style(of, pseudo)[property] : undefined; };
  const probe = document.body.appendChild(document.createElement("i"));
  const system = (word) => { probe.style.color = word; return style(probe).color; };
  const words = Object.fromEntries(["CanvasText", "Canvas", "Highlight", "ButtonText", "LinkText"].map((word) => [word, system(word)]));
  probe.remove();
  const lost = [...document.querySelectorAll("main *")].filter((one) => {
    if (!one.checkVisibility() || ![...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim())) return false;
    let under = one;
    while (under && style(under).backgroundColor === "rgba(0, 0, 0, 0)") under = under.parentElement;
    return style(one).color === (under ? style(under).backgroundColor : words.Canvas);
  });
  return {
    words,
    lost: lost.map((one) => one.outerHTML.slice(0, 120)),
    pillar: at(".page", "borderInlineStartColor", "::before"),
    beam: at(".on .beam", "stroke"),
    dot: at(".beam .dot", "fill"),
    total: at(".total .fig", "borderBlockEndColor"),
    bar: at(".caution.contra", "borderInlineStartColor"),
    barWidth: at(".caution.contra", "borderInlineStartWidth"),
  };
});

for (const [name, open] of Object.entries(SHEETS)) {
  test(`in forced colours the ${name} keeps its text, its beams and its rules`, async () => {
    const page = await house.as("marek.dvorsky", DESK);
    await open(page);
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ forcedColors: "active", colorScheme });
      const found = await colours(page);
      assert.deepEqual(found.lost, [], `${name}: text that cannot be seen`);
      assert.equal(found.pillar, found.words.CanvasText);
      for (const part of ["beam", "dot", "total"]) if (found[part]) assert.equal(found[part], found.words.CanvasText, `${name}: ${part}`);
      // A contraindication is told by its bar and its word where no ground is drawn.
      if (found.bar) {
        assert.equal(found.barWidth, "12px");
        assert.notEqual(found.bar, found.words.Canvas);
        assert.match(await page.locator(".caution.contra .kind").first().textContent(), /Contraindication/);
      }
      await shot(page, `forced-${name}-${colorScheme}`);
    }
    await page.context().close();
  });

  test(`on paper the ${name} is complete, without what only a screen needs`, async () => {
    const page = await house.as("marek.dvorsky", DESK);
    await open(page);
    const lines = await page.locator(".lines tbody tr, main .entry").count();
    await page.emulateMedia({ media: "print" });
    // A4 between margins of 15 mm, at 96 to the inch.
    await page.setViewportSize({ width: 680, height: 1009 });
    for (const gone of [".places", ".head button", ".skip", "button", ".do", ".may", "form.ask", "input", "textarea", "select"]) {
      for (const one of await page.locator(`${gone}:visible`).all()) assert.fail(`${name}: printed: ${await one.evaluate((it) => it.outerHTML.slice(0, 160))}`);
    }
    assert.equal(await page.locator(".lines tbody tr:visible, main .entry:visible").count(), lines, "every line is printed");
    const found = await colours(page);
    assert.deepEqual(found.lost, []);
    assert.equal(await page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor), "rgb(255, 255, 255)");
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok(over <= 0, `${name}: ${over} px too wide for A4`);
    if (name === "recipe") {
      await page.locator(".sum:visible").first().waitFor();
      const split = await page.locator(".lines tr").evaluateAll((rows) => rows.filter((row) => getComputedStyle(row).breakInside !== "avoid").length);
      assert.equal(split, 0);
    }
    await shot(page, `print-${name}`);
    const pdf = await page.pdf({ format: "A4", margin: { top: "15mm", bottom: "15mm", left: "15mm", right: "15mm" }, path: path.join(process.env.PAGES_SHOTS, `print-${name}.pdf`) });
    assert.ok(pdf.length > 1000);
    await page.context().close();
  });
}
