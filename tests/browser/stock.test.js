// The shelf: receiving a lot on a phone, confirming what it is, drawing from it at the bench, counting and discarding it.
import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE } from "./house.js";

const house = clinic();

test("an administrator receives a lot on a phone, and is told what to write on it", async () => {
  const page = await house.as("petra.hollweg", PHONE);
  await page.goto("/shelf");
  await page.getByRole("heading", { name: "Shelf" }).waitFor();
  await page.getByRole("link", { name: "yellow beeswax L" }).first().waitFor();
  await look(page, "shelf");
  await page.getByRole("link", { name: "In quarantine" }).click();
  await page.getByText("an instructor confirms its identity first").first().waitFor();
  await look(page, "shelf-quarantine");
  await page.getByRole("link", { name: "Receive a lot" }).click();
  await look(page, "receive");
  await page.getByLabel("Material", { exact: true }).fill("chamomile");
  await page.getByLabel("How much").fill("a sack");
  await page.getByLabel("Supplier", { exact: true }).fill("Tanswell herbs");
  await page.getByLabel("Supplier’s lot").fill("TH-77");
  await page.getByRole("button", { name: "Receive it" }).click();
  // Each cure stands at its field, and what was typed stays.
  await page.locator("#r-material-says [role=alert]").waitFor();
  assert.equal(await page.getByLabel("How much").inputValue(), "a sack");
  await look(page, "receive-refused");
  await page.getByLabel("Material", { exact: true }).fill("dried chamomile flower");
  await page.getByLabel("How much").fill("250 g");
  await page.getByLabel("Printed expiry").fill("2031-06");
  await page.getByRole("button", { name: "Receive it" }).click();
  await page.getByText(/Write L\d{4}-\d{4} on the container\./).waitFor();
  await page.getByRole("heading", { name: "Mistaken for it" }).waitFor();
  await look(page, "lot-received");
  // Who keeps the stock judges no identity.
  assert.equal(await page.getByRole("button", { name: "Confirm the identity" }).count(), 0);
});

test("an instructor confirms what it is, counts it and puts it out of use", async () => {
  const page = await house.as("ilse.brandt", DESK);
  await page.getByRole("link", { name: "Shelf" }).click();
  await page.getByRole("link", { name: "In quarantine" }).click();
  await page.getByRole("link", { name: /^dried chamomile flower L/ }).first().click();
  await page.getByLabel("Appearance, smell, taste").fill("Hollow, conical receptacle; smells of apple.");
  await page.getByRole("button", { name: "Confirm the identity" }).click();
  await page.locator("#identity-species-says [role=alert]").waitFor();
  await look(page, "identity-refused");
  await page.getByLabel("Species").fill("Matricaria chamomilla");
  await page.getByLabel("Part").fill("flower");
  await page.getByLabel("Condition").fill("dried, whole");
  await page.getByLabel("How look-alikes were ruled out").fill("The receptacle is hollow when cut through.");
  await page.getByRole("button", { name: "Confirm the identity" }).click();
  await page.getByText("Usable.").waitFor();
  await page.getByText("Identity confirmed by Ilse Brandt").waitFor();
  await page.getByText("Count it", { exact: true }).first().click();
  await page.getByLabel("Counted").fill("240 g");
  await page.getByLabel("Why it differs").fill("Dust was sieved out.");
  await page.getByRole("button", { name: "Count it" }).click();
  await page.getByText("240 g left.").waitFor();
  await page.getByText("−10 g").waitFor();
  await look(page, "lot-counted");
  await page.getByText("Discard it", { exact: true }).first().click();
  await page.locator("#discard-reason").fill("Moths.");
  await page.getByRole("button", { name: "Discard it" }).click();
  await page.getByText("Discarded.").first().waitFor();
  await look(page, "lot-discarded");
});

test("a lot is found by its number, and a material says when it runs low", async () => {
  const page = await house.as("marek.dvorsky", DESK);
  await page.goto("/shelf");
  await page.getByLabel("Number of a lot").fill("L1999-0001");
  await page.getByRole("button", { name: "Find" }).click();
  await page.locator("#not-found").waitFor();
  await look(page, "shelf-not-found");
  const number = house.sql("SELECT number FROM lot ORDER BY id LIMIT 1");
  await page.getByLabel("Number of a lot").fill(number.toLowerCase());
  await page.getByRole("button", { name: "Find" }).click();
  await page.getByRole("heading", { name: number }).waitFor();
  await page.goto("/shelf?show=expiring");
  await page.getByText("Past its date").first().waitFor();
  await look(page, "shelf-expiring");
  await page.getByRole("link", { name: "Stock" }).click();
  await page.getByText("Runs low.").first().waitFor();
  await look(page, "shelf-stock");
  await page.getByRole("link", { name: "Set the threshold lavender oil" }).click();
  await page.getByLabel("At least").fill("some");
  await page.getByRole("button", { name: "Set the threshold" }).click();
  await page.locator("#least-cure").waitFor();
  await look(page, "threshold-refused");
  await page.getByLabel("At least").fill("50 g");
  await page.getByRole("button", { name: "Set the threshold" }).click();
  await page.getByText("At least 50 g should be here.").waitFor();
});

test("a student weighs from the lot that expires first and holds enough, or types another", async () => {
  const page = await house.as("noor.haddad", PHONE);
  // The shelf shows a student no balance.
  await page.goto("/shelf");
  await page.getByRole("link", { name: /^yellow beeswax/ }).first().waitFor();
  assert.equal(await page.getByText(/g left/).count(), 0);
  await look(page, "shelf-student");
  await page.getByRole("link", { name: /^yellow beeswax/ }).first().click();
  await look(page, "lot-student");
  const batch = house.sql("SELECT b.id FROM batch b JOIN revision r ON r.id = b.revision_id WHERE b.state = 'making' AND r.title = 'Calendula salve'");
  await page.goto(`/batches/${batch}/bench?act=w-1.1`);
  // The chosen lot stands in one line, which opens to change it.
  const fold = page.locator("#here details.lot");
  await fold.getByText(/^L\d{4}-\d{4} Quillbrook apiary, until/).first().waitFor();
  await look(page, "bench-lot");
  await fold.locator("summary").click();
  const shelf = page.locator("#here").getByRole("group", { name: "From the shelf" });
  await shelf.waitFor();
  const lots = shelf.getByRole("radio");
  assert.equal(await lots.count(), 2);
  // The first to expire holds too little, and says so; the next is chosen.
  await shelf.getByText("12 g left, not enough").waitFor();
  assert.deepEqual([await lots.nth(0).isChecked(), await lots.nth(1).isChecked()], [false, true]);
  await look(page, "bench-lots");
  const before = house.sql("SELECT on_hand FROM lot_balance b JOIN lot l ON l.id = b.lot_id WHERE l.supplier_lot = 'QB-26-117'");
  await page.getByLabel("Weighed").fill("1.5");
  // The line is weighed already: more of it is a deviation, with its reason.
  await page.locator("#here details.deviation summary").click();
  await page.getByLabel("Why it is outside the tolerance").fill("Some more, to try the other lot.");
  await page.getByRole("button", { name: /Write down/ }).click();
  await page.getByText(/Written/).first().waitFor();
  const after = house.sql("SELECT on_hand FROM lot_balance b JOIN lot l ON l.id = b.lot_id WHERE l.supplier_lot = 'QB-26-117'");
  assert.equal(Number(before) - Number(after), 1.5);
  // From the small one, more than it holds.
  await page.goto(`/batches/${batch}/bench?act=w-1.1`);
  await fold.locator("summary").click();
  await lots.nth(0).check();
  await page.getByLabel("Weighed").fill("13");
  await page.getByRole("button", { name: /Write down/ }).click();
  await page.getByText(/holds 12 g, less than this weighing/).waitFor();
  await look(page, "bench-lot-refused");
  // Typed by its number, it is the lot of the shelf.
  const small = house.sql("SELECT number FROM lot WHERE supplier_lot = 'QB-25-301'");
  await page.getByLabel("Lot", { exact: true }).fill(small);
  await page.getByLabel("Weighed").fill("2");
  // The line is weighed already: more of it is a deviation, with its reason.
  await page.locator("#here details.deviation summary").click();
  await page.getByLabel("Why it is outside the tolerance").fill("Some more, to try the other lot.");
  await page.getByRole("button", { name: /Write down/ }).click();
  await page.getByText(/Written/).first().waitFor();
  assert.equal(house.sql("SELECT on_hand FROM lot_balance b JOIN lot l ON l.id = b.lot_id WHERE l.supplier_lot = 'QB-25-301'"), "10");
});

test("what a batch made is put on the shelf by its maker, let in by an instructor, and offered where it is nested", async () => {
  const batch = house.sql("SELECT b.id FROM batch b JOIN revision r ON r.id = b.revision_id WHERE b.state = 'accepted' AND r.title = 'Infused oil of calendula'");
  const tomas = await house.as("tomas.lind", PHONE);
  await tomas.goto(`/batches/${batch}`);
  await tomas.getByRole("link", { name: "Put on the shelf" }).click();
  await tomas.getByText("Recorded yield: 842 g.").waitFor();
  await look(tomas, "shelve");
  await tomas.getByLabel("Weight").fill("500 g");
  await tomas.getByRole("button", { name: "Put on the shelf" }).click();
  await tomas.locator("#s-amount-says [role=alert]").waitFor();
  assert.equal(await tomas.getByLabel("Weight").inputValue(), "500 g");
  await look(tomas, "shelve-refused");
  await tomas.getByLabel("Weight").fill("90 g");
  await tomas.getByRole("button", { name: "Put on the shelf" }).click();
  await tomas.getByText(/Write L\d{4}-\d{4} on the container\./).waitFor();
  await tomas.getByText("Made by Tomas Lind").waitFor();
  await look(tomas, "lot-made");
  assert.equal(await tomas.getByRole("button", { name: "Let it in for use" }).count(), 0);
  const address = new URL(tomas.url()).pathname;
  const marek = await house.as("marek.dvorsky", DESK);
  await marek.goto(address);
  await marek.getByLabel("Appearance and smell").fill("Clear and yellow; smells of the flower.");
  await look(marek, "lot-let-in");
  await marek.getByRole("button", { name: "Let it in for use" }).click();
  await marek.getByText("Usable.").waitFor();
  await marek.getByRole("link", { name: /^Record of batch/ }).waitFor();
  const noor = await house.as("noor.haddad", PHONE);
  const salve = house.sql("SELECT b.id FROM batch b JOIN revision r ON r.id = b.revision_id WHERE b.state = 'making' AND r.title = 'Calendula salve'");
  await noor.goto(`/batches/${salve}/bench?act=w-1.2`);
  await noor.locator("#here details.lot").getByText(/made here, until/).first().waitFor();
  await look(noor, "bench-made-lot");
});

test("a count notices that something was drawn meanwhile, and keeps what was typed", async () => {
  const address = `/shelf/lots/${house.sql("SELECT id FROM lot WHERE supplier_lot = 'QB-26-117'")}`;
  const [first, second] = [await house.as("ilse.brandt", DESK), await house.as("petra.hollweg", PHONE)];
  for (const page of [first, second]) {
    await page.goto(address);
    await page.getByText("Count it", { exact: true }).first().click();
    await page.getByLabel("Counted").fill("1900 g");
    await page.getByLabel("Why it differs").fill("Crumbs.");
  }
  await first.getByRole("button", { name: "Count it" }).click();
  await first.getByText("1900 g left.").waitFor();
  await second.getByLabel("Counted").fill("1950 g");
  await second.getByRole("button", { name: "Count it" }).click();
  await second.getByText(/changed after you read it\. The ledger says 1900 g now/).waitFor();
  assert.equal(await second.getByLabel("Counted").inputValue(), "1950 g");
  await look(second, "lot-count-moved");
  await second.getByRole("button", { name: "Count it" }).click();
  await second.getByText("1950 g left.").waitFor();
});

test("a student reserves lots for a batch on a phone, weighs from them, and frees the rest", async () => {
  const page = await house.as("noor.haddad", PHONE);
  const salve = house.sql("SELECT b.id FROM batch b JOIN revision r ON r.id = b.revision_id WHERE b.state = 'making' AND r.title = 'Calendula salve'");
  await page.goto(`/batches/${salve}`);
  await page.getByRole("link", { name: "Reserve lots" }).click();
  await page.getByText("Nothing is reserved.").first().waitFor();
  await look(page, "reserve");
  await page.getByLabel("Days").fill("30");
  await page.getByRole("button", { name: "Reserve lots" }).click();
  await page.locator("#days-cure").waitFor();
  await look(page, "reserve-refused");
  await page.getByLabel("Days").fill("2");
  await page.getByRole("button", { name: "Reserve lots" }).click();
  await page.getByText(/^Reserved until/).waitFor();
  await look(page, "reserved");
  // The bench begins with what is reserved.
  await page.goto(`/batches/${salve}/bench?act=w-1.2`);
  await page.locator("#here details.lot").getByText(/Reserved for this batch/).first().waitFor();
  const ilse = await house.as("ilse.brandt", DESK);
  const lot = house.sql("SELECT lot_id FROM lot_reservation GROUP BY lot_id HAVING count(*) = 2 LIMIT 1");
  await ilse.goto(`/shelf/lots/${lot}`);
  await ilse.getByText("2 batches have reserved some of it.").waitFor();
  await look(ilse, "lot-reserved");
  await page.goto(`/batches/${salve}/reservations`);
  await page.getByRole("button", { name: "Free them" }).click();
  await page.getByText("Nothing is reserved.").first().waitFor();
  assert.equal(house.sql(`SELECT count(*) FROM lot_reservation WHERE batch_id = '${salve}'`), "0");
});
