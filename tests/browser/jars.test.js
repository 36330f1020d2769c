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
  assert.match(jar, /^\/jars\/[0-9a-z]{26}$/);

  // Each jar has a label with its number and its code, and what it cannot hold is said.
  await page.getByRole("link", { name: "Print labels" }).click();
  await page.getByRole("button", { name: "Show the label" }).waitFor();
  assert.equal(await page.getByLabel("Which labels").inputValue(), "jars");
  await look(page, "jar-labels");
  await page.getByLabel("Width and height of a label").fill("60 x 15 mm");
  await page.getByRole("button", { name: "Show the label" }).click();
  await page.getByText(/^The label has no room for its code/).waitFor();
  await look(page, "jar-labels-refused");
  await page.getByLabel("Width and height of a label").fill("70 x 45 mm");
  await page.getByLabel(/^Numbers of the jars/).fill("2-3");
  await page.getByRole("button", { name: "Show the label" }).click();
  const drawn = page.locator("img.label");
  await drawn.waitFor();
  assert.match(await drawn.getAttribute("src"), /\/jars\/2\/label\.png\?/);
  assert.match(await drawn.getAttribute("alt"), /Jar 2$/);
  assert.ok(await drawn.evaluate((image) => image.decode().then(() => image.naturalWidth > 500)));
  await look(page, "jar-labels-shown");
  for (const name of ["Labels to print (PDF)", "Leaflet to print (PDF)"]) {
    const address = await page.getByRole("link", { name }).getAttribute("href");
    assert.match(address, new RegExp(`^/batches/${batch}/jars/`));
    const answer = await page.evaluate(async (one) => {
      const answer = await fetch(one);
      return [answer.status, answer.headers.get("content-type"), (await answer.text()).slice(0, 5)];
    }, address);
    assert.deepEqual(answer, [200, "application/pdf", "%PDF-"], name);
  }

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

  // One jar is handed out, by a reference and never by a name.
  await ilse.goto(`/batches/${batch}/jars`);
  await ilse.getByRole("link", { name: "Hand it out 1" }).click();
  await ilse.getByLabel("Reference").fill("Noor Haddad");
  await ilse.getByRole("button", { name: "Hand out this jar" }).click();
  await ilse.getByText(/Never a name\.$/).first().waitFor();
  await ilse.getByText("Tell the cautions of the label before you hand it out.").waitFor();
  await look(ilse, "handing-refused");
  await ilse.getByLabel("Reference").fill("C-1042");
  for (const box of await ilse.locator("fieldset input[type=checkbox]").all()) await box.check();
  await ilse.getByRole("button", { name: "Hand out this jar" }).click();
  await ilse.getByText(/^Handed out to C-1042 by /).waitFor();
  await look(ilse, "handing");
  const tablet = await house.as(maker === "marek.dvorsky" ? "ilse.brandt" : "marek.dvorsky", PHONE);
  await tablet.goto(ilse.url());
  await tablet.getByLabel("What was said about it").fill("Half used.");
  await tablet.getByRole("button", { name: "It came back" }).click();
  await tablet.getByText(/is not handed out again\.$/).waitFor();
  await look(tablet, "handing-back");

  await ilse.goto(`/recall?cause=batch&id=${batch}`);
  await ilse.getByLabel("Why it is recalled").fill("Somebody's skin reddened.");
  await ilse.getByRole("button", { name: "Recall all of this" }).click();
  await ilse.getByText(/not accounted for\.$/).first().waitFor();
  await look(ilse, "recall-jars");
  await ilse.getByRole("checkbox", { name: /^Jar 1, / }).check();
  await ilse.getByRole("checkbox", { name: /^Jar 2, / }).check();
  await ilse.getByLabel("What came of the chosen jars").first().selectOption({ label: "It was not found" });
  await ilse.getByRole("button", { name: /^Note it of the chosen jars/ }).first().click();
  await ilse.getByText("Enter who was asked, and where it was looked for.").first().waitFor();
  await look(ilse, "recall-jars-refused");
  assert.ok(await ilse.getByRole("checkbox", { name: /^Jar 2, / }).isChecked());
  await ilse.getByLabel(/^About these jars/).first().fill("C-1042 was asked by letter.");
  await ilse.getByRole("button", { name: /^Note it of the chosen jars/ }).first().click();
  await ilse.getByText("One jar is not accounted for.").waitFor();
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
