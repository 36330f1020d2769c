// Labels of a batch: their size, how one looks, what has no room, and the documents to print.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

/** What the address of a link answers, as the browser asks for it. */
const answered = async (page, name) => {
  const address = await page.getByRole("link", { name }).getAttribute("href");
  return page.evaluate(async (one) => {
    const answer = await fetch(one);
    return [answer.status, answer.headers.get("content-type"), (await answer.text()).slice(0, 5)];
  }, address);
};
const PDF = [200, "application/pdf", "%PDF-"];

for (const [name, device] of [["phone", PHONE], ["desk", DESK]]) {
  test(`the labels of a batch are looked at and printed, on a ${name}`, async () => {
    const page = await house.as("noor.haddad", device);
    await page.goto(`/batches/${house.sql("SELECT id FROM batch WHERE number = '2026-0001'")}`);
    await page.getByRole("link", { name: "Print labels" }).click();
    await page.getByRole("heading", { name: /Labels of 2026-0001/ }).waitFor();
    await look(page, "labels");
    await page.getByLabel("Width and height of a label").fill("12 x 12 mm");
    await page.getByLabel("How many labels").fill("none");
    await page.getByRole("button", { name: "Show the label" }).click();
    await page.getByText(/Enter how many labels, from 1 to 500/).waitFor();
    assert.equal(await page.getByLabel("How many labels").inputValue(), "none");
    await page.getByLabel("How many labels").fill("12");
    await page.getByRole("button", { name: "Show the label" }).click();
    await page.getByText(/Take a larger label/).waitFor();
    await look(page, "labels-refused");
    await page.getByText("Where labels stand on the sheet").click();
    await page.getByLabel("Labels of the sheet that are used").fill("90");
    await page.getByLabel("Width and height of a label").fill("70 x 50 mm");
    await page.getByRole("button", { name: "Show the label" }).click();
    await page.getByText(/Enter fewer as used/).waitFor();
    await page.getByLabel("Labels of the sheet that are used").fill("2");
    await page.getByRole("button", { name: "Show the label" }).click();
    const image = page.getByRole("img", { name: /See leaflet/ });
    await image.waitFor();
    assert.ok(await image.evaluate(async (one) => { await one.decode(); return one.naturalWidth > 800; }));
    await look(page, "labels-shown");
    for (const link of ["Labels to print (PDF)", "Leaflet to print (PDF)"]) {
      assert.deepEqual(await answered(page, link), PDF);
    }
    await page.getByRole("link", { name: "Back to the record" }).click();
    for (const link of ["Sheet for the bench (PDF)", "Record for the file (PDF)"]) {
      assert.deepEqual(await answered(page, link), PDF);
    }
  });
}
