// Jars: filled from an accepted record, released by somebody who did not make them, and read by whoever holds one.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

const sentence = (page) => page.locator(".plainly .name").first().innerText();

test("a maker fills jars, an instructor confirms the cautions and releases, and a recall reaches who holds a jar", async () => {
  const batch = house.sql("SELECT id FROM batch WHERE state = 'accepted' AND disposition = 'quarantine' AND revision_id NOT IN (SELECT revision_id FROM revision_nested) ORDER BY id LIMIT 1");
  const maker = house.sql(`SELECT p.sign_in_name FROM batch b JOIN person p ON p.id = b.maker_id WHERE b.id = '${batch}'`);
  const page = await house.as(maker, PHONE);
  await page.goto(`/batches/${batch}`);
  await page.getByRole("link", { name: "The jars" }).click();
  await house.read(page);
  await page.getByText("No jar is filled yet.").waitFor();
  await look(page, "jars");
  await page.getByLabel("Number of jars").fill("400");
  await page.getByLabel("In each").fill("30 g");
  await page.getByRole("button", { name: "Fill the jars" }).click();
  await page.getByText(/Fill fewer jars, or put less into each\./).waitFor();
  await look(page, "jars-refused");
  await page.getByLabel("Number of jars").fill("3");
  await page.getByLabel("In each").fill("10 g");
  await page.getByRole("button", { name: "Fill the jars" }).click();
  await page.getByRole("heading", { name: "Filled" }).waitFor();
  assert.equal(await page.locator("a[href^='/jars/']").count(), 3);
  await look(page, "jars-filled");
  const jar = await page.locator("a[href^='/jars/']").first().getAttribute("href");

  // Whoever holds the jar is not signed in, and their browser runs no script.
  const holder = await house.device(PHONE, { javaScriptEnabled: false });
  await holder.goto(jar);
  assert.equal(await sentence(holder), "Not released yet. Do not use it.");
  assert.deepEqual(await holder.context().cookies(), []);

  const ilse = await house.as(maker === "ilse.brandt" ? "marek.dvorsky" : "ilse.brandt", DESK);
  await ilse.goto(`/batches/${batch}/release`);
  for (let acts = 0; await ilse.locator(".reading").count(); acts += 1) {
    assert.ok(acts < 5, "the gate has no end");
    await house.read(ilse);
  }
  await ilse.getByRole("heading", { name: /^Release .*\?$/ }).waitFor();
  await look(ilse, "release");
  await ilse.getByRole("button", { name: "Release the jars" }).click();
  await ilse.getByText(/^Confirm every caution of the label/).waitFor();
  await look(ilse, "release-refused");
  for (const box of await ilse.locator("input[name=confirmed]").all()) await box.check();
  await ilse.getByRole("button", { name: "Release the jars" }).click();
  await ilse.getByText(/^Released by /).waitFor();
  await look(ilse, "jars-released");
  await holder.reload();
  assert.match(await sentence(holder), /^In date\. Use by /);
  const anybody = await house.device(PHONE);
  await anybody.goto(jar);
  await look(anybody, "jar");
  const desk = await house.device(DESK);
  await desk.goto(jar);
  await look(desk, "jar");

  // A code that is typed, wrongly and rightly.
  await anybody.goto("/jars");
  await look(anybody, "jar-code");
  await anybody.getByLabel("Code").fill("4t6qk");
  await anybody.getByRole("button", { name: "Read about the jar" }).click();
  await anybody.getByText("No jar has this code. Type it again as it stands on the jar.").waitFor();
  await look(anybody, "jar-code-unknown");
  await anybody.getByLabel("Code").fill(jar.slice("/jars/".length).toUpperCase().replace(/(.{6})/g, "$1 "));
  await anybody.getByRole("button", { name: "Read about the jar" }).click();
  await anybody.getByRole("heading", { name: "Something went wrong with it" }).waitFor();

  await ilse.goto(`/batches/${batch}/trace`);
  const recalled = await ilse.request.get(`/recall?cause=batch&id=${batch}`);
  assert.ok(recalled.ok(), `${recalled.status()}`);
  await ilse.goto(`/recall?cause=batch&id=${batch}`);
  await ilse.getByLabel("Why it is recalled").fill("Somebody's skin reddened.");
  await ilse.getByRole("button", { name: "Recall all of this" }).click();
  await ilse.getByText(/not accounted for\.$/).first().waitFor();
  await holder.reload();
  assert.match(await sentence(holder), /^Recalled on .* Do not use it\. Bring it back\.$/);
  await anybody.reload();
  await look(anybody, "jar-recalled");
  await ilse.goto(`/batches/${batch}/release`);
  await ilse.locator("summary", { hasText: "Discard what was made" }).click();
  await ilse.getByLabel("Why is it thrown away?").fill("All came back.");
  await ilse.getByRole("button", { name: "Discard the jars" }).click();
  await ilse.getByText(/^Discarded by /).waitFor();
  await holder.reload();
  assert.equal(await sentence(holder), "Discarded. Do not use it.");
});
