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
