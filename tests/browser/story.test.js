// A newcomer with a phone and the README makes the demo's cream, and sees it accepted. The test reads the page as the
// newcomer does: it acts on what can be seen, by the words that stand there, and knows no address but the one that
// `./deploy/up` prints.
import test from "node:test";
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { clinic, DESK, look, PHONE, signIn } from "./house.js";

const house = clinic();

/** What the README tells a newcomer of the pages, as plain text. */
const readme = readFileSync(process.env.PAGES_README, "utf8").split("## By hand")[1].split("\n## ")[0].replace(/\s+/g, " ");
const told = (words) => assert.ok(readme.includes(words), `the README does not say “${words}”`);

test("a newcomer makes the demo's cream on a phone, hands it in, and sees it accepted", async () => {
  for (const words of ["noor.haddad", "Gardener's hand cream", "12 jars of 30 g", "4 %", "0.1 g", "marek.dvorsky"]) told(words);
  const phone = await house.device(PHONE);
  await phone.goto("/");
  await signIn(phone, "noor.haddad");
  // The first page says how to find a formula.
  await phone.getByLabel("Find a formula").fill("gardener");
  await phone.getByRole("button", { name: "Find" }).tap();
  const said = Number(/(\d+) things to read first/.exec(await phone.locator("li", { has: phone.getByRole("link", { name: "Gardener's hand cream" }) }).textContent())[1]);
  await phone.getByRole("link", { name: "Gardener's hand cream" }).tap();
  // One thing to read after the other, until the recipe opens.
  await phone.getByRole("heading", { name: "Read these to open the recipe" }).waitFor();
  const open = phone.getByRole("button", { name: "Open the recipe" });
  let acts = 0;
  for (; !(await open.isVisible()); acts += 1) {
    assert.ok(acts < 20, "the reading has no end");
    await phone.locator(".read:visible", { has: phone.locator("input:not(:checked)") }).first().tap();
  }
  assert.equal(acts, said, "there is more or less to read than the list said");
  await open.tap();
  // For how many jars stands in the sentence above the weights.
  await phone.getByLabel("Quantity by").selectOption("jars");
  await phone.getByLabel("How many jars").fill("12");
  await phone.getByLabel("In each jar").fill("30 g");
  await phone.getByText(/stays in the pot; the balance reads/).tap();
  await phone.getByLabel("Stays in the pot").fill("4 %");
  await phone.getByLabel("The balance reads").fill("0.1 g");
  await phone.locator(".total", { hasText: /^\s*375\.\dg/ }).waitFor();
  await phone.getByRole("button", { name: "Start a batch" }).tap();
  // The bench shows one act at a time, and says how far it is.
  const far = phone.locator("#far");
  const wait = (before) => phone.waitForFunction((text) => document.getElementById("far")?.textContent !== text, before);
  let measured = false;
  for (let acts = 0; ; acts += 1) {
    assert.ok(acts < 40, "the bench has no end");
    await phone.locator("h1").first().waitFor();
    if (!(await far.count())) break;
    const before = await far.textContent();
    // A step that asks for the pH leads to the place where it is written.
    const ph = phone.getByRole("link", { name: "Write down the pH" });
    if (!measured && await ph.count()) {
      measured = true;
      await ph.tap();
      await phone.getByLabel("pH", { exact: true }).fill("4.8");
      await phone.locator("button.big").tap();
      await phone.getByText(/^Written: 4\.8/).waitFor();
      // A water activity is offered as the pH is.
      await phone.goto(`${new URL(phone.url()).pathname}?act=activity`);
      await phone.getByLabel("Water activity", { exact: true }).fill("0.97");
      await phone.locator("button.big").tap();
      await phone.getByText(/^Written: 0\.97/).waitFor();
      continue;
    }
    const weighed = phone.getByLabel("Weighed, in grams");
    const heat = phone.getByLabel("Temperature, in °C");
    if (await phone.getByText("Expected").isVisible()) {
      await weighed.fill("361");
    } else if (await weighed.count()) {
      await phone.getByRole("button", { name: /^\S+ g more$/ }).tap();
      await phone.getByText("As asked.").waitFor();
      // The page asks for the lot until it knows it from the last time.
      await phone.getByLabel("Lot", { exact: true }).fill("AG-26-7");
      await phone.getByLabel("Good until").fill("2028-03");
    } else if (await heat.count()) {
      const target = phone.locator("#here p .target");
      if (await target.count()) await heat.fill(/\d+/.exec(await target.first().textContent())[0]);
    }
    const hold = await phone.locator("#here").getByText("Hold", { exact: true }).count();
    await phone.locator("button.big").tap();
    await wait(before);
    if (hold) await house.release(/batches\/([^/?]+)/.exec(phone.url())[1]);
  }
  // Everything is written: the record says so, and what comes next.
  await look(phone, "story-record");
  await phone.getByRole("button", { name: "Submit for review" }).tap();
  await phone.getByText(/^Submitted/).first().waitFor();
  const number = (await phone.locator("h1").first().locator("xpath=ancestor::div[contains(@class,'row')]").locator(".l").first().textContent()).trim();
  assert.match(number, /^\d{4}-\d{4}$/);

  const desk = await house.device(DESK);
  await desk.goto("/");
  await signIn(desk, "marek.dvorsky");
  await desk.getByRole("link", { name: `Gardener's hand cream ${number}` }).click();
  // Whoever reviews reads what the maker has read, once.
  const go = desk.locator(".after button.do");
  for (let acts = 0; (await desk.locator(".reading").count()) && !(await go.isVisible()); acts += 1) {
    assert.ok(acts < 20, "the reading has no end");
    await desk.locator(".read:visible", { has: desk.locator("input:not(:checked)") }).first().click();
  }
  if (await go.count()) await go.click();
  await desk.getByRole("heading", { name: "Your decision" }).waitFor();
  await look(desk, "story-review");
  await desk.getByLabel("Your remarks to Noor Haddad").fill("A smooth cream.");
  await desk.getByRole("button", { name: /^Accept/ }).click();
  await desk.waitForLoadState();

  // The newcomer finds the answer on the first page, without looking for it.
  await phone.getByRole("link", { name: "Stillroom" }).tap();
  await phone.getByRole("link", { name: new RegExp(`Gardener's hand cream.*${number}`) }).tap();
  await phone.getByText("Accepted by Marek Dvorsky.").waitFor();
  await look(phone, "story-accepted");
});
