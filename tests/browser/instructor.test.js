import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

/** Reads the cautions that stand in the way, if there are some. */
async function read(page) {
  if ((await page.locator(".reading").count()) === 0) return;
  for (const box of await page.locator(".reading .read").all()) await box.click();
  await page.locator(".after .do").click();
  await page.waitForLoadState();
}

/** The work of the demo's class is what waits next. */
async function nextOpens(page, before) {
  await page.waitForURL((url) => url.pathname.endsWith("/review") && url.pathname !== before);
  await page.getByText(/Lucia Ferrand/).first().waitFor();
}

test("an instructor reviews a record by keyboard, and the next opens by itself", async () => {
  const page = await house.as("marek.dvorsky", DESK);
  await page.getByRole("heading", { name: "Queue" }).waitFor();
  await look(page, "queue");
  await page.getByRole("link", { name: /Plain salve 2026-0002/ }).click();
  if (await page.locator(".reading").count()) await look(page, "review-gate");
  await read(page);
  await page.getByRole("heading", { name: "Your decision" }).waitFor();
  await look(page, "review");
  // What the deviation does stands beside it.
  await page.getByText(/^yellow beeswax is 17\.\d+\u00a0% of the salve instead of 16\.\d+\u00a0%\.$/).waitFor();
  // With a finding no button is filled.
  assert.equal(await page.locator("aside .do").count(), 0);
  await page.locator(".entry[tabindex]").first().focus();
  await page.keyboard.press("c");
  await page.keyboard.type("What did the balance show?");
  await page.keyboard.press("Escape");
  await page.keyboard.press("u");
  await page.keyboard.press("ArrowDown");
  await page.keyboard.press("r");
  assert.equal(await page.evaluate(() => document.activeElement.id), "return");
  // What was typed survives a reload; without words nothing is returned.
  await page.reload();
  assert.equal(await page.locator("textarea[name^=comment]").first().inputValue(), "What did the balance show?");
  await page.getByRole("button", { name: "Return for correction" }).click();
  await page.locator("#sum-cure").waitFor();
  await look(page, "review-refused");
  await page.getByLabel(/^Your remarks to/).fill("One weighing is out of tolerance.");
  const record = new URL(page.url()).pathname;
  await page.getByRole("button", { name: "Return for correction" }).click();
  await nextOpens(page, record);

  const tomas = await house.as("tomas.lind", PHONE);
  await tomas.getByRole("link", { name: /^Answer/ }).click();
  await tomas.getByText("What did the balance show?").waitFor();
  await look(tomas, "record-returned");
  await tomas.getByRole("link", { name: /^Correct yellow beeswax/ }).click();
  // The lot stays with the weighing that is corrected.
  await tomas.getByText("Lot AG-26-001, good until 2028-03").waitFor();
  await tomas.getByLabel("Weighed, in grams").fill("73.1");
  await tomas.getByRole("button", { name: /^Write the correction/ }).click();
  await tomas.waitForURL((url) => !url.search.includes("correct="));
  await tomas.goto("/today");
  await tomas.getByRole("link", { name: /^Answer/ }).click();
  await tomas.getByLabel("Your answer").fill("It had not settled.");
  await tomas.getByRole("button", { name: "Submit again" }).click();
  await tomas.getByText(/^Submitted/).first().waitFor();

  // The second time what changed stands first, with what it corrected, what was asked about it, and the answer.
  await page.goto("/queue");
  await page.getByRole("link", { name: /Plain salve 2026-0002/ }).click();
  const changed = page.getByRole("region", { name: "Changed since the last submission" });
  await changed.locator("del", { hasText: "77.3" }).waitFor();
  await changed.getByText("What did the balance show?").waitFor();
  await page.getByText("It had not settled.").waitFor();
  assert.equal(await page.getByRole("heading", { level: 2 }).first().textContent(), "Changed since the last submission");
  // The decision is reached and made by keyboard alone.
  await changed.locator(".entry").first().focus();
  await page.keyboard.press("ArrowDown");
  assert.notEqual(await page.evaluate(() => document.activeElement.closest("section")?.getAttribute("aria-labelledby")), null);
  await page.keyboard.press("a");
  assert.equal(await page.evaluate(() => document.activeElement.id), "accept");
  await look(page, "review-again");
});

test("of two instructors at one review the second is told, and keeps what was written", async () => {
  const [one, other] = [await house.as("marek.dvorsky", DESK), await house.as("ilse.brandt", DESK)];
  const id = house.sql("SELECT id FROM batch WHERE state = 'submitted' AND number = '2026-0002'");
  for (const page of [one, other]) {
    await page.goto(`/batches/${id}/review`);
    await read(page);
  }
  await one.getByRole("button", { name: /^Accept/ }).waitFor();
  await one.getByLabel(/^Your remarks to/).fill("Good enough.");
  await one.getByRole("button", { name: /^Accept/ }).click();
  await nextOpens(one, `/batches/${id}/review`);
  await other.getByLabel(/^Your remarks to/).fill("I would return it.");
  await other.getByRole("button", { name: "Return for correction" }).click();
  await other.getByText(/Accepted by Marek Dvorsky/).waitFor();
  await other.getByText("I would return it.").first().waitFor();
  await look(other, "review-decided");
});

test("an instructor writes a formula, sees what comes of it, proposes it, and another approves it", async () => {
  const page = await house.as("ilse.brandt", DESK);
  await page.goto("/workshop");
  await page.getByLabel("Title", { exact: true }).fill("Bench balm");
  await page.getByLabel("Kind").fill("balm");
  await page.locator("[name=line]").first().fill("100 g yellow beeswax, stiffening agent");
  await page.getByText("The figures follow when every line is understood.").waitFor();
  await look(page, "workshop-new");
  await page.getByRole("button", { name: "Keep the draft" }).click();
  await page.locator(".fig", { hasText: "100" }).first().waitFor();
  await page.locator("[name=line]").nth(1).fill("30,0 g olive oil");
  await page.locator(".cure").first().waitFor();
  await look(page, "workshop-refused");
  await page.locator("[name=line]").nth(1).fill("q.s. 600 g olive oil, vehicle");
  await page.locator(".vessel").waitFor();
  await page.locator(".fig", { hasText: "83.3" }).waitFor();
  await page.locator("[name=step]").first().fill("Melt the wax in the oil over hot water, 70 °C at most");
  await look(page, "workshop");
  await page.getByRole("button", { name: "Propose" }).click();
  await page.getByRole("heading", { name: "Bench balm" }).waitFor();
  await look(page, "proposed");

  const marek = await house.as("marek.dvorsky", DESK);
  await marek.goto("/queue");
  await marek.getByRole("link", { name: "Bench balm" }).click();
  await read(marek);
  await marek.getByRole("button", { name: "Approve" }).waitFor();
  await look(marek, "decide");
  await marek.getByRole("button", { name: "Return" }).click();
  await marek.locator("#comment-cure").waitFor();
  await marek.getByRole("button", { name: "Approve" }).click();
  await marek.getByRole("heading", { name: "Queue" }).waitFor();
  assert.equal(house.sql("SELECT state FROM revision WHERE title = 'Bench balm'"), "approved");
});

test("a draft that somebody saved meanwhile keeps both", async () => {
  const page = await house.as("ilse.brandt", DESK);
  await page.goto("/workshop");
  await page.getByLabel("Title", { exact: true }).fill("Two windows");
  await page.getByLabel("Kind").fill("salve");
  await page.locator("[name=line]").first().fill("100 g olive oil");
  await page.getByRole("button", { name: "Keep the draft" }).click();
  await page.waitForURL(/revisions/);
  const other = await page.context().newPage();
  await other.goto(page.url());
  await other.locator("[name=line]").first().fill("200 g olive oil");
  await other.getByRole("button", { name: "Keep the draft" }).click();
  await other.waitForLoadState();
  await page.locator("[name=line]").first().fill("300 g olive oil");
  await page.getByRole("button", { name: "Keep the draft" }).click();
  await page.getByText("This draft was saved elsewhere after you opened it.").waitFor();
  assert.equal(await page.locator("[name=line]").first().inputValue(), "300 g olive oil");
  await page.getByText("200\u00a0g olive oil").waitFor();
  await look(page, "workshop-stale");
});

test("a recipe for somebody pregnant opens when an instructor has countersigned", async () => {
  const student = await house.as("noor.haddad", PHONE);
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Comfrey root ointment'");
  await student.goto(`/revisions/${id}`);
  for (const box of await student.locator(".reading .read").all()) await box.click();
  await student.getByText("Is it made for a particular person?").click();
  await student.getByLabel("For whom").last().selectOption("pregnant");
  await student.getByRole("button", { name: "Open the recipe" }).click();
  await student.getByText("The recipe opens when an instructor has countersigned.").first().waitFor();
  await look(student, "formula-waits");
  const ilse = await house.as("ilse.brandt", DESK);
  await ilse.goto("/queue");
  await ilse.getByRole("link", { name: "Comfrey root ointment" }).click();
  await look(ilse, "countersign");
  await ilse.getByRole("button", { name: "Countersign" }).click();
  await ilse.waitForLoadState();
  await read(ilse);
  await ilse.goto("/queue");
  if (await ilse.getByRole("link", { name: "Comfrey root ointment" }).count()) {
    await ilse.getByRole("link", { name: "Comfrey root ointment" }).click();
    await ilse.getByRole("button", { name: "Countersign" }).click();
  }
  await student.goto(`/revisions/${id}/recipe`);
  await student.getByText("in all").waitFor();
});

test("a further revision begins as a copy, is compared with the one before, and an approved one is withdrawn", async () => {
  const ilse = await house.as("ilse.brandt", DESK);
  const formula = house.sql("SELECT id FROM formula WHERE title = 'Plain salve'");
  await ilse.goto(`/formulas/${formula}`);
  await read(ilse);
  await ilse.goto(`/formulas/${formula}`);
  await look(ilse, "formula-instructor");
  await ilse.getByRole("button", { name: "Write a further revision" }).click();
  await ilse.locator("#workshop").waitFor();
  await ilse.getByText("Copied from the last revision.").waitFor();
  const first = ilse.locator("[name=line]").first();
  await first.fill((await first.inputValue()).replace(/^\d+/, "90"));
  await ilse.getByRole("button", { name: "Propose" }).click();
  await ilse.waitForURL((url) => !url.pathname.endsWith("/workshop"));
  const id = house.sql("SELECT id FROM revision WHERE title = 'Plain salve' AND state = 'proposed'");
  const marek = await house.as("marek.dvorsky", DESK);
  await marek.goto(`/revisions/${id}/decide`);
  await read(marek);
  await marek.goto(`/revisions/${house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Plain salve'")}`);
  await read(marek);
  await marek.goto(`/revisions/${id}/decide`);
  await marek.locator("del").first().waitFor();
  await look(marek, "decide-compared");
  await marek.getByLabel("Your remarks to the author").fill("Why less wax?");
  await marek.getByRole("button", { name: "Return" }).click();
  await marek.getByRole("heading", { name: "Queue" }).waitFor();
  await ilse.goto("/queue");
  await ilse.locator("a[href*=workshop]", { hasText: "Plain salve" }).click();
  await ilse.getByText("Why less wax?").waitFor();
  await ilse.goto(`/formulas/${house.sql("SELECT id FROM formula WHERE title = 'Thyme syrup'")}`);
  await ilse.getByText("Withdraw formula").click();
  await ilse.getByLabel("Reason", { exact: true }).fill("A better way is in work.");
  await ilse.getByRole("button", { name: "Withdraw" }).click();
  await ilse.getByText("Withdrawn. Do not make this formula.").waitFor();
  await look(ilse, "formula-withdrawn");
});

test("a batch is given up with a deliberate act", async () => {
  const page = await house.as("noor.haddad", PHONE);
  const id = house.sql("SELECT id FROM batch WHERE number = '2026-0003'");
  await page.goto(`/batches/${id}`);
  await page.getByText("Abandon this batch", { exact: true }).click();
  await page.getByLabel("I abandon this batch.").check();
  await page.getByRole("button", { name: "Abandon batch" }).click();
  await page.getByText("Abandoned. Its entries are kept.").waitFor();
});
