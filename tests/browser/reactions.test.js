// Reactions: told by whoever holds a jar, without a script or an account, and looked into by an instructor.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

test("a stranger tells a reaction on the page of a jar, and an instructor looks into it, joins and closes the case", async () => {
  const batch = house.sql("SELECT id FROM batch WHERE state = 'accepted' AND disposition = 'quarantine' AND revision_id NOT IN (SELECT revision_id FROM revision_nested) ORDER BY id LIMIT 1");
  const maker = house.sql(`SELECT p.sign_in_name FROM batch b JOIN person p ON p.id = b.maker_id WHERE b.id = '${batch}'`);
  const page = await house.as(maker, PHONE);
  await page.goto(`/batches/${batch}/jars`);
  await house.read(page);
  await page.getByLabel("Number of jars").fill("2");
  await page.getByLabel("In each").fill("10 g");
  await page.getByRole("button", { name: "Fill the jars" }).click();
  await page.getByRole("heading", { name: "Filled" }).waitFor();
  const jar = await page.locator("a[href^='/jars/']").first().getAttribute("href");

  const holder = await house.device(PHONE, { javaScriptEnabled: false });
  await holder.goto(jar);
  await holder.getByRole("link", { name: "Tell the clinic here" }).click();
  await holder.getByText(/^You are not asked who you are\./).waitFor();
  const anybody = await house.device(PHONE);
  await anybody.goto(`${jar}/reaction`);
  await look(anybody, "reaction");
  const wide = await house.device(DESK);
  await wide.goto(`${jar}/reaction`);
  await look(wide, "reaction");
  await wide.getByLabel("What happened").fill("It itched.");
  await wide.getByLabel("Day on which it began").fill("2999-01-01");
  await wide.getByLabel("How it is now").selectOption({ label: "It is getting better" });
  await wide.getByRole("button", { name: "Send the report" }).click();
  await wide.getByText(/^Enter the day on which it began/).waitFor();
  assert.equal(await wide.getByLabel("What happened").inputValue(), "It itched.");
  await look(wide, "reaction-refused");
  await holder.getByLabel("What happened").fill("The skin reddened after an hour.");
  await holder.getByLabel("How it is now").selectOption({ label: "It goes on" });
  await holder.getByLabel("It needed a stay in hospital, or a longer one.").check();
  await holder.getByRole("button", { name: "Send the report" }).click();
  await holder.getByText(/^The report is stored as [0-9a-z]{8}\.$/).waitFor();
  assert.deepEqual(await holder.context().cookies(), []);
  await anybody.goto(holder.url());
  await look(anybody, "reaction-stored");

  // At the clinic, too: the same jar, told to an instructor.
  const name = maker === "ilse.brandt" ? "marek.dvorsky" : "ilse.brandt";
  const ilse = await house.as(name, DESK);
  const id = house.sql(`SELECT id FROM jar WHERE batch_id = '${batch}' ORDER BY number LIMIT 1`);
  await ilse.goto(`/handing/${id}`);
  await ilse.getByRole("link", { name: "Write down a reaction to it" }).click();
  await look(ilse, "reaction-at-clinic");
  await ilse.getByLabel("What happened").fill("It itched, says the neighbour.");
  await ilse.getByRole("button", { name: "Send the report" }).click();
  assert.ok(await ilse.getByLabel("How it is now").evaluate((field) => field.matches(":invalid")));
  await ilse.getByLabel("How it is now").selectOption({ label: "It is over" });
  await ilse.getByRole("button", { name: "Send the report" }).click();
  await ilse.getByText(/and a case is open\.$/).waitFor();
  await ilse.goto("/queue");
  await ilse.getByRole("heading", { name: "Reactions to look into" }).waitFor();
  await ilse.goto("/reactions");
  await look(ilse, "reactions");
  const first = house.sql(`SELECT p.case_id FROM reaction_report p JOIN jar j ON j.id = p.jar_id WHERE j.batch_id = '${batch}' ORDER BY p.id LIMIT 1`);
  await ilse.goto(`/reactions/${first}`);
  await ilse.getByRole("heading", { name: "In common with other cases" }).waitFor();
  await look(ilse, "reaction-case");
  const tablet = await house.as(name, PHONE);
  await tablet.goto(`/reactions/${first}`);
  await look(tablet, "reaction-case");

  await ilse.getByLabel("A further note, without a name").fill("The wax was asked about.");
  await ilse.getByRole("button", { name: "Add the note" }).click();
  await ilse.getByText("The wax was asked about.").waitFor();
  // A recall and a caution begin from here, with the case as their reason.
  await ilse.getByRole("link", { name: "Recall this batch" }).click();
  assert.match(await ilse.getByLabel("Why it is recalled").inputValue(), /^Case R\d{4}-\d{4}\.$/);
  await ilse.goBack();
  await ilse.locator("a[href^='/materials/'][href*='caution=yes']").first().click();
  assert.match(await ilse.getByLabel("Reason").inputValue(), /^Case R/);
  await ilse.goto(`/reactions/${first}`);
  await ilse.getByRole("button", { name: "Join to that case" }).click();
  await ilse.getByText("It itched, says the neighbour.").waitFor();
  await ilse.locator("summary", { hasText: "It names a person" }).nth(1).click();
  await ilse.getByRole("button", { name: /^Remove the words/ }).last().click();
  await ilse.getByText("The words were removed.").waitFor();
  await look(ilse, "reaction-joined");
  await ilse.getByLabel("Conclusion, without a name").fill(" ");
  await ilse.getByRole("button", { name: "Close the case" }).click();
  await ilse.locator("#conclude-cure").waitFor();
  await look(ilse, "reaction-refused-conclusion");
  await ilse.getByLabel("How likely is the product the cause?").selectOption("probable");
  await ilse.getByLabel("Conclusion, without a name").fill("Contact dermatitis, which the label warns of.");
  await ilse.getByRole("button", { name: "Close the case" }).click();
  await ilse.getByText("Concluded.").waitFor();
  await look(ilse, "reaction-concluded");
});
