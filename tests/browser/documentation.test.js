// The documentation, open to everybody: a list by what people want to do, a search, and a page for each operation.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

for (const [device, size] of Object.entries({ phone: PHONE, desk: DESK })) {
  test(`an operation is found by what it does and by its fields, on a ${device}`, async () => {
    const page = await house.device(size);
    await page.goto("/documentation");
    // Every operation of the document stands there, each in one group.
    const document = await (await page.request.get("/openapi.json")).json();
    const operations = Object.values(document.paths).flatMap((item) => Object.values(item)).filter((one) => one.operationId);
    const shown = await page.locator("a[href^='/documentation/']").evaluateAll((links) => links.map((link) => link.getAttribute("href").split("/").pop()));
    assert.deepEqual([...shown].sort(), operations.map((one) => one.operationId).sort());
    await look(page, "documentation");
    // The list follows the typing, and the address keeps the question.
    await page.getByLabel("Operation, field or problem").fill("transfer_loss");
    await page.getByRole("link", { name: "List your sessions" }).waitFor({ state: "detached" });
    await page.getByRole("link", { name: "Read a recipe" }).waitFor();
    assert.match(page.url(), /q=transfer_loss/);
    await page.getByLabel("Operation, field or problem").fill("beeswaxes");
    await page.getByText("Nothing is called “beeswaxes”.").waitFor();
    await look(page, "documentation-nothing");
    await page.getByLabel("Operation, field or problem").fill("412");
    await page.getByRole("link", { name: "It changed while you wrote" }).waitFor();
    await page.getByLabel("Operation, field or problem").fill("write an entry");
    await page.getByRole("link", { name: "Write an entry into a batch record" }).click();
    await page.getByRole("heading", { name: "Example request" }).waitFor();
    await page.getByText("Example answer").click();
    await look(page, "operation");
    await page.goto("/docs/");
    await page.context().close();
  });
}

test("without script the documentation is a list, and the service answers the search", async () => {
  const page = await house.device(PHONE, { javaScriptEnabled: false });
  await page.goto("/documentation");
  await page.getByLabel("Operation, field or problem").fill("suitability");
  await page.getByRole("button", { name: "Find" }).click();
  await page.getByRole("link", { name: "Read the cautions for one audience" }).waitFor();
  assert.equal(await page.getByRole("link", { name: "Sign in", exact: true }).count(), 0);
});

test("formulas and materials follow the typing", async () => {
  const page = await house.as("ilse.brandt", DESK);
  await page.goto("/formulas");
  await page.getByLabel("Title or material").fill("thyme");
  await page.getByRole("link", { name: "Calendula salve" }).waitFor({ state: "detached" });
  await page.getByRole("link", { name: "Thyme syrup" }).waitFor();
  await page.goto("/materials");
  await page.getByLabel("Any name").fill("beesw");
  await page.getByRole("link", { name: "yellow beeswax", exact: true }).waitFor();
  assert.match(page.url(), /q=beesw/);
});
