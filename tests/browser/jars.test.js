// Jars: filled from an accepted record, released by somebody who did not make them, and read by whoever holds one.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

/** Reads whatever cautions stand before a page; answers whether there were any. */
const readAll = async (page) => {
  let acts = 0;
  for (; await page.locator(".reading").count(); acts += 1) {
    assert.ok(acts < 5, "the gate has no end");
    await house.read(page);
  }
  return acts > 0;
};

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
  // On the shelf they wait, and say why.
  const instructor = maker === "ilse.brandt" ? "marek.dvorsky" : "ilse.brandt";
  const shelf = await house.as(instructor, PHONE);
  await shelf.goto("/shelf");
  await shelf.getByRole("link", { name: "Jars on the shelf" }).click();
  await shelf.getByRole("link", { name: "Waiting for release" }).click();
  const waiting = shelf.locator(".row", { has: shelf.locator(`a[href='/batches/${batch}/jars']`) });
  await waiting.getByText("3 jars of 10 g. Numbered 1 to 3.").waitFor();
  await waiting.getByText("It is not released. An instructor who did not make it releases it first.").waitFor();
  await look(shelf, "shelf-jars-waiting");

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

  const ilse = await house.as(instructor, DESK);
  await ilse.goto(`/batches/${batch}/release`);
  await readAll(ilse);
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
  const handed = ilse.url();
  await shelf.getByRole("link", { name: "Ready to hand out" }).click();
  await waiting.getByText("2 jars of 10 g. Numbered 2, 3.").waitFor();
  await look(shelf, "shelf-jars");
  await ilse.goto("/shelf/jars");
  await look(ilse, "shelf-jars");
  await ilse.getByRole("link", { name: "Past their last day" }).click();
  await look(ilse, "shelf-jars-past");
  await ilse.goto(handed);
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

test("some jars are kept as samples, somebody looks at them, and an instructor brings the last day forward", async () => {
  const batch = house.sql("SELECT id FROM batch WHERE state = 'accepted' AND disposition = 'quarantine' AND revision_id IN (SELECT revision_id FROM revision_nested) ORDER BY id LIMIT 1");
  const maker = house.sql(`SELECT p.sign_in_name FROM batch b JOIN person p ON p.id = b.maker_id WHERE b.id = '${batch}'`);
  const page = await house.as(maker, PHONE);
  await page.goto(`/batches/${batch}/jars`);
  const fill = async (samples) => {
    await page.getByLabel("Number of jars").fill("2");
    await page.getByLabel("In each").fill("10 g");
    await page.getByLabel("Kept as samples").fill(samples);
    await page.getByRole("button", { name: "Fill the jars" }).click();
  };
  await fill("some");
  await page.getByText(/^Enter how many jars are kept as samples/).waitFor();
  await fill("1");
  // The label is that of everything nested in it, whose cautions are read first.
  await page.locator(".reading").or(page.getByText("Kept as a sample, never handed out.")).first().waitFor();
  if (await readAll(page)) await fill("1");
  await page.getByText("Kept as a sample, never handed out.").waitFor();
  await look(page, "jars-sample");
  const sample = await page.locator("a[href^='/jars/']").last().getAttribute("href");
  const holder = await house.device(PHONE, { javaScriptEnabled: false });
  await holder.goto(sample);
  assert.equal(await sentence(holder), "Kept as a sample. Do not use it.");

  // Put aside long ago, they stand on the first page of the maker and of instructors.
  house.sql(`UPDATE retained_sample SET first_on = first_on - 2 WHERE batch_id = '${batch}'`);
  const ilse = await house.as(maker === "ilse.brandt" ? "marek.dvorsky" : "ilse.brandt", DESK);
  await ilse.goto("/queue");
  await ilse.getByRole("heading", { name: "Samples to look at" }).waitFor();
  await look(ilse, "queue-samples");
  await page.goto(maker.startsWith("ilse") || maker.startsWith("marek") ? "/queue" : "/today");
  await page.getByRole("heading", { name: "Samples to look at" }).waitFor();
  await look(page, "today-samples");
  await page.locator(`a[href='/batches/${batch}/observations']`).click();
  await page.getByText("Nothing is written down yet.").waitFor();
  await page.getByLabel("the colour has changed").check();
  await page.getByLabel("mould").check();
  await page.getByLabel("Note on what you see, if any").fill("A grey film at the rim.");
  await look(page, "observations-form");
  await page.getByRole("button", { name: "Write the observation down" }).click();
  await page.getByText(/^Jar \d+: mould, the colour has changed\.$/).waitFor();
  await look(page, "observations");

  // A correction begins with what it corrects, and both stay.
  await page.getByRole("link", { name: /^Correct / }).click();
  assert.ok(await page.getByLabel("mould").isChecked());
  await page.getByLabel("the colour has changed").uncheck();
  await page.getByLabel("Why you correct it").fill("It was the light.");
  await look(page, "observations-correct");
  await page.getByRole("button", { name: "Write the correction down" }).click();
  await page.getByText("This is a correction: It was the light.").waitFor();
  assert.equal(await page.locator("del").count(), 1);

  await ilse.goto(`/batches/${batch}/observations`);
  await readAll(ilse);
  await ilse.locator("summary", { hasText: "Bring the last day forward" }).click();
  await ilse.getByLabel("New last day").fill("2020-01-01");
  await ilse.getByLabel("Why it keeps less long").fill("Mould after a few days.");
  await ilse.getByRole("button", { name: /^Bring it forward/ }).click();
  await ilse.getByText(/^The last day is .* Enter an earlier day, /).waitFor();
  assert.equal(await ilse.getByLabel("Why it keeps less long").inputValue(), "Mould after a few days.");
  await look(ilse, "observations-refused");
  const soon = new Date(Date.now() + 3 * 86400000).toISOString().slice(0, 10);
  await ilse.getByLabel("New last day").fill(soon);
  await ilse.getByRole("button", { name: /^Bring it forward/ }).click();
  await ilse.getByText(/^Brought forward to .* by /).waitFor();
  await ilse.getByRole("link", { name: "See what was made of it" }).waitFor();
  await look(ilse, "observations-shortened");
  const label = await ilse.evaluate(async (one) => (await fetch(one)).text(), `/batches/${batch}/jars`);
  assert.ok(label.includes("Use by"));

  // One act leads to the recall, with why.
  await ilse.getByRole("link", { name: /^Recall this batch/ }).click();
  assert.match(await ilse.getByLabel("Why it is recalled").inputValue(), /^Seen on .*: mould\.$/);
  await look(ilse, "recall-of-observation");

  // The record tells the day that binds before the one that was worked out.
  await ilse.goto(`/batches/${batch}`);
  await ilse.getByText("Last day now").waitFor();
  await ilse.getByText(/Brought forward to .* Mould after a few days\.$/).waitFor();
  await look(ilse, "record-shortened");
});
