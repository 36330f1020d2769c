// Photographs of a batch: taken on a phone, looked at beside the decision on a desk.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

/** A photograph drawn by code: a bowl on a bench. */
const drawn = async (page, width, height) => {
  const data = await page.evaluate(([width, height]) => {
    const canvas = Object.assign(document.createElement("canvas"), { width, height });
    const brush = canvas.getContext("2d");
    brush.fillStyle = "#c9b08a";
    brush.fillRect(0, 0, width, height);
    brush.fillStyle = "#f4f1e8";
    brush.beginPath();
    brush.arc(width / 2, height / 2, height / 3, 0, 7);
    brush.fill();
    return canvas.toDataURL("image/jpeg");
  }, [width, height]);
  return { name: "IMG_0001.jpg", mimeType: "image/jpeg", buffer: Buffer.from(data.split(",")[1], "base64") };
};

const shows = (image) => image.evaluate((one) => one.decode().then(() => one.naturalWidth));

test("a maker takes a photograph on a phone, and the reviewer sees it beside the decision", async () => {
  const batch = house.sql("SELECT id FROM batch WHERE state = 'planned'");
  const page = await house.as("marek.dvorsky", PHONE);
  await page.goto(`/batches/${batch}/bench`);
  await page.getByRole("link", { name: "Photographs" }).click();
  await page.getByText("There is no photograph yet.").waitFor();
  assert.equal(await page.getByLabel("Photograph", { exact: true }).getAttribute("capture"), "environment");
  await look(page, "photographs");

  // What is no picture is refused, and what was typed stays.
  await page.getByLabel("Photograph", { exact: true }).setInputFiles({ name: "notes.jpg", mimeType: "image/jpeg", buffer: Buffer.from("#!/bin/sh") });
  await page.getByLabel("What it shows").selectOption({ label: "The appearance of the preparation" });
  await page.getByLabel("Words about it, if any").fill("Smooth, no grains.");
  await page.getByRole("button", { name: "Add the photograph" }).click();
  await page.locator("#photo-cure").getByText("This file is no JPEG, PNG or WebP picture.").waitFor();
  assert.equal(await page.getByLabel("Words about it, if any").inputValue(), "Smooth, no grains.");
  await look(page, "photographs-refused");

  await page.getByLabel("Photograph", { exact: true }).setInputFiles(await drawn(page, 1200, 900));
  await page.getByRole("button", { name: "Add the photograph" }).click();
  const image = page.getByRole("img", { name: "Photograph 1: The appearance of the preparation" });
  await image.waitFor();
  assert.equal(await shows(image), 480);
  await page.getByText("Belongs to entry 1 of the record.").waitFor();
  await look(page, "photographs-added");

  // Opened by itself it is whole, in the browser's own page for pictures, which complains of nothing.
  const address = await page.locator("a.photo").first().getAttribute("href");
  const whole = await page.goto(address);
  assert.deepEqual([whole.status(), whole.headers()["content-type"], whole.headers()["x-content-type-options"]], [200, "image/jpeg", "nosniff"]);
  assert.equal(await shows(page.locator("img")), 1200);
  await page.goBack();

  // Without a script the same form does the same.
  const plain = await house.as("marek.dvorsky", PHONE, { javaScriptEnabled: false });
  await plain.goto(`/batches/${batch}/photographs`);
  await plain.getByLabel("Photograph", { exact: true }).setInputFiles(await drawn(page, 600, 800));
  await plain.getByLabel("What it shows").selectOption("fault");
  await plain.getByRole("button", { name: "Add the photograph" }).click();
  await plain.getByRole("img", { name: "Photograph 2: What went wrong" }).waitFor();

  await page.goto(`/batches/${batch}`);
  await page.getByRole("button", { name: "Submit for review" }).click();
  await page.waitForURL((url) => url.pathname === `/batches/${batch}`);

  const desk = await house.as("ilse.brandt", DESK);
  await desk.goto(`/batches/${batch}/review`);
  await house.read(desk);
  const beside = desk.getByRole("img", { name: "Photograph 1: The appearance of the preparation" });
  await beside.waitFor();
  assert.equal(await shows(beside), 480);
  await look(desk, "review-photographs");
  await beside.click();
  await desk.getByText("Handed in with submission 1.").first().waitFor();
  await desk.getByText("Withdraw this photograph").first().click();
  await desk.getByLabel("Why you withdraw it").first().fill("It shows a person.");
  await desk.getByRole("button", { name: "Withdraw photograph 2" }).click();
  await desk.getByText("It shows a person.").waitFor();
  assert.equal(await desk.getByRole("img", { name: /^Photograph 2/ }).count(), 0);
  await look(desk, "photographs-withdrawn");
});
