// Progress: what a student practises next, criteria over time, accepted work, and control charts; and the same for a class.
import test from "node:test";
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
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

test("a student sees progress and takes it along, and who teaches sees where the class struggles", async () => {
  // Before anything is marked, each part says so.
  const noor = await house.as("noor.haddad", PHONE);
  await noor.goto("/assignments");
  await noor.getByRole("link", { name: "Your progress" }).click();
  await noor.getByRole("heading", { name: "Your progress" }).waitFor();
  await noor.getByText("No work was accepted so far.").waitFor();
  await look(noor, "progress-empty");

  const ilse = await house.as("ilse.brandt", DESK);
  await ilse.getByRole("link", { name: "Classes" }).click();
  await ilse.getByRole("link", { name: "First year" }).click();
  const address = ilse.url();
  await ilse.getByRole("link", { name: "Write an assignment" }).click();
  await ilse.getByLabel("Title").fill("Hand in a salve");
  await ilse.getByLabel("Formula 1").fill("Calendula salve");
  await ilse.getByLabel("Quantity to make").fill("300 g");
  await ilse.getByLabel("It opens").fill("2026-03-28T08:00");
  await ilse.getByLabel("It is due").fill("2027-04-09T18:00");
  const first = ilse.getByRole("group", { name: "Criterion 1" });
  await first.getByLabel("What is assessed").fill("Weighing");
  await first.getByLabel("Levels").fill("0 Lines are off.\n3 One line is off.\n6 Every line is within tolerance.");
  const second = ilse.getByRole("group", { name: "Criterion 2" });
  await second.getByLabel("What is assessed").fill("Clean bench");
  await second.getByLabel("Must be passed").check();
  await ilse.getByRole("button", { name: "Save the draft" }).click();
  await ilse.getByRole("button", { name: "Set it" }).click();
  await noor.goto("/today");
  await noor.getByRole("link", { name: "Open it Hand in a salve" }).click();
  await noor.getByRole("radio").first().check();
  await noor.getByRole("button", { name: "Hand it in" }).click();
  await noor.getByText("Waits to be marked.").first().waitFor();
  await ilse.goto("/queue");
  await ilse.getByRole("region", { name: "Work to mark" }).getByRole("button", { name: /Hand in a salve/ }).click();
  await read(ilse);
  await ilse.getByText(/You hold this work until/).waitFor();
  await ilse.getByLabel("One line is off.").check();
  await ilse.getByLabel("Met", { exact: true }).check();
  await ilse.getByLabel(/Your remarks to/).fill("Weigh the wax once more next time, Noor.");
  const decided = ilse.waitForResponse((answer) => answer.request().method() === "POST");
  await ilse.getByRole("button", { name: /^Accept/ }).click();
  assert.equal((await decided).status(), 303);

  // The student: what to practise, the level in its words, the accepted work, and the file.
  await noor.goto("/progress");
  const practise = noor.getByRole("region", { name: "What to practise next" });
  await practise.getByText(/Found in 1 of 1 records\./).first().waitFor();
  await noor.getByRole("region", { name: "Criteria over time" }).getByText("One line is off.").waitFor();
  await noor.getByRole("region", { name: "Accepted work" }).getByText("3 of 6").waitFor();
  await look(noor, "progress");
  const saving = noor.waitForEvent("download");
  await noor.getByRole("link", { name: "Download what you handed in (lines of JSON)" }).click();
  const saved = await saving;
  assert.equal(saved.suggestedFilename(), "progress.ndjson");
  const lines = (await readFile(await saved.path(), "utf8")).trim().split("\n").map((line) => JSON.parse(line));
  assert.deepEqual([lines.length, lines[0].points, lines[0].title], [1, 3, "Hand in a salve"]);
  await noor.getByRole("link", { name: "Control charts" }).click();
  await noor.getByRole("heading", { name: "Control charts" }).waitFor();
  await look(noor, "charts-few");
  const desk = await house.as("noor.haddad", DESK);
  await desk.goto("/progress");
  await desk.getByRole("region", { name: "Accepted work" }).getByText("3 of 6").waitFor();
  await look(desk, "progress-desk");

  // The class: counts, no share of so few, and the way to the student.
  for (const device of [DESK, PHONE]) {
    const page = await house.as("ilse.brandt", device);
    await page.goto(address);
    await page.getByRole("link", { name: "Where the class struggles" }).click();
    await page.getByRole("heading", { name: "Where First year struggles" }).waitFor();
    await page.getByRole("region", { name: "By criterion" }).getByText("Weighing").waitFor();
    await look(page, "difficulties");
  }
  await ilse.goto(`${address}/grid`);
  await ilse.getByRole("rowheader").getByRole("link", { name: "Noor Haddad" }).click();
  await ilse.getByRole("heading", { name: "Progress of Noor Haddad" }).waitFor();
  await look(ilse, "progress-of");
  await ilse.getByRole("link", { name: "Control charts" }).click();
  await ilse.getByRole("heading", { name: "Control charts of Noor Haddad" }).waitFor();

  // An instructor writes a competency, signs the student off, and the student takes the badge along.
  await ilse.goto("/competencies");
  await ilse.getByText("Makes an emulsion that stays smooth and stable").waitFor();
  await ilse.getByLabel("Name").fill("Salves");
  await ilse.getByLabel("What its holder can do").fill("Makes a salve that sets and keeps.");
  await ilse.getByLabel("Months that a sign-off lasts").fill("24");
  await ilse.getByRole("button", { name: "Add the competency" }).click();
  await ilse.getByText("Enter at least one part").waitFor();
  await look(ilse, "competencies-refused");
  await ilse.getByLabel("Accepted works, at least").fill("1");
  await ilse.getByRole("button", { name: "Add the competency" }).click();
  await ilse.getByText("Accepted works: at least 1.").waitFor();
  await look(ilse, "competencies");
  await ilse.goto(`${address}/grid`);
  await ilse.getByRole("rowheader").getByRole("link", { name: "Noor Haddad" }).click();
  await ilse.getByRole("link", { name: "Competencies" }).click();
  await ilse.getByRole("region", { name: "Salves" }).getByText("1 of 1").waitFor();
  await look(ilse, "sign-off");
  await ilse.getByRole("region", { name: "Salves" }).getByRole("button", { name: /^Sign off/ }).click();
  await ilse.getByText(/Signed off by Ilse Brandt/).waitFor();
  await noor.goto("/progress");
  await noor.getByRole("link", { name: "Competencies" }).click();
  await noor.getByRole("heading", { name: "Your competencies" }).waitFor();
  await look(noor, "own-competencies");
  const badge = noor.waitForEvent("download");
  await noor.getByRole("region", { name: "Salves" }).getByRole("link", { name: /^Download the badge/ }).click();
  const file = await badge;
  assert.equal(file.suggestedFilename(), "badge.jwt");
  const said = JSON.parse(Buffer.from((await readFile(await file.path(), "utf8")).split(".")[1], "base64url"));
  assert.equal(said.credentialSubject.achievement.name, "Salves");
  assert.ok(!JSON.stringify(said).includes("Noor Haddad"));
  await ilse.getByText("Take the sign-off back").click();
  await ilse.getByLabel("what was signed for was not shown again").check();
  await ilse.getByRole("button", { name: "Take it back" }).click();
  await ilse.getByText(/Taken back by Ilse Brandt/).waitFor();
  await look(ilse, "sign-off-revoked");
  await ilse.goto(`${address}/grid`);

  // A run of weighings as a term brings it, one of them wild.
  house.sql(
    "UPDATE handed_precision SET yield_share = 0.962, deviations = ARRAY(SELECT CASE WHEN n = 17 THEN 0.09 ELSE round((sin(n) / 80)::numeric, 4) END FROM generate_series(1, 28) n)",
  );
  await ilse.goto(`${address}/charts`);
  await ilse.getByRole("heading", { name: "Control charts of First year" }).waitFor();
  await look(ilse, "charted");
  await ilse.getByRole("link", { name: "Calendula salve" }).click();
  for (const page of [ilse, noor]) {
    if (page === noor) await page.goto("/progress/charts");
    const weighing = page.getByRole("region", { name: "Weighing error", exact: true });
    await weighing.getByText(/points? (is|are) beyond/).waitFor();
    assert.equal(await weighing.getByRole("img", { name: "Values by time, in per cent" }).count(), 1);
    assert.ok((await weighing.locator("svg .out").count()) > 0);
    await weighing.getByText("The figures of the chart").click();
    await weighing.getByRole("cell", { name: "beyond the limits" }).first().waitFor();
    await look(page, "charts");
  }
});
