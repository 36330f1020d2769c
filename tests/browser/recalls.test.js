// Traces and recalls: where a lot went, calling it back with everything that was made of it, and accounting for each.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

test("an instructor traces a lot, recalls it, and accounts for everything; its batch says so at once", async () => {
  const page = await house.as("ilse.brandt", DESK);
  const lot = house.sql("SELECT m.lot_id FROM lot_movement m WHERE m.kind = 'used' ORDER BY m.id LIMIT 1");
  await page.goto(`/shelf/lots/${lot}`);
  await page.getByRole("link", { name: "Trace it" }).click();
  await page.getByRole("heading", { name: /^What was made of/ }).waitFor();
  assert.ok((await page.locator(".tree li").count()) > 0);
  await look(page, "trace");
  await page.getByRole("link", { name: "What it was made of" }).click();
  await page.getByText("No lot is recorded that it was made of.").waitFor();
  await look(page, "trace-none");
  await page.goBack();
  await page.getByRole("link", { name: "Recall it" }).click();
  await page.getByRole("heading", { name: "Will be recalled" }).waitFor();
  await look(page, "recall-start");
  await page.getByLabel("Why it is recalled").fill(" ".repeat(3));
  await page.getByRole("button", { name: "Recall all of this" }).click();
  await page.locator("#reason-cure").waitFor();
  await look(page, "recall-start-refused");
  await page.getByLabel("Why it is recalled").fill("The supplier withdrew it: wrong species.");
  await page.getByRole("button", { name: "Recall all of this" }).click();
  await page.getByText(/not accounted for\.$/).first().waitFor();
  await look(page, "recall");
  const desk = new URL(page.url()).pathname;
  // Closing over what is open asks for the reason.
  await page.getByRole("button", { name: "Close the recall" }).click();
  await page.locator("#close-cure").waitFor();
  await look(page, "recall-refused");
  // An outcome that says nobody found it says where it was looked for.
  const first = page.locator("#item-1");
  await first.getByLabel("What came of it").selectOption({ label: "It was not found" });
  await first.getByRole("button", { name: "Note it" }).click();
  await page.locator("#cure-1").waitFor();
  for (;;) {
    const open = page.locator("section:has(details.fold[open])").first();
    if ((await page.locator("section:has(details.fold[open])").count()) === 0) break;
    const number = await open.getAttribute("id");
    await open.getByLabel("What came of it").selectOption({ label: "It was destroyed" });
    await open.getByLabel(/^Who was asked/).fill("Burnt.");
    await open.getByRole("button", { name: "Note it" }).click();
    await page.locator(`#${number}`).getByText("It was destroyed", { exact: true }).first().waitFor();
  }
  await page.getByText("Everything is accounted for.").waitFor();
  await look(page, "recall-accounted");
  await page.getByRole("button", { name: "Close the recall" }).click();
  await page.getByText("Closed by Ilse Brandt.").waitFor();
  await look(page, "recall-closed");
  await page.goto("/recalls");
  await page.locator(".row", { has: page.locator(`a[href$='${desk.slice(-36)}']`) }).getByText("Closed.").waitFor();
  await look(page, "recalls");
  assert.equal(house.sql(`SELECT state FROM lot WHERE id = '${lot}'`), "recalled");
  // The record of a batch that was made of it tells its maker, and leads to its trace.
  const batch = house.sql(`SELECT i.batch_id FROM recall_item i JOIN recall r ON r.id = i.recall_id WHERE '${desk}' LIKE '%' || r.id AND i.batch_id IS NOT NULL LIMIT 1`);
  await page.goto(`/batches/${batch}`);
  await page.getByText("Recalled").first().waitFor();
  await page.getByRole("link", { name: "Trace it" }).click();
  await page.getByRole("heading", { name: /was made of$/ }).waitFor();
  await look(page, "trace-batch");
});

test("an administrator reads the desk on a phone and recalls nothing; a formula and a material lead to their recall", async () => {
  const petra = await house.as("petra.hollweg", PHONE);
  await petra.goto("/recalls");
  await petra.getByRole("heading", { name: "Recalls" }).waitFor();
  await look(petra, "recalls-phone");
  const ilse = await house.as("ilse.brandt", PHONE);
  const formula = house.sql("SELECT id FROM formula WHERE title = 'Garlic oil' OR title = 'Plain salve' ORDER BY title DESC LIMIT 1");
  await ilse.goto(`/formulas/${formula}`);
  await ilse.getByRole("link", { name: "Recall what was made by it" }).click();
  await ilse.getByText(/everything that was ever made by this formula/).waitFor();
  await look(ilse, "recall-formula");
  const material = house.sql("SELECT id FROM material WHERE name = 'candelilla wax'");
  await ilse.goto(`/materials/${material}`);
  await ilse.getByRole("link", { name: "Recall its lots" }).click();
  await ilse.getByText("There is no lot of this material, so nothing can be recalled.").waitFor();
  await look(ilse, "recall-nothing");
});
