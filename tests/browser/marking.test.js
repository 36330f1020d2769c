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

/** Reads the cautions that stand in the way, if there are some. */
async function read(page) {
  if ((await page.locator(".reading").count()) === 0) return;
  const acts = page.locator(".reading .read");
  const many = await acts.count();
  for (let i = 0; i < many; i += 1) await acts.nth(i).click();
  await page.locator(".reading button.do").click();
}

test("a marker returns work with a phrase of their own, claims it when it comes back, marks it by keys, and the student reads the mark beside the comments", async () => {
  const { ilse, noor } = await handedIn();
  // Phrases are kept on a page of their own, and removed there.
  await ilse.goto("/account");
  await ilse.getByRole("link", { name: "Your phrases" }).click();
  await ilse.getByText("You keep no phrase yet.").waitFor();
  for (const phrase of ["Wait until the balance stands still.", "Spelt wrongly."]) {
    await ilse.getByLabel("A new phrase").fill(phrase);
    await ilse.getByRole("button", { name: "Keep this phrase" }).click();
    await ilse.getByText(phrase).first().waitFor();
  }
  await look(ilse, "phrases");
  await ilse.getByRole("button", { name: "Remove Spelt wrongly." }).click();
  await ilse.getByText("Spelt wrongly.").first().waitFor({ state: "detached" });

  // The queue tells the one thing that stands out, in the order that is asked for.
  await ilse.goto("/queue");
  const queue = ilse.getByRole("region", { name: "Work to mark" });
  await queue.getByText(/findings\. The gravest: /).first().waitFor();
  await look(ilse, "queue-handed");
  await queue.getByLabel("New work or work that came back").selectOption({ label: "only what came back" });
  await queue.getByRole("button", { name: "Show" }).click();
  await queue.getByText("Nothing waits.").waitFor();
  await queue.getByLabel("New work or work that came back").selectOption({ label: "new and came back" });
  await queue.getByLabel("In what order").selectOption({ label: "by when it was due" });
  await queue.getByRole("button", { name: "Show" }).click();
  await queue.getByRole("button", { name: /Hand in a salve/ }).click();
  await read(ilse);
  await ilse.getByText(/You hold this work until/).waitFor();
  assert.match(ilse.url(), /order=due/);

  // One act writes a phrase into a comment; another comment becomes a phrase.
  const entry = ilse.locator(".entry[tabindex]").filter({ has: ilse.locator("textarea[name^=comment]") }).first();
  await entry.locator("summary", { hasText: "Comment" }).click();
  await entry.getByRole("combobox").selectOption({ label: "Wait until the balance stands still." });
  assert.equal(await entry.getByRole("textbox").inputValue(), "Wait until the balance stands still.");
  await ilse.getByLabel(/Your remarks to/).fill("Weigh what is missing, then hand it in again.");
  await ilse.getByLabel(/Keep this as a phrase of yours\s+your remarks/).check();
  await look(ilse, "marking-phrases");
  const was = new URL(ilse.url()).pathname;
  await ilse.getByRole("button", { name: "Return for correction" }).click();
  await ilse.waitForURL((url) => url.pathname !== was && url.search.includes("order=due"));
  await ilse.goto("/phrases");
  await ilse.getByText("Weigh what is missing, then hand it in again.").first().waitFor();
  const handed = noor.url();
  await noor.goto("/batches");
  await noor.getByRole("link", { name: /Calendula salve/ }).first().click();
  await noor.getByText("Wait until the balance stands still.").first().waitFor();
  await noor.goto(handed);
  await noor.getByRole("radio").first().check();
  await noor.getByRole("button", { name: "Hand it in" }).click();
  await noor.getByText("Waits to be marked.").first().waitFor();
  await ilse.goto("/queue");
  await queue.getByText("It came back after a return, as version 2.").waitFor();
  await look(ilse, "queue-came-back");
  await queue.getByRole("button", { name: /Hand in a salve/ }).click();
  await read(ilse);
  await ilse.getByText(/You hold this work until/).waitFor();
  await look(ilse, "marking");

  // Another marker is told who holds it.
  const marek = await house.as("marek.dvorsky", DESK);
  await marek.goto(new URL(ilse.url()).pathname);
  await read(marek);
  await marek.getByText(/Ilse Brandt holds this work until/).waitFor();
  await look(marek, "marking-held");

  // Given up, it waits for whoever takes it next; opened again from the queue, it is held again.
  await ilse.getByRole("button", { name: "Give it up" }).click();
  await queue.getByRole("button", { name: /Hand in a salve/ }).waitFor();
  await marek.reload();
  await marek.getByRole("button", { name: "Claim this work" }).waitFor();
  await queue.getByRole("button", { name: /Hand in a salve/ }).click();
  await ilse.getByText(/You hold this work until/).waitFor();

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
  // What was accepted is not offered to be handed in again.
  await noor.getByRole("link", { name: "Handed in for Hand in a salve" }).waitFor();
  assert.equal(await noor.getByRole("link", { name: "Hand it in for Hand in a salve" }).count(), 0);
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

  // The student appeals once; without a criterion the appeal is refused with the cure.
  const open = () => noor.locator("summary", { hasText: "Appeal against this mark" }).click();
  await open();
  await noor.getByLabel("Why you appeal").selectOption({ label: "a finding is wrong" });
  await noor.getByRole("button", { name: "Appeal against this mark" }).click();
  await noor.locator("#appeal-cure").waitFor();
  await look(noor, "appeal-refused");
  await noor.getByLabel("Weighing", { exact: true }).check();
  await noor.getByLabel("Why you appeal").selectOption({ label: "a finding is wrong" });
  await noor.getByRole("button", { name: "Appeal against this mark" }).click();
  await noor.getByText("The appeal waits to be decided.").waitFor();
  await look(noor, "appeal-waits");

  // An instructor who gave no mark decides it, and both marks stay in sight.
  house.sql("UPDATE cohort_member SET role = 'instructor' WHERE role = 'marker'");
  await ilse.goto("/queue");
  assert.equal(await ilse.getByRole("region", { name: "Appeals" }).count(), 0);
  await marek.goto("/queue");
  await marek.getByRole("region", { name: "Appeals" }).getByRole("link", { name: /Hand in a salve/ }).click();
  await marek.getByText(/It is about: Weighing\./).waitFor();
  await look(marek, "appeal-decide");
  await marek.getByRole("button", { name: "Change the mark as chosen" }).click();
  await marek.getByRole("alert").getByText(/has these levels already/).waitFor();
  await marek.getByLabel("One line is off.").check();
  await marek.getByRole("button", { name: "Change the mark as chosen" }).click();
  await marek.getByText(/Marek Dvorsky decided it, .*: the mark was changed\./).waitFor();
  await marek.getByText(/Before: 6 of 6/).waitFor();
  await noor.reload();
  await noor.getByText(/the mark was changed/).waitFor();
  await look(noor, "appeal-decided");
});

test("an instructor sees how a class stands, at the desk and on a phone, and takes the marks along", async () => {
  for (const device of [DESK, PHONE]) {
    const page = await house.as("ilse.brandt", device);
    await page.goto("/assignments");
    await page.getByRole("link", { name: "First year" }).click();
    await page.getByRole("link", { name: "How the class stands" }).click();
    await page.getByRole("heading", { name: "How First year stands" }).waitFor();
    await page.getByRole("link", { name: /3 of 6/ }).waitFor();
    await look(page, "grid");
    for (const [name, file] of [["Marks as a table (CSV)", "marks.csv"], ["Marks as lines of JSON", "marks.ndjson"], ["Marks for another system (OneRoster 1.2)", "oneroster.zip"]]) {
      const saving = page.waitForEvent("download");
      await page.getByRole("link", { name }).click();
      assert.equal((await saving).suggestedFilename(), file);
    }
  }
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
