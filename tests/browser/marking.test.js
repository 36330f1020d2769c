// Marking: a record that was handed in is claimed, decided criterion by criterion, and read by its student.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

/** Work on the salve that Noor has on the bench, set by Ilse and handed in by Noor. */
async function handedIn() {
  const ilse = await house.as("ilse.brandt", DESK);
  await ilse.getByRole("link", { name: "Classes" }).click();
  await ilse.getByRole("link", { name: "First year" }).click();
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
  return { ilse, noor };
}

test("a marker claims work, marks it by keys, and the student reads the mark beside the comments", async () => {
  const { ilse, noor } = await handedIn();
  await ilse.goto("/queue");
  await look(ilse, "queue-handed");
  await ilse.getByRole("button", { name: /Calendula salve/ }).click();
  if (await ilse.locator(".reading").count()) {
    const acts = ilse.locator(".reading .read");
    const many = await acts.count();
    for (let i = 0; i < many; i += 1) await acts.nth(i).click();
    await ilse.locator(".reading button.do").click();
  }
  await ilse.getByText(/You hold this work until/).waitFor();
  await look(ilse, "marking");

  // Another marker is told who holds it.
  const marek = await house.as("marek.dvorsky", DESK);
  await marek.goto(new URL(ilse.url()).pathname);
  if (await marek.locator(".reading").count()) {
    const acts = marek.locator(".reading .read");
    const many = await acts.count();
    for (let i = 0; i < many; i += 1) await acts.nth(i).click();
    await marek.locator(".reading button.do").click();
  }
  await marek.getByText(/Ilse Brandt holds this work until/).waitFor();
  await look(marek, "marking-held");

  // Nothing is chosen before the marker chooses; what is missing is named, and what was typed stays.
  assert.equal(await ilse.locator("[data-criterion] input:checked").count(), 0);
  await ilse.getByLabel(/Your remarks to/).fill("The rest of the record is missing.");
  const criterion = ilse.locator("[data-criterion]");
  await criterion.first().focus();
  await ilse.keyboard.press("2");
  assert.ok(await criterion.nth(0).getByLabel("One line is off.").isChecked());
  await ilse.getByRole("button", { name: /^Accept/ }).click();
  await ilse.getByText("Decide every criterion. Missing: 2 (Clean bench).").waitFor();
  assert.ok(await criterion.nth(0).getByLabel("One line is off.").isChecked());
  await look(ilse, "marking-refused");
  await criterion.nth(1).focus();
  await ilse.keyboard.press("y");
  await criterion.nth(0).locator("summary", { hasText: "Comment" }).click();
  await criterion.nth(0).getByRole("textbox").fill("Weigh the oil too.");
  await ilse.getByRole("button", { name: /^Accept/ }).click();
  await ilse.waitForURL(/\/queue|\/review/);

  await noor.goto("/batches");
  await noor.getByRole("link", { name: /Calendula salve/ }).first().click();
  await noor.getByRole("heading", { name: "Mark" }).waitFor();
  await noor.getByText("Weigh the oil too.").first().waitFor();
  await noor.getByText("3 of 6").first().waitFor();
  await look(noor, "mark-read");

  // A changed mark is another one, and says why.
  await ilse.goto(new URL(noor.url()).pathname);
  await ilse.getByRole("link", { name: "Change mark" }).click();
  await ilse.getByLabel("Every line is within tolerance.").check();
  await look(ilse, "mark-change");
  await ilse.getByLabel("Why the mark changes").selectOption({ label: "the record was read wrongly" });
  await ilse.getByRole("button", { name: "Change mark" }).click();
  await ilse.getByText(/Before: 3 of 6/).waitFor();
  await look(ilse, "mark-changed");
  await noor.reload();
  await noor.getByText("6 of 6").first().waitFor();
});

test("a marker declares a relation, and then another marks", async () => {
  const marek = await house.as("marek.dvorsky", DESK);
  await marek.getByRole("link", { name: "Classes" }).click();
  await marek.getByRole("link", { name: "Make a calendula cream" }).click();
  await marek.getByRole("link", { name: "Noor Haddad" }).click();
  await marek.getByText("You are related to this student").click();
  await marek.getByLabel("I am related to this student, and cannot take this back.").check();
  await look(marek, "relation");
  await marek.getByRole("button", { name: "Declare relation" }).click();
  await marek.getByText("You declared a relation to this student.").waitFor();
  await marek.goto("/account");
  await marek.getByRole("heading", { name: "Students you are related to" }).waitFor();
  await look(marek, "account-relations");
});
