// Moderation: a share of the marks is given twice, the second time without a name, and the two are settled.
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

/** Work on the salve that Noor has on the bench, set by Ilse and handed in by Noor. */
async function handedIn(ilse) {
  await ilse.getByRole("link", { name: "Write an assignment" }).click();
  await ilse.getByLabel("Title").fill("Hand in a salve");
  await ilse.getByLabel("Formula 1").fill("Calendula salve");
  await ilse.getByLabel("Quantity to make").fill("300 g");
  await ilse.getByLabel("It opens").fill("2026-03-28T08:00");
  await ilse.getByLabel("It is due").fill("2027-04-09T18:00");
  const first = ilse.getByRole("group", { name: "Criterion 1" });
  await first.getByLabel("What is assessed").fill("Weighing");
  await first.getByLabel("Levels").fill("0 Lines are off.\n3 One line is off.\n6 Every line is within tolerance.");
  await first.getByText("Proposed levels").click();
  await first.getByLabel("something not recorded").check();
  const second = ilse.getByRole("group", { name: "Criterion 2" });
  await second.getByLabel("What is assessed").fill("Clean bench");
  await second.getByLabel("Must be passed").check();
  await ilse.getByRole("button", { name: "Save the draft" }).click();
  await ilse.getByRole("button", { name: "Set it" }).click();
  const noor = await house.as("noor.haddad", PHONE);
  await noor.getByRole("link", { name: "Open it Hand in a salve" }).click();
  await noor.getByRole("radio").first().check();
  await noor.getByRole("button", { name: "Hand it in" }).click();
  await noor.getByText("Waits to be marked.").first().waitFor();
}

test("a mark is drawn, given again without a name, and settled by whoever gives way, at the desk and on a phone", async () => {
  const ilse = await house.as("ilse.brandt", DESK);
  await ilse.getByRole("link", { name: "Classes" }).click();
  await ilse.getByRole("link", { name: "First year" }).click();
  const address = ilse.url();

  // The share is set where the agreement is read; what is no share is refused with the cure.
  await ilse.getByRole("link", { name: "How the markers agree" }).click();
  await ilse.getByText("No share of the marks is given twice.").waitFor();
  await ilse.getByLabel("Share of marks given twice (%)").fill("many");
  await ilse.getByRole("button", { name: "Set the share" }).click();
  await ilse.getByText("Enter a whole number from 0 to 100.").waitFor();
  await look(ilse, "agreement-refused");
  await ilse.getByLabel("Share of marks given twice (%)").fill("100");
  await ilse.getByRole("button", { name: "Set the share" }).click();
  await ilse.getByText(/100 % of the marks are given twice\. Set by Ilse Brandt/).waitFor();
  await ilse.goto(address);
  await handedIn(ilse);

  // The first mark is given, and drawn.
  await ilse.goto("/queue");
  await ilse.getByRole("region", { name: "Work to mark" }).getByRole("button", { name: /Hand in a salve/ }).click();
  await read(ilse);
  await ilse.getByText(/You hold this work until/).waitFor();
  await ilse.getByLabel("Every line is within tolerance.").check();
  await ilse.getByLabel("Met", { exact: true }).check();
  await ilse.getByLabel(/Your remarks to/).fill("Careful work, Noor.");
  await ilse.getByRole("button", { name: /^Accept/ }).click();
  await ilse.waitForURL(/\/queue|\/review/);

  // Nobody was named: an instructor names somebody.
  house.sql("UPDATE moderation SET second_id = NULL");
  await ilse.goto(`${address}/agreement`);
  await ilse.getByText("no second marker yet").waitFor();
  await ilse.getByRole("link", { name: /^Hand in a salve/ }).click();
  await ilse.getByLabel("Who gives the second mark").selectOption({ label: "Marek Dvorsky" });
  await look(ilse, "moderation-nobody");
  await ilse.getByRole("button", { name: "Name this person" }).click();
  await ilse.getByText("Marek Dvorsky gives the second mark.").first().waitFor();
  await look(ilse, "moderation-waits");

  // The second marker sees the record and its findings, and neither a name nor the first mark.
  const marek = await house.as("marek.dvorsky", PHONE);
  await marek.goto("/queue");
  await marek.getByRole("region", { name: "Second marks to give" }).waitFor();
  await marek.getByRole("link", { name: "All second marks" }).click();
  await marek.getByRole("heading", { name: "Second marks to give" }).waitFor();
  await look(marek, "second-marks");
  await marek.getByRole("link", { name: /^Hand in a salve/ }).click();
  await read(marek);
  await marek.getByRole("heading", { name: "Your second mark" }).waitFor();
  const seen = await marek.locator("main").innerText();
  for (const secret of ["Noor", "Ilse", "Careful work", "2026-0"]) assert.ok(!seen.includes(secret), `${secret} in ${seen}`);
  assert.equal(await marek.locator("input:checked").count(), 0);
  await marek.getByRole("button", { name: "Give the second mark" }).click();
  await marek.getByText(/Decide every criterion\. Missing: 1 \(Weighing\)/).waitFor();
  await look(marek, "second-mark-refused");
  const work = new URL(marek.url()).pathname.replace(/\/mark$/, "");
  const desk = await house.as("marek.dvorsky", DESK);
  await desk.goto(work);
  await desk.getByRole("heading", { name: "Your second mark" }).waitFor();
  await look(desk, "second-mark");
  await marek.goto(`${address}/grid`);
  await marek.getByText("closed until marked").first().waitFor();
  await look(marek, "grid-closed");
  await marek.goto(work);
  await marek.getByLabel("One line is off.").check();
  await marek.getByLabel("Met", { exact: true }).check();
  await marek.getByRole("button", { name: "Give the second mark" }).click();

  // Both stand beside each other. The second marker can let the first stand; the first can take the second.
  await marek.getByText("The marks differ on 1 criterion.").waitFor();
  await marek.getByRole("button", { name: "Let the first mark stand" }).waitFor();
  assert.equal(await marek.getByRole("button", { name: "Take the second mark" }).count(), 0);
  await look(marek, "moderated");
  await ilse.reload();
  await ilse.getByRole("button", { name: "Take the second mark" }).waitFor();
  await look(ilse, "moderated-first");

  // What the first marker settled stands in the agreement of the class.
  const mark = house.sql("SELECT id FROM moderation");
  const third = await house.as("ilse.brandt", DESK);
  await third.goto(`/moderations/${mark}`);
  await third.getByRole("button", { name: "Take the second mark" }).click();
  await third.getByText(/Ilse Brandt took the levels of the second mark/).waitFor();
  await look(third, "moderated-settled");
  await third.goto(`${address}/agreement`);
  await third.getByText("1 of 1 drawn marks were given twice.").waitFor();
  await third.getByText("Level 3 and level 2.").waitFor();
  await look(third, "agreement");
  await marek.goto(`${address}/agreement`);
  await look(marek, "agreement-phone");
});
