// The workshop while its author types: names completed, the draft saved, and nothing lost when it was saved elsewhere.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

/** A draft that is kept, open in the workshop. */
async function draft(title, size = DESK) {
  const page = await house.as("ilse.brandt", size);
  await page.goto("/workshop");
  await page.getByText("Not saved yet.").waitFor();
  await page.getByLabel("Title", { exact: true }).fill(title);
  await page.getByLabel("Kind").fill("balm");
  await page.locator("[name=line]").first().fill("100 g yellow beeswax, stiffening agent");
  await page.getByRole("button", { name: "Keep the draft" }).click();
  await page.waitForURL(/revisions/);
  return page;
}
const version = (title) => Number(house.sql(`SELECT version FROM revision WHERE title = '${title}'`));

for (const [device, size] of Object.entries({ phone: PHONE, desk: DESK })) {
  test(`a name is completed from the materials by the keyboard or a tap, on a ${device}`, async () => {
    const page = await draft(`Completed ${device}`, size);
    const second = page.locator("[name=line]").nth(1);
    await second.pressSequentially("2 cups infused oil of cal");
    const list = page.getByRole("listbox", { name: "Materials and formulas" });
    await list.waitFor();
    await page.getByText(/names\. Choose one/).waitFor({ state: "attached" });
    await page.keyboard.press("ArrowDown");
    assert.equal(await second.getAttribute("aria-activedescendant"), await list.getByRole("option").first().getAttribute("id"));
    await look(page, "workshop-names");
    await page.keyboard.press("Enter");
    await list.waitFor({ state: "detached" });
    assert.match(await second.inputValue(), /^2 cups Infused oil of calendula/i);
    // Escape leaves the list and what was typed; Enter without a choice goes to the next line.
    await second.fill("");
    await second.pressSequentially("30 g olive");
    await list.waitFor();
    await page.keyboard.press("Escape");
    await list.waitFor({ state: "detached" });
    assert.equal(await second.inputValue(), "30 g olive");
    await second.pressSequentially(" o");
    await list.waitFor();
    await list.getByRole("option", { name: "olive oil", exact: true }).click();
    assert.equal(await second.inputValue(), "30 g olive oil");
    // A function behind a comma is no name.
    await second.pressSequentially(", emollient");
    await page.getByText(/^Saved at/).waitFor();
    assert.equal(await list.count(), 0);
    await page.context().close();
  });
}

test("a draft is saved as its author types, and the page says when", async () => {
  const page = await draft("Saved while typing");
  const before = version("Saved while typing");
  await page.locator("[name=line]").nth(1).fill("q.s. 600 g olive oil, vehicle");
  await page.locator("#kept", { hasText: "Not saved yet." }).waitFor();
  await page.getByText(/^Saved at \d\d:\d\d\.$/).waitFor();
  assert.equal(version("Saved while typing"), before + 1);
  // The figures stand beside the right lines after one was emptied.
  await page.locator("[name=line]").first().fill("");
  await page.locator("[data-of=l1-2] .fig", { hasText: "100 %" }).waitFor();
  assert.equal((await page.locator("[data-of=l1-1]").textContent()).trim(), "");
  await page.locator("[name=line]").first().fill("100 g yellow beeswax");
  await page.getByText(/^Saved at/).waitFor();
  // A line that cannot be read is said, kept in its field, and saved when it is corrected.
  await page.locator("[name=line]").first().fill("30,0 g yellow beeswax");
  await page.getByText("Not saved: some lines must be corrected.").waitFor();
  await page.locator(".cure").first().waitFor();
  assert.equal(await page.locator("[name=line]").first().inputValue(), "30,0 g yellow beeswax");
  await look(page, "workshop-not-saved");
  // What can only be meant is one act away, a number as well as a name.
  await page.getByRole("button", { name: "Write 30.0 g", exact: true }).click();
  await page.getByText(/^Saved at/).waitFor();
  assert.equal(await page.locator("[name=line]").first().inputValue(), "30.0 g yellow beeswax");
  await page.locator("[name=line]").first().fill("30.0 g yelow beeswax, stiffening agent");
  await page.getByRole("button", { name: "Write yellow beeswax", exact: true }).click();
  await page.getByText(/^Saved at/).waitFor();
  assert.equal(await page.locator("[name=line]").first().inputValue(), "30.0 g yellow beeswax, stiffening agent");
  // Without a network it says so, and saves when the network is back.
  house.cut();
  await page.locator("[name=line]").first().fill("31 g yellow beeswax");
  await page.getByText("Not saved: no network.").waitFor();
  await look(page, "workshop-offline");
  house.mend();
  await page.evaluate(() => dispatchEvent(new Event("online")));
  await page.getByText(/^Saved at/).waitFor();
  await page.reload();
  assert.equal(await page.locator("[name=line]").first().inputValue(), "31 g yellow beeswax");
  // The author's own act goes with the version that was saved last.
  await page.locator("[name=line]").first().fill("32 g yellow beeswax");
  await page.getByText(/^Saved at/).waitFor();
  await page.locator("[name=line]").first().fill("33 g yellow beeswax");
  await page.getByRole("button", { name: "Keep the draft" }).click();
  await page.waitForLoadState();
  assert.equal(await page.locator("[name=line]").first().inputValue(), "33 g yellow beeswax");
});

test("allergens, cost and use-by date stand beside the other figures", async () => {
  const page = await draft("Scented balm");
  await page.locator("[name=line]").nth(1).fill("q.s. 500 g olive oil, vehicle");
  await page.keyboard.press("Enter");
  await page.getByLabel("Another phase, by its name").fill("scent");
  await page.locator("#l-new").fill("2 % lavender oil, fragrance");
  await page.getByText(/The label must name .*Linalool/).waitFor();
  await page.locator("#answer").getByText("Use by", { exact: true }).waitFor();
  await page.locator("#answer").getByText(/\d{4}.*if made today/).waitFor();
  await page.getByRole("link", { name: "Calculate the cost" }).waitFor();
  await look(page, "workshop-figures");
  // The calculator begins with the lines of the formula, and is told the prices.
  await page.getByRole("link", { name: "Calculate the cost" }).click();
  const draws = page.locator("textarea[name=draws]");
  assert.match(await draws.inputValue(), /^yellow beeswax; 100(\.0+)? g\nolive oil; \d+(\.\d+)? g\nlavender oil; \d+(\.\d+)? g$/);
});

test("a measured water activity is stated with where it is filed, and what is missing of it is said", async () => {
  const page = await draft("Dry balm");
  await page.getByText("Users, route and label").click();
  await page.getByLabel("Measured water activity, such as 0.58").fill("0.4");
  await page.getByText("Not saved: some lines must be corrected.").waitFor();
  await page.getByText("State where the measurement is filed").first().waitFor();
  await page.getByLabel("Where that measurement is filed").fill("laboratory sheet 7");
  await page.getByText(/^Saved at/).waitFor();
  await look(page, "workshop-water-activity");
  await page.reload();
  assert.equal(await page.locator("[name=water_activity]").inputValue(), "0.4");
  assert.equal(await page.locator("[name=water_activity_source]").inputValue(), "laboratory sheet 7");
});

test("a draft that was saved elsewhere is not overwritten by saving: both are shown, and the author chooses", async () => {
  const page = await draft("Saved twice");
  const other = await page.context().newPage();
  await other.goto(page.url());
  await other.locator("[name=line]").first().fill("200 g yellow beeswax, stiffening agent");
  await other.getByText(/^Saved at/).waitFor();
  const theirs = version("Saved twice");
  await page.locator("[name=line]").first().fill("300 g yellow beeswax, stiffening agent");
  await page.getByText("Not saved: this draft was saved elsewhere meanwhile.").waitFor();
  await page.locator("del", { hasText: "200\u00a0g yellow beeswax" }).waitFor();
  await page.locator("ins", { hasText: "300\u00a0g yellow beeswax" }).waitFor();
  await look(page, "workshop-saved-elsewhere");
  // Typing on changes nothing of theirs.
  await page.locator("[name=step]").first().fill("Stir");
  await page.locator("#answer").waitFor();
  assert.equal(version("Saved twice"), theirs);
  await page.getByRole("button", { name: "Keep mine" }).click();
  await page.waitForLoadState();
  assert.equal(version("Saved twice"), theirs + 1);
  assert.equal(await page.locator("[name=line]").first().inputValue(), "300 g yellow beeswax, stiffening agent");
  // The other way round: theirs is taken, by an act.
  await other.locator("[name=line]").first().fill("250 g yellow beeswax, stiffening agent");
  await other.getByRole("link", { name: "Keep theirs" }).waitFor();
  other.on("dialog", (dialog) => dialog.accept());
  await other.getByRole("link", { name: "Keep theirs" }).click();
  await other.waitForFunction(() => document.querySelector("[name=line]")?.value.startsWith("300 g"));
});

for (const [device, size] of Object.entries({ phone: PHONE, desk: DESK })) {
  test(`two revisions are compared from the formula's page, on a ${device}`, async () => {
    const page = await house.as("ilse.brandt", size);
    const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Lavender lotion'");
    await page.goto(`/revisions/${id}`);
    await page.getByRole("link", { name: "Compare with revision 1" }).click();
    // The cautions of each are read first.
    while (await page.locator(".reading").count()) {
      for (const box of await page.locator(".reading .read").all()) await box.click();
      await page.locator(".after .do").click();
      await page.waitForLoadState();
    }
    await page.getByText("Revision 1 beside revision 2.").waitFor();
    assert.ok((await page.locator("del, ins").count()) > 0);
    await look(page, "compare");
    await page.getByRole("link", { name: "Open revision 2" }).click();
    await page.getByRole("heading", { name: "Lavender lotion" }).waitFor();
    await look(page, "formula-revisions");
    await page.context().close();
  });
}
