// The administrator's pages, the materials and the calculators.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

for (const [device, size] of Object.entries({ phone: PHONE, desk: DESK })) {
  test(`an administrator invites one person and a class, all or nobody, on a ${device}`, async () => {
    const page = await house.as("petra.hollweg", size);
    await page.getByRole("heading", { name: "People" }).waitFor();
    await look(page, "people");
    await page.getByLabel("Name", { exact: true }).fill("Mira Okafor");
    await page.getByLabel("Sign-in name").fill("noor.haddad");
    await page.getByRole("button", { name: "Invite", exact: true }).click();
    await page.getByText(/is taken/).waitFor();
    await look(page, "people-refused");
    await page.getByLabel("Sign-in name").fill(`mira.${device}`);
    await page.getByRole("button", { name: "Invite", exact: true }).click();
    await page.getByRole("heading", { name: "Shown once" }).waitFor();
    assert.match(await page.locator("code").textContent(), /^sc_/);
    await look(page, "codes");
    await page.goto("/people");
    await page.getByLabel("One line a person").fill(`Jo Vane ${device}, jo.${device}\nNo sign-in name\nAda Linde, ada.${device}, wizard`);
    await page.getByRole("button", { name: "Invite all of them" }).click();
    await page.getByText("No one was invited: 2 of 3 lines must be corrected.").waitFor();
    await look(page, "people-class-refused");
    await page.getByLabel("One line a person").fill(`Jo Vane ${device}, jo.${device}\nAda Linde, ada.${device}, instructor`);
    await page.getByRole("button", { name: "Invite all of them" }).click();
    await page.getByRole("heading", { name: "Shown once" }).waitFor();
    assert.equal(await page.locator("code").count(), 2);
    await page.goto("/people");
    await page.getByRole("link", { name: `Jo Vane ${device}` }).click();
    await look(page, "person");
    await page.getByRole("button", { name: "Start a reset" }).click();
    await page.locator("code").waitFor();
    await page.goBack();
    await page.getByRole("button", { name: "Disable" }).click();
    await page.getByText("disabled").first().waitFor();
    await page.context().close();
  });

  test(`libraries, policy, keys and events, on a ${device}`, async () => {
    const page = await house.as("petra.hollweg", size);
    await page.goto("/libraries");
    await look(page, "libraries");
    const ilse = await house.as("ilse.brandt", size);
    await ilse.goto("/formulas");
    await ilse.getByRole("link", { name: "Libraries" }).click();
    await ilse.getByLabel("Name", { exact: true }).fill(`Evening class ${device}`);
    await ilse.getByLabel("Purpose").fill("What the evening class makes.");
    await look(ilse, "libraries-instructor");
    await ilse.getByRole("button", { name: "Make a library" }).click();
    await ilse.getByRole("heading", { name: `Evening class ${device}` }).waitFor();
    await ilse.getByRole("button", { name: "Change the library" }).click();
    await page.reload();
    await page.getByRole("link", { name: `Evening class ${device}` }).click();
    await page.getByLabel("Add a member").selectOption({ label: "Noor Haddad" });
    await page.getByRole("button", { name: "Add", exact: true }).click();
    await page.getByRole("button", { name: "Remove Noor Haddad" }).waitFor();
    await look(page, "library");
    await page.getByRole("button", { name: "Remove Noor Haddad" }).click();
    await page.getByRole("button", { name: "Remove Noor Haddad" }).waitFor({ state: "detached" });
    await page.goto("/policy");
    await look(page, "policy");
    await page.getByLabel("Tolerance in per cent", { exact: true }).fill("two");
    await page.getByLabel("Reason for the change").fill("Agreed by the teachers.");
    await page.getByRole("button", { name: "Put in force" }).click();
    await page.locator(".cure").first().waitFor();
    await look(page, "policy-refused");
    await page.getByLabel("Tolerance in per cent", { exact: true }).fill("3");
    await page.getByRole("button", { name: "Put in force" }).click();
    await page.getByText(/^Version \d+, in force since/).waitFor();
    await page.goto("/api-clients");
    await look(page, "api-clients");
    await page.getByLabel("Name of the tool").fill(`Label printer ${device}`);
    await page.getByLabel("formulas:read").check();
    await page.getByLabel("Responsible person").selectOption({ label: "Ilse Brandt" });
    await page.getByRole("button", { name: "Make a key" }).click();
    await page.getByText("Shown once. Copy it now.").waitFor();
    await look(page, "api-client-made");
    await page.getByRole("button", { name: `Revoke Label printer ${device}` }).click();
    await page.getByText("Revoked").first().waitFor();
    await page.goto("/events");
    await look(page, "events");
    await page.getByRole("button", { name: "Verify now" }).click();
    await page.locator("[role=status]").waitFor();
    await look(page, "events-verified");
    await page.context().close();
  });

  test(`an instructor finds, reads and amends a material, and sees whom it reaches, on a ${device}`, async () => {
    const page = await house.as("ilse.brandt", size);
    await page.goto("/materials");
    await look(page, "materials");
    await page.getByLabel("Any name").fill(device === "phone" ? "olive oil" : "yellow beeswax");
    await page.getByRole("button", { name: "Find" }).click();
    await page.locator("ul a.name").first().click();
    await page.getByRole("link", { name: "Amend" }).waitFor();
    await look(page, "material");
    await page.getByRole("link", { name: "Amend" }).click();
    await look(page, "amend");
    await page.getByLabel("Density, g/mL").fill("heavy");
    await page.getByLabel("Reason for the change").fill("Measured again.");
    await page.getByRole("button", { name: "Amend" }).click();
    await page.locator(".cure, #faults").first().waitFor();
    await look(page, "amend-refused");
    await page.getByLabel("Density, g/mL").fill("0.9201");
    await page.getByRole("button", { name: "Amend" }).click();
    await page.getByRole("heading", { name: "Formulas affected" }).waitFor();
    await look(page, "amendment");
    const marek = await house.as("marek.dvorsky", size);
    await marek.goto(page.url());
    if (await marek.getByRole("button", { name: "Confirm" }).count()) {
      await marek.getByRole("button", { name: "Refuse" }).click();
      await marek.getByText("refused").first().waitFor();
    }
    await page.goto("/materials/import");
    await page.getByLabel("The table").fill("name,kind\n,oil");
    await page.getByLabel("Reason for the change").fill("A new supplier.");
    await page.getByRole("button", { name: "Import" }).click();
    await page.locator("#faults").waitFor();
    await look(page, "import-refused");
    await page.context().close();
    await marek.context().close();
  });

  test(`every calculator answers its usual question, and its address keeps it, on a ${device}`, async () => {
    const page = await house.as("tomas.lind", size);
    await page.goto("/calculators");
    await look(page, "calculators");
    const all = await page.locator("main a.name").evaluateAll((links) => links.map((link) => link.getAttribute("href")));
    assert.ok(all.length >= 20);
    for (const address of all) {
      await page.goto(address);
      await page.getByRole("button", { name: "Calculate" }).click();
      await page.waitForURL(/\?/);
      const cures = await page.locator(".cure").allTextContents();
      assert.deepEqual(cures, [], address);
      assert.ok((await page.locator("#answer .row").count()) > 0, address);
      await look(page, `calculator-${address.split("/").pop()}`);
    }
    await page.goto("/calculators/alcohol?wanted=lots&strength=45+%25&stock=96+%25");
    await page.locator(".cure").first().waitFor();
    await look(page, "calculator-refused");
    await page.context().close();
  });
}
