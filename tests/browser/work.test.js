// Work that is set: a student joins the class, answers the questions, and then reads and opens the recipe.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

/** A code to join the demo's class with, as its instructor makes one through the API. */
async function codeToJoin() {
  const send = async (path, options = {}) => {
    const answer = await fetch(house.base + path, options);
    assert.ok(answer.ok, `${path}: ${answer.status}`);
    return answer.json();
  };
  const json = { "content-type": "application/json" };
  const body = JSON.stringify({ sign_in_name: "ilse.brandt", password: house.passwords["ilse.brandt"] });
  const { access_token } = await send("/v1/sessions", { method: "POST", headers: json, body });
  const headers = { ...json, authorization: `Bearer ${access_token}`, "idempotency-key": crypto.randomUUID() };
  const cohort = (await send("/v1/cohorts", { headers })).items[0].id;
  const valid_until = new Date(Date.now() + 86400000).toISOString();
  return (await send(`/v1/cohorts/${cohort}/codes`, { method: "POST", headers, body: JSON.stringify({ valid_until }) })).code;
}

test("a student joins a class, answers its questions, and only then the recipe opens", async () => {
  const code = await codeToJoin();
  const page = await house.as("tomas.lind", PHONE);
  await page.getByText("Nothing is due.").waitFor();
  await page.getByRole("link", { name: "All assignments" }).click();
  await page.getByText("No work is set.").waitFor();
  await look(page, "work-none");
  await page.getByRole("link", { name: "Join a class" }).click();
  await page.getByLabel("Code of the class").fill("not-a-code");
  await page.getByRole("button", { name: "Join" }).click();
  await page.locator("#code-cure").waitFor();
  assert.equal(await page.getByLabel("Code of the class").inputValue(), "not-a-code");
  await look(page, "join-refused");
  await page.getByLabel("Code of the class").fill(code);
  await page.getByRole("button", { name: "Join" }).click();
  await page.getByText("0 of 2 questions answered.").waitFor();
  await look(page, "work-list");
  // Who reads the cautions before answering is told what comes first, and loses no tick.
  await page.getByRole("link", { name: "Make a calendula cream" }).click();
  await page.getByRole("link", { name: "Calendula cream", exact: true }).click();
  await page.getByRole("heading", { name: "Read these to open the recipe" }).waitFor();
  const acts = page.locator(".reading .read");
  const many = await acts.count();
  for (let i = 0; i < many; i += 1) await acts.nth(i).click();
  await page.getByRole("button", { name: "Open the recipe" }).click();
  await page.getByText(/keeps this recipe closed until its questions are answered/).waitFor();
  assert.equal(await page.locator(".reading input[type=checkbox]:checked").count(), many);
  await look(page, "reading-held");
  await page.goto("/today");
  await look(page, "today-due");
  await page.getByRole("link", { name: "Open it Make a calendula cream" }).click();
  await page.getByRole("button", { name: "Begin the questions" }).waitFor();
  await look(page, "assignment");
  await page.getByRole("button", { name: "Begin the questions" }).click();

  // What was typed stays where it is not accepted, and is no try.
  const first = page.locator("#question-1");
  await first.getByRole("textbox").fill("27");
  await first.getByRole("button", { name: "Answer" }).click();
  await page.locator("#question-1 [role=alert]").waitFor();
  assert.equal(await first.getByRole("textbox").inputValue(), "27");
  await first.getByText("3 tries are left.").waitFor();
  await look(page, "question-refused");

  const facts = (await first.locator("li").allTextContents()).map((text) => parseFloat(text.split(": ")[1]));
  const [jars, full, empty, loss, share] = facts;
  assert.equal(facts.length, 5, facts.join());
  const whole = jars * (full - empty);
  await first.getByRole("textbox").fill(`${(whole * share / 100).toFixed(3)} g`);
  await first.getByRole("button", { name: "Answer" }).click();
  await first.getByText("is not right.").waitFor();
  await first.getByText("2 tries are left.").waitFor();
  await look(page, "question-wrong");
  await first.getByRole("textbox").fill(`${(whole / (1 - loss / 100) * share / 100).toFixed(3)} g`);
  await first.getByRole("button", { name: "Answer" }).click();
  await first.getByText("Your answer is right.").waitFor();

  const second = page.locator("#question-2");
  await second.getByLabel("Cold water sets the wax").check();
  await second.getByRole("button", { name: "Answer" }).click();
  await page.getByText("Every question is answered.").waitFor();
  await first.getByText("How to calculate it").click();
  await look(page, "questions-done");
  await page.getByRole("link", { name: "Calendula cream", exact: true }).click();
  await page.getByRole("heading", { name: "Read these to open the recipe" }).waitFor();
});

test("who teaches a class sees how each student stands", async () => {
  const page = await house.as("marek.dvorsky", DESK);
  await page.getByRole("link", { name: "Classes" }).click();
  await page.getByRole("heading", { name: "First year" }).waitFor();
  await look(page, "classes");
  await page.getByRole("link", { name: "Make a calendula cream" }).click();
  await page.getByRole("heading", { name: "The class" }).waitFor();
  await page.getByText("Noor Haddad").waitFor();
  await look(page, "assignment-class");
});

test("an instructor makes a class, enrols a list, and sets work; what was refused keeps what was typed", async () => {
  const page = await house.as("ilse.brandt", DESK);
  await page.getByRole("link", { name: "Classes" }).click();
  await page.getByRole("link", { name: "Make a class" }).click();
  await page.getByLabel("Name of the class").fill("Second year");
  await page.getByLabel("First day of the term").fill("2026-10-05");
  await page.getByLabel("Last day of the term").fill("2026-03-31");
  await page.getByLabel("Time zone").fill("Europe/Berlin");
  await page.getByRole("button", { name: "Make a class" }).click();
  await page.locator("#ends-cure").waitFor();
  assert.equal(await page.getByLabel("Name of the class").inputValue(), "Second year");
  await look(page, "class-refused");
  await page.getByLabel("Last day of the term").fill("2027-03-31");
  await page.getByRole("button", { name: "Make a class" }).click();
  await page.getByRole("heading", { name: "Second year" }).waitFor();

  // A list with one bad line enrols nobody.
  await page.getByLabel("One line a person").fill("Tomas Lind, tomas.lind\nNobody Here, nobody.here");
  await page.getByRole("button", { name: "Enrol all of them" }).click();
  await page.getByText("Line 2: No account has this sign-in name.").waitFor();
  assert.match(await page.getByLabel("One line a person").inputValue(), /nobody\.here/);
  await look(page, "class-list-refused");
  await page.getByLabel("One line a person").fill("Tomas Lind, tomas.lind");
  await page.getByRole("button", { name: "Enrol all of them" }).click();
  await page.getByRole("button", { name: "Remove Tomas Lind" }).waitFor();
  await page.getByLabel("Enrol a person").selectOption({ label: "Marek Dvorsky" });
  await page.getByLabel("In this class as").selectOption("marker");
  await page.getByRole("button", { name: "Enrol", exact: true }).click();
  await page.getByRole("button", { name: "Remove Marek Dvorsky" }).waitFor();
  // The last instructor stays.
  await page.getByRole("button", { name: "Remove Ilse Brandt" }).click();
  await page.getByText("A cohort keeps one instructor.").waitFor();

  await page.getByLabel("Days that a new code works").fill("400");
  await page.getByRole("button", { name: "Make a code" }).click();
  await page.locator("#days-cure").waitFor();
  await page.getByLabel("Days that a new code works").fill("7");
  await page.getByRole("button", { name: "Make a code" }).click();
  assert.match(await page.locator("code").textContent(), /^sk_/);
  await look(page, "class-code");
  await page.getByRole("link", { name: "Back to the class" }).click();
  await look(page, "class");
  await page.getByRole("button", { name: "Close 1" }).click();
  await page.getByText("No code can be used now.").waitFor();
  await page.getByLabel("Name of the class").fill("Second year, winter");
  await page.getByRole("button", { name: "Change name and term" }).click();
  await page.getByRole("heading", { name: "Second year, winter" }).waitFor();

  await page.getByRole("link", { name: "Questions of the class" }).click();
  await page.getByLabel("Question", { exact: true }).fill("How many drops make one millilitre here?");
  await page.getByLabel("Explanation shown after the answer").fill("Our dropper was counted.");
  await page.getByRole("button", { name: "Add a question" }).click();
  await page.locator("#answer-cure").waitFor();
  await look(page, "own-questions-refused");
  await page.getByLabel("Right number").fill("25");
  await page.getByLabel("Tolerance").fill("5");
  await page.getByRole("button", { name: "Add a question" }).click();
  await page.getByText("Right is 25 ± 5 %.").waitFor();
  await page.getByRole("link", { name: "Back to the class" }).click();
  // What was typed before the script came is completed as soon as it is there.
  let come;
  const typed = new Promise((done) => { come = done; });
  await page.route("**/titles.js*", async (route) => { await typed; await route.continue(); });
  await page.getByRole("link", { name: "Write an assignment" }).click();

  await page.getByLabel("Title").fill("Make a cream");
  await page.getByLabel("Formula 1").pressSequentially("calendula cr");
  come();
  await page.getByRole("option", { name: "Calendula cream", exact: true }).click();
  assert.equal(await page.getByLabel("Formula 1").inputValue(), "Calendula cream");
  await page.getByLabel("Formula 2").fill("Marigold cream");
  await page.getByLabel("Quantity to make").fill("300 g");
  await page.getByLabel("It opens").fill("2027-03-28T02:30");
  await page.getByLabel("It is due").fill("2027-04-09T18:00");
  const one = page.getByRole("group", { name: "Criterion 1" });
  await one.getByLabel("What is assessed").fill("Weighing");
  await one.getByLabel("Levels").fill("6 Within tolerance.\n0 Off.");
  await page.getByRole("group", { name: "Criterion 2" }).getByLabel("What is assessed").fill("Every lot is recorded");
  await page.getByRole("group", { name: "Criterion 2" }).getByLabel("Must be passed").check();
  await page.getByLabel("Question 1").selectOption("jar_filling");
  await page.getByLabel("Question 2").selectOption({ label: "How many drops make one millilitre here?" });
  await page.getByRole("button", { name: "Save the draft" }).click();
  await page.getByText("No approved formula with the title “Marigold cream”").waitFor();
  await page.getByText("so this time does not exist").waitFor();
  await one.getByText("Level 2: Levels go from the fewest points to the most.").waitFor();
  assert.equal(await page.getByLabel("It opens").inputValue(), "2027-03-28T02:30");
  assert.equal(await page.getByLabel("Question 2").inputValue().then((value) => value.slice(0, 5)), "bank:");
  await look(page, "set-work-refused");
  await page.getByLabel("Formula 2").fill("");
  await page.getByLabel("It opens").fill("2026-03-28T03:30");
  await one.getByLabel("Levels").fill("0 Off.\n6 Within tolerance.");
  await page.getByRole("button", { name: "Save the draft" }).click();
  await page.getByRole("button", { name: "Set it" }).waitFor();
  await look(page, "assignment-draft");
  await page.getByRole("link", { name: "Change the draft" }).click();
  assert.equal(await one.getByLabel("Levels").inputValue(), "0 Off.\n6 Within tolerance.");
  await page.getByLabel("Quantity to make").fill("250 g");
  await page.getByRole("button", { name: "Save the draft" }).click();
  await page.getByRole("button", { name: "Set it" }).click();
  await page.getByRole("link", { name: "Write a new version" }).click();
  await page.getByLabel("Question 1").selectOption("");
  await page.getByLabel("It is due").fill("2027-04-12T18:00");
  await page.getByLabel("Why it changes").fill("Three more days, because of the holiday.");
  await page.getByRole("button", { name: "Save the new version" }).click();
  await page.getByText("A published assignment keeps its questions.").waitFor();
  assert.equal(await page.getByLabel("Why it changes").inputValue(), "Three more days, because of the holiday.");
  await look(page, "new-version-refused");
  await page.getByLabel("Question 1").selectOption("jar_filling");
  await page.getByLabel("Question 2").selectOption({ label: "How many drops make one millilitre here?" });
  await page.getByRole("button", { name: "Save the new version" }).click();
  await page.getByRole("heading", { name: "What changed" }).waitFor();
  await page.getByText("Three more days, because of the holiday.").waitFor();
  await page.getByLabel("Withdraw it, because").fill("The herb did not arrive.");
  await look(page, "assignment-set");
  await page.getByRole("button", { name: "Withdraw it" }).click();
  await page.getByText("withdrawn").waitFor();
  assert.equal(await page.getByRole("button", { name: "Withdraw it" }).count(), 0);
});

test("an assignment is written without script", async () => {
  const page = await house.as("ilse.brandt", DESK, { javaScriptEnabled: false });
  await page.getByRole("link", { name: "Classes" }).click();
  await page.getByRole("link", { name: "First year" }).click();
  await page.getByRole("link", { name: "Write an assignment" }).click();
  await page.getByLabel("Title").fill("Make it again");
  await page.getByLabel("Formula 1").fill("calendula cream");
  await page.getByLabel("Quantity to make").fill("100 g");
  await page.getByLabel("It opens").fill("2026-03-28T08:00");
  await page.getByLabel("It is due").fill("2027-04-09T18:00");
  const first = page.getByRole("group", { name: "Criterion 1" });
  await first.getByLabel("What is assessed").fill("Weighing");
  await first.getByLabel("Levels").fill("0 Off.\n4 Within tolerance.");
  await page.getByRole("button", { name: "Save the draft" }).click();
  await page.getByRole("button", { name: "Set it" }).click();
  await page.getByRole("link", { name: "Write a new version" }).waitFor();
});

test("a student hands a batch in with a reflection that is kept while it is typed, and an instructor gives more time", async () => {
  const ilse = await house.as("ilse.brandt", DESK);
  await ilse.getByRole("link", { name: "Classes" }).click();
  await ilse.getByRole("link", { name: "First year" }).click();
  await ilse.getByRole("link", { name: "Write an assignment" }).click();
  await ilse.getByLabel("Title").fill("Hand in a salve");
  await ilse.getByLabel("Formula 1").fill("Calendula salve");
  await ilse.getByLabel("Quantity to make").fill("300 g");
  await ilse.getByLabel("It opens").fill("2026-03-28T08:00");
  await ilse.getByLabel("It is due").fill("2027-04-09T18:00");
  const criterion = ilse.getByRole("group", { name: "Criterion 1" });
  await criterion.getByLabel("What is assessed").fill("Weighing");
  await criterion.getByLabel("Levels").fill("0 Off.\n4 Within tolerance.");
  await ilse.getByRole("button", { name: "Save the draft" }).click();
  await ilse.getByRole("button", { name: "Set it" }).click();

  const noor = await house.as("noor.haddad", PHONE);
  await noor.getByRole("link", { name: "Open it Hand in a salve" }).click();
  await noor.getByRole("heading", { name: "Your work" }).waitFor();
  await look(noor, "hand-in");
  const text = noor.getByLabel("What you would do differently");
  await text.fill("Cool it in a water bath.");
  await noor.getByText(/^Saved \d/).waitFor();
  await noor.reload();
  assert.equal(await text.inputValue(), "Cool it in a water bath.");
  await noor.evaluate(() => { for (const one of document.querySelectorAll("[name=batch]")) one.checked = false; });
  await noor.getByRole("button", { name: "Hand it in" }).click();
  await noor.locator("#batch-cure").waitFor();
  assert.equal(await text.inputValue(), "Cool it in a water bath.");
  await look(noor, "hand-in-refused");
  await noor.getByRole("radio").first().check();
  await noor.getByRole("button", { name: "Hand it in" }).click();
  await noor.getByText("Waits to be marked.").first().waitFor();
  await noor.getByText("Receipt").waitFor();
  await look(noor, "handed-in");

  await ilse.reload();
  await ilse.getByRole("link", { name: "Noor Haddad" }).click();
  await ilse.getByRole("heading", { name: "Handed in" }).waitFor();
  await ilse.getByLabel("Extra time in hours").fill("soon");
  await ilse.getByLabel("Reason, which the student reads").fill("The library was shut.");
  await ilse.getByRole("button", { name: "Allow it" }).click();
  await ilse.locator("#hours-cure").waitFor();
  assert.equal(await ilse.getByLabel("Reason, which the student reads").inputValue(), "The library was shut.");
  await ilse.getByLabel("Extra time in hours").fill("48");
  await ilse.getByRole("button", { name: "Allow it" }).click();
  await ilse.getByText("48 hours more: The library was shut.").waitFor();
  await look(ilse, "student-work");
});
