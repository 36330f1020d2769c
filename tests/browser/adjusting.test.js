// Too much of a line was weighed: a larger batch is proposed on a phone, authorised at a desk, and the bench asks for the rest.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

test("a batch of which too much was weighed is made larger, once a second person has authorised it", async () => {
  const page = await house.as("marek.dvorsky", PHONE);
  const batch = house.sql("SELECT id FROM batch WHERE state = 'planned'");
  await page.goto(`/batches/${batch}/adjustment`);
  await page.getByText("A batch is adjusted while it is being made.").waitFor();
  await look(page, "adjusting-none");
  const weigh = async (line, share) => {
    await page.goto(`/batches/${batch}/bench?act=w-${line}`);
    const asked = Number(await page.locator("#here form").getAttribute("data-asked"));
    const weighed = (asked * share).toFixed(1);
    await page.locator("#here input[name=quantity]").fill(weighed);
    if (share > 1) await page.getByLabel("Why it is outside the tolerance").fill("It poured faster than expected.");
    await page.locator("#here button.do").click();
    await page.getByText(/^Written: /).first().waitFor();
    return [asked, Number(weighed)];
  };
  const [first] = await weigh("1.1", 1);
  const [asked, weighed] = await weigh("1.2", 1.2);
  await page.getByText("Too much of a line was weighed.").waitFor();
  await look(page, "adjusting-offered");
  await page.getByRole("link", { name: "See what could correct it" }).click();
  await page.getByText(/^The batch would be /).waitFor();
  await look(page, "adjusting-proposed");
  await page.getByRole("button", { name: "Propose the larger batch" }).click();
  await page.locator("#reason-cure").waitFor();
  await page.getByLabel("Why so much was weighed").fill("It poured faster than expected.");
  await page.getByRole("button", { name: "Propose the larger batch" }).click();
  await page.getByRole("status").getByText("It counts once a second person has authorised it.").waitFor();
  assert.equal(await page.getByRole("button", { name: "Propose the larger batch" }).count(), 0);
  await page.goto(`/batches/${batch}/bench`);
  await page.getByText("A larger batch is proposed and waits").waitFor();

  const ilse = await house.as("ilse.brandt", DESK);
  await ilse.goto(`/batches/${batch}/deviations`);
  await house.read(ilse);
  await ilse.getByRole("link", { name: "See what it asks for" }).click();
  await ilse.getByText(/^The batch would be /).waitFor();
  await look(ilse, "adjusting-to-authorise");
  await ilse.getByRole("link", { name: "Look at it and authorise" }).click();
  const larger = ilse.locator(".row", { hasText: "A larger batch, so that" });
  await larger.getByRole("button", { name: "Authorise" }).click();
  await larger.getByText(/^Authorised by Ilse Brandt/).waitFor();
  // The line that was too much is right by now, so its weighing needs nobody.
  assert.equal(await ilse.getByRole("button", { name: "Authorise" }).count(), 0);
  await look(ilse, "adjusting-authorised");

  // The bench goes on with what is missing of the line that was right before.
  await page.goto(`/batches/${batch}/bench`);
  await page.getByText("This is the rest.").waitFor();
  assert.equal(await page.locator("#here form").getAttribute("data-act"), "w-1.1");
  const rest = Number(await page.locator("#here form").getAttribute("data-asked"));
  assert.ok(Math.abs(rest - first * (weighed / asked - 1)) <= 0.11, `${rest} of ${first}`);
  await look(page, "adjusting-rest");
  await page.locator("#here input[name=quantity]").fill(String(rest));
  await page.locator("#here button.do").click();
  await page.getByText(/^Written: /).first().waitFor();
  assert.notEqual(await page.locator("#here form").getAttribute("data-act"), "w-1.1");
});
