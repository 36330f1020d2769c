// Work that takes weeks: a batch is paused on a phone, looked at on its days, taken up again, and handed over.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

const salve = () =>
  house.sql("SELECT b.id FROM batch b JOIN revision r ON r.id = b.revision_id WHERE b.state = 'making' AND r.title = 'Calendula salve'");
const today = () => house.sql("SELECT (max(at) AT TIME ZONE 'UTC')::date FROM event");
const day = (days) => house.sql(`SELECT '${today()}'::date + ${days}`);

test("a maker pauses a batch on a phone, writes down what is seen, and takes it up again", async () => {
  const page = await house.as("noor.haddad", PHONE);
  const batch = salve();
  await page.goto(`/batches/${batch}/bench`);
  await page.getByRole("link", { name: "Pauses and observations" }).click();
  await look(page, "long-work");
  const pause = page.getByRole("region", { name: "Pause it" });
  await pause.getByLabel("Why you leave it").selectOption({ label: "interrupted; the time counts for no step" });
  await pause.getByLabel("Until").fill(day(20));
  await pause.getByRole("button", { name: "Pause the batch" }).click();
  await page.locator("#pause-note-cure").getByText("Enter what interrupted the work").waitFor();
  assert.equal(await pause.getByLabel("Until").inputValue(), day(20), "what was typed stays");
  await look(page, "long-work-refused");
  await pause.getByLabel("Why you leave it").selectOption({ label: "macerating" });
  await pause.getByRole("button", { name: "Pause the batch" }).click();
  await page.getByText(/^Paused until .*: macerating\.$/).waitFor();
  // The plan says what is looked at, and each has its field then.
  const plan = page.getByRole("region", { name: "When it is looked at" });
  await plan.getByLabel("Shaken or turned").check();
  await plan.getByLabel("Mould").check();
  await plan.getByLabel("Every how many days").fill("2");
  await plan.getByLabel("Last day of the plan").fill(day(20));
  await plan.getByRole("button", { name: "Keep the plan" }).click();
  await page.getByText(/^It is looked at next on /).waitFor();
  await look(page, "long-work-paused");
  const now = page.getByRole("region", { name: "What you see now" });
  await now.getByRole("button", { name: "Write the observation down" }).click();
  await page.locator("#note-cure").getByText("Enter what you see, or tick what you did.").waitFor();
  await now.getByLabel("Shaken or turned").check();
  await now.getByLabel("Mould").fill("none");
  await now.getByRole("button", { name: "Write the observation down" }).click();
  await page.getByRole("region", { name: "What was seen" }).getByText("Shaken or turned. Mould: none.").waitFor();
  // At the bench nothing goes on meanwhile, and Today says so.
  await page.goto("/today");
  await page.getByText(/^Paused until /).waitFor();
  await look(page, "today-paused");
  await page.goto(`/batches/${batch}/bench`);
  assert.match(page.url(), /long-work$/);
  await page.getByRole("button", { name: "Take it up again" }).click();
  await page.waitForURL(/bench$/);
  assert.equal(house.sql(`SELECT count(*) FROM batch_resumption WHERE batch_id = '${batch}'`), "1");
});

test("a batch is offered to another maker, who accepts it and goes on with it", async () => {
  const found = house.sql(`SELECT b.id || ' ' || m.sign_in_name || ' ' || p.sign_in_name || ' ' || p.id FROM batch b
      JOIN person m ON m.id = b.maker_id
      JOIN person p ON p.id <> b.maker_id AND may_make_revision(p.id, b.revision_id, b.opened_at)
      WHERE b.state IN ('planned', 'making') AND NOT EXISTS (SELECT FROM work_batch w WHERE w.batch_id = b.id)
      ORDER BY b.id, p.id LIMIT 1`);
  const [batch, maker, other, whom] = found.split(" ");
  const page = await house.as(maker, PHONE);
  await page.goto(`/batches/${batch}`);
  await page.getByRole("link", { name: "Hand the batch over" }).click();
  await page.getByRole("button", { name: "Offer it" }).waitFor();
  await look(page, "handover");
  await page.getByLabel("Whom you hand it to").selectOption(whom);
  await page.getByLabel("Why you hand it over").fill("I am away next week.");
  await page.getByRole("button", { name: "Offer it" }).click();
  await page.getByText(/: waits for an answer$/).waitFor();
  await page.getByRole("button", { name: "Withdraw the offer" }).waitFor();
  await page.getByText("The offer is withdrawn when this record is handed in or abandoned.").waitFor();
  await look(page, "handover-offered");
  const taker = await house.as(other, PHONE);
  await taker.goto("/");
  await taker.getByRole("region", { name: "Batches that are offered to you" }).getByRole("link").first().click();
  await taker.getByText("I am away next week.").waitFor();
  await look(taker, "handover-answer");
  await taker.getByRole("button", { name: "Accept the batch" }).click();
  await taker.waitForURL(new RegExp(`/batches/${batch}$`));
  assert.equal(house.sql(`SELECT maker_id FROM batch WHERE id = '${batch}'`), whom);
  await look(taker, "record-handed-over");
  // Whoever had it reads it, and writes nothing.
  await page.goto(`/batches/${batch}/bench`);
  assert.match(page.url(), new RegExp(`/batches/${batch}$`));
});

test("a jar on the shelf is filled into smaller ones, and one of them is kept as a sample", async () => {
  const found = house.sql(`SELECT j.batch_id || ' ' || j.number || ' ' || p.sign_in_name FROM jar j JOIN batch b ON b.id = j.batch_id
      JOIN person p ON p.id = b.maker_id WHERE b.disposition IN ('practice_only', 'quarantine', 'released')
      AND NOT EXISTS (SELECT FROM jar_handing h WHERE h.jar_id = j.id)
      AND NOT EXISTS (SELECT FROM jar_decanting d WHERE d.jar_id = j.id)
      AND NOT EXISTS (SELECT FROM retained_sample s WHERE s.jar_id = j.id) ORDER BY j.id LIMIT 1`);
  const [batch, number, maker] = found.split(" ");
  const last = Number(house.sql(`SELECT max(number) FROM jar WHERE batch_id = '${batch}'`));
  const page = await house.as(maker, DESK);
  await page.goto(`/batches/${batch}/jars`);
  await page.getByRole("link", { name: `Fill into smaller jars, or keep as a sample ${number}` }).click();
  await page.getByLabel("Number of jars of this size").first().fill("2");
  await page.getByLabel("In each").first().fill("900 g");
  await page.getByLabel("Why you fill it into others").fill("A small jar is needed.");
  await look(page, "decant");
  await page.getByRole("button", { name: "Fill the smaller jars" }).click();
  await page.getByText(/^The jars hold 1800 g together/).waitFor();
  await look(page, "decant-refused");
  await page.getByLabel("In each").first().fill("1 g");
  await page.getByRole("button", { name: "Fill the smaller jars" }).click();
  await page.getByText(`Empty. Its content is in jars: ${last + 1}, ${last + 2}.`).waitFor();
  await look(page, "decanted");
  const small = house.sql(`SELECT max(number) FROM jar WHERE batch_id = '${batch}'`);
  await page.goto(`/batches/${batch}/jars/${small}`);
  await page.getByLabel("Why you keep it").fill("To be looked at.");
  await page.getByRole("button", { name: "Keep this jar" }).click();
  await page.waitForURL(/jars$/);
  assert.equal(house.sql(`SELECT reason FROM retained_sample WHERE jar_id = (SELECT id FROM jar WHERE batch_id = '${batch}' AND number = ${small})`), "To be looked at.");
  // Whoever holds the empty one is told so.
  const code = house.sql(`SELECT token FROM jar WHERE batch_id = '${batch}' AND number = ${number}`);
  await page.goto(`/jars/${code}`);
  await page.getByText("This jar is empty.").waitFor();
  await look(page, "jar-empty");
});
