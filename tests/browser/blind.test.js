// Work that is marked without names, from the desk that sets it to the verdict; and a maker's own check on a phone.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

/** Reads the cautions that stand in the way, if there are some. */
async function read(page) {
  if ((await page.locator(".reading").count()) === 0) return;
  const acts = page.locator(".reading .read");
  const many = await acts.count();
  for (let i = 0; i < many; i += 1) await acts.nth(i).click();
  await page.locator(".reading button.do").click();
}

test("work is set to be marked without names, and a name shows with the verdict", async () => {
  const ilse = await house.as("ilse.brandt", DESK);
  await ilse.getByRole("link", { name: "Classes" }).click();
  await ilse.getByRole("link", { name: "First year" }).click();
  await ilse.getByRole("link", { name: "Write an assignment" }).click();
  await ilse.getByLabel("Title").fill("A salve without names");
  await ilse.getByLabel("Formula 1").fill("Calendula salve");
  await ilse.getByLabel("Quantity to make").fill("300 g");
  await ilse.getByLabel("It opens").fill("2026-03-28T08:00");
  await ilse.getByLabel("It is due").fill("2027-04-09T18:00");
  await ilse.getByLabel("Mark without names").check();
  await ilse.getByLabel("Practice: reviewed, not marked").check();
  await look(ilse, "blind-set");
  await ilse.getByRole("button", { name: "Save the draft" }).click();
  await ilse.getByRole("button", { name: "Set it" }).click();
  await ilse.getByText("This work is marked without names.").waitFor();
  await ilse.getByText("closed until marked").first().waitFor();
  await look(ilse, "blind-assignment");

  const noor = await house.as("noor.haddad", PHONE);
  await noor.getByRole("link", { name: "Open it A salve without names" }).click();
  await noor.getByRole("radio").first().check();
  await noor.getByRole("button", { name: "Hand it in" }).click();
  await noor.getByText("Waits to be marked.").first().waitFor();

  await ilse.goto("/queue");
  const line = ilse.getByRole("region", { name: "Work to mark" }).locator(".row", { hasText: "A salve without names" });
  const label = (await line.getByText(/Candidate/).innerText()).match(/Candidate \w+/)[0];
  assert.doesNotMatch(await line.innerText(), /Noor/);
  await look(ilse, "blind-queue");
  await line.getByRole("button").click();
  await read(ilse);
  await ilse.getByText(new RegExp(`${label} made it on`)).waitFor();
  assert.doesNotMatch(await ilse.locator("main").innerText(), /Noor/);
  await look(ilse, "blind-review");
  const marked = ilse.url().replace(/\/review.*/, "");
  await ilse.goto(marked);
  assert.doesNotMatch(await ilse.locator("main").innerText(), /Noor/);
  await look(ilse, "blind-record");
  await ilse.goto(`${marked}/review`);
  await ilse.getByLabel(`Your remarks to ${label}`).fill("Weigh it again.");
  await ilse.getByRole("button", { name: /^Accept/ }).click();
  await ilse.waitForURL(/\/queue|\/review/);
  await ilse.goto(marked);
  await ilse.getByText(/Noor/).first().waitFor();
});

test("a maker checks a formula for herself, and tells her instructors one sentence, which she withdraws", async () => {
  const noor = await house.as("noor.haddad", PHONE);
  await noor.getByLabel("Find a formula").fill("calendula");
  await noor.getByRole("button", { name: "Find" }).click();
  await noor.getByRole("link", { name: "Household calendula cream" }).click();
  await noor.getByRole("link", { name: "Check it for yourself first" }).click();
  await look(noor, "self-check");
  const address = noor.url();
  await noor.getByRole("button", { name: "Check this formula" }).click();
  await noor.getByText("Tick what is true of you.").waitFor();
  await noor.getByLabel("I am pregnant").check();
  await noor.getByLabel(/I am allergic to daisy family/).check();
  await noor.getByRole("button", { name: "Check this formula" }).click();
  await noor.getByText("Ask a doctor or midwife before you make it.").waitFor();
  await noor.getByText(/daisy family; do not use/).waitFor();
  assert.equal(noor.url(), address, "the answers stand in no address");
  assert.equal(await noor.locator("input:checked").count(), 0);
  await look(noor, "self-checked");

  await noor.getByRole("link", { name: "Tell the instructors of First year" }).click();
  await noor.getByLabel("I cannot work with", { exact: true }).fill("fresh daisies");
  await look(noor, "limits-own");
  await noor.getByLabel(/may read this until I withdraw it/).check();
  await noor.getByRole("button", { name: "Tell them" }).click();
  await noor.getByText("I cannot work with: fresh daisies").waitFor();

  const ilse = await house.as("ilse.brandt", DESK);
  await ilse.getByRole("link", { name: "Classes" }).click();
  await ilse.getByRole("link", { name: "First year" }).click();
  await ilse.getByRole("link", { name: "What students cannot work with" }).click();
  await ilse.getByText("Noor Haddad cannot work with: fresh daisies").waitFor();
  await look(ilse, "limits");

  await noor.getByRole("button", { name: "Withdraw this sentence" }).click();
  await noor.getByRole("button", { name: "Tell them" }).waitFor();
  await ilse.reload();
  await ilse.getByText("No student has told you anything.").waitFor();
});
