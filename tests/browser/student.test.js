import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE, signIn, picture } from "./house.js";

const house = clinic();

/** Reads the cautions that stand on the page, one act after the other. */
async function readAll(page) {
  const boxes = page.locator(".reading input[type=checkbox]");
  const all = await boxes.count();
  for (let i = 0; i < all; i += 1) {
    // What comes after the first unread waits.
    if (i + 1 < all) assert.equal(await boxes.nth(i + 1).isVisible(), false);
    await page.locator(".reading .read").nth(i).click();
  }
  return all;
}

test("formulas are counted and found by whom they suit, as the answer for each says", async () => {
  const page = await house.as("noor.haddad", DESK);
  await page.goto("/formulas");
  const all = await page.locator("#answer li a.name").count();
  const groups = page.getByRole("navigation", { name: "Of these, suitable" }).locator("li");
  await groups.first().waitFor();
  const counts = {};
  for (const text of await groups.allTextContents()) {
    const [, whom, number] = /^\s*(.*?)\s+(\d+)\s*$/.exec(text);
    counts[whom] = Number(number);
  }
  // By the cautions in the database, not by the page: nothing that bars somebody pregnant, or asks her to ask first.
  const barred = house.sql(`SELECT count(DISTINCT k.revision_id) FROM gate k JOIN formula f ON f.approved_revision_id = k.revision_id
    JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = (SELECT id FROM person WHERE name = 'Noor Haddad')
    JOIN caution c ON c.revision_id = k.revision_id AND c.set_number = k.set_number
    WHERE c.level IN ('contraindication', 'stop') AND c.audiences ?| ARRAY['pregnant', 'everyone']
      AND c.key <> 'untested-daily-limit'`);
  assert.ok(counts["in pregnancy"] <= all - Number(barred), `${JSON.stringify(counts)} of ${all}, ${barred} barred`);
  assert.ok(Object.values(counts).some((count) => count > 0 && count < all), JSON.stringify(counts));
  for (const whom of Object.keys(counts)) {
    await page.goto("/formulas");
    await page.getByRole("link", { name: whom, exact: true }).click();
    await page.getByRole("heading", { name: "Search results" }).waitFor();
    assert.equal(await page.locator("#answer li a.name").count(), counts[whom], whom);
  }
  await look(page, "find-whom");
  await page.context().close();
});

for (const [device, size] of Object.entries({ phone: PHONE, desk: DESK })) {
  const name = device === "phone" ? "noor.haddad" : "tomas.lind";
  test(`a student finds a formula, reads its cautions one at a time and opens its recipe, on a ${device}`, async () => {
    const page = await house.as(name, size);
    await page.getByRole("heading", { name: "Today" }).waitFor();
    await look(page, "today");
    await page.getByLabel("Find a formula").fill("calendula");
    await page.getByRole("button", { name: "Find" }).click();
    await page.getByRole("link", { name: "Household calendula cream" }).waitFor();
    await look(page, "find");
    await page.getByRole("link", { name: "Household calendula cream" }).click();
    await page.getByRole("heading", { name: "Read these to open the recipe" }).waitFor();
    await look(page, "formula");
    assert.equal(await page.getByRole("button", { name: "Open the recipe" }).isVisible(), false);
    assert.ok((await readAll(page)) >= 4);
    await look(page, "formula-read");
    await page.getByRole("button", { name: "Open the recipe" }).click();
    await page.getByText("in all").waitFor();
    await look(page, "recipe");
    // The question stands in the address, and the figures follow the typing.
    await page.getByLabel("Quantity by").selectOption("jars");
    await page.getByLabel("How many jars").fill("12");
    await page.getByLabel("In each jar").fill("30 g");
    await page.locator(".ask summary").click();
    await page.getByLabel("Stays in the pot").fill("4 %");
    await page.getByLabel("The balance reads").fill("0.1 g");
    await page.locator(".total", { hasText: "375.0" }).waitFor();
    assert.match(page.url(), /containers=12/);
    await page.getByText("Why 168.6").first().click();
    await page.locator("details[open] .sum").first().waitFor();
    await look(page, "recipe-why");
    await page.getByLabel("How many jars").fill("a dozen");
    await page.getByText("Enter the number of jars, such as 12.").waitFor();
    await page.locator(".total", { hasText: "375.0" }).waitFor();
    await page.goto(page.url().replace(/containers=[^&]*/, "containers=dozen"));
    await look(page, "recipe-refused");
    // Asked about somebody in particular.
    await page.getByRole("link", { name: "Cautions" }).click();
    await page.getByLabel("Ask about").selectOption("pregnant");
    await page.getByRole("button", { name: "Ask", exact: true }).click();
    await page.getByRole("status").waitFor();
    await look(page, "formula-suits");
    await page.context().close();
  });
}

test("the gate closes a recipe that was not read, and keeps the quantity that was asked", async () => {
  const page = await house.as("noor.haddad", PHONE);
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Comfrey root ointment'");
  const answer = await page.goto(`/revisions/${id}/recipe?way=mass&mass=500+g`);
  assert.equal(answer.status(), 403);
  assert.doesNotMatch(await page.content(), /\d g</);
  await look(page, "gate");
  await readAll(page);
  await page.getByRole("button", { name: "Open the recipe" }).click();
  await page.getByText("in all").waitFor();
  assert.match(page.url(), /mass=500/);
});

test("reading works without script, and what is unread is named", async () => {
  const page = await house.as("tomas.lind", PHONE, { javaScriptEnabled: false });
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Plain salve'");
  await page.goto(`/revisions/${house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Thyme syrup'")}`);
  const boxes = page.locator(".reading input");
  const all = await boxes.count();
  for (let i = 0; i < all; i += 1) await boxes.nth(i).check();
  await page.getByRole("button", { name: "Open the recipe" }).click();
  await page.getByText("in all").waitFor();
  // A set of which something is left unread opens nothing.
  await page.goto(`/revisions/${house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Elderberry oxymel'")}`);
  const digest = await page.locator("[name=caution_set]").inputValue();
  const once = await page.locator("[name=once]").first().inputValue();
  const refused = await page.request.post(`/revisions/${page.url().split("/").pop()}/read`, {
    form: { once, caution_set: digest, then: "" },
    headers: { origin: house.base },
  });
  assert.equal(refused.status(), 422);
  assert.match(await refused.text(), /are not read yet/);
  assert.ok(id);
});

test("of a changed set only what changed is read", async () => {
  const page = await house.as("noor.haddad", PHONE);
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Calendula salve'");
  assert.equal((await page.goto(`/revisions/${id}/recipe`)).status(), 200);
  const ilse = await house.browser.newContext({ baseURL: house.base });
  const tokens = await (await ilse.request.post("/v1/sessions", { data: { sign_in_name: "ilse.brandt", password: house.passwords["ilse.brandt"] } })).json();
  const material = house.sql("SELECT id FROM material WHERE name = 'yellow beeswax'");
  const made = await ilse.request.post("/v1/amendments", {
    headers: { authorization: `Bearer ${tokens.access_token}`, "idempotency-key": "stronger" },
    data: { reason: "Seen in the clinic.", change: { add_caution: { on: { material }, level: "contraindication", text: "Not on broken skin.", audiences: ["everyone"] } } },
  });
  assert.equal(made.status(), 201, await made.text());
  const closed = await page.goto(`/revisions/${id}/recipe`);
  assert.equal(closed.status(), 403);
  await page.getByText("one is new").waitFor();
  assert.equal(await page.locator(".reading li").count(), 1);
  await look(page, "gate-changed");
  await page.locator(".reading .read").click();
  await page.getByRole("button", { name: "Open the recipe" }).click();
  await page.getByText("in all").waitFor();
});

test("the bench: weigh, step, correct, submit, as a student on a phone", async () => {
  const page = await house.as("noor.haddad", PHONE);
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Calendula cream'");
  await page.goto(`/revisions/${id}/recipe?way=jars&containers=12&fill=30+g&transfer_loss=4+%25&readability=0.1+g`);
  await page.getByRole("button", { name: "Start a batch" }).click();
  await page.locator("main.bench").waitFor();
  await look(page, "bench");
  const batch = /batches\/([^/]+)/.exec(page.url())[1];
  // The first touch puts in what is asked, the next ones move it.
  await page.getByRole("button", { name: /more$/ }).click();
  assert.equal(await page.getByLabel("Weighed, in grams").inputValue(), "30.0");
  await page.getByText("As asked.").waitFor();
  await page.getByRole("button", { name: /more$/ }).click();
  await page.getByText(/0\.1 g over \(0\.33 %\)\. Within tolerance/).waitFor();
  await page.getByLabel("Weighed, in grams").fill("31.9");
  await page.getByText(/Take out/).waitFor();
  await look(page, "bench-over");
  // Above the tolerance the page asks why.
  await page.getByLabel("Why it is outside the tolerance").fill("The last pellet was larger than it looked.");
  await page.getByRole("button", { name: "Write down 31.9 g" }).click();
  await page.getByText(/^Written: 31\.9/).waitFor();
  await look(page, "bench-next");
  // A comma is refused beside the field, and what was typed is there.
  await page.getByLabel("Weighed, in grams").fill("112,5");
  await page.getByRole("button", { name: /^Write down/ }).click();
  await page.locator(".cure").first().waitFor();
  assert.equal(await page.getByLabel("Weighed, in grams").inputValue(), "112,5");
  await look(page, "bench-refused");
  // What was meant is one act away.
  await page.getByRole("button", { name: "Write 112.5", exact: true }).click();
  await page.getByText(/^Written: 112\.5/).waitFor();
  // The correction stands beside what it corrects.
  await page.getByRole("link", { name: /^Correct 31\.9/ }).click();
  await page.getByText("Before:").waitFor();
  await page.getByLabel("Weighed, in grams").fill("30.1");
  await look(page, "bench-correct");
  await page.getByRole("button", { name: /^Write the correction/ }).click();
  await page.getByText(/^Written: 30\.1/).waitFor();
  assert.equal(await page.locator("[data-row] del").first().textContent(), "31.9\u00a0g, lot AG-26-001");
  // Several at once.
  await page.getByRole("link", { name: "Weigh several at once" }).click();
  await look(page, "bench-list");
  const wells = page.locator("input.n");
  await wells.nth(0).fill("1,5");
  await wells.nth(1).fill("1.5");
  await wells.nth(2).fill("0.94");
  await wells.nth(3).fill("228.6");
  await page.getByRole("button", { name: "Write all down" }).click();
  await page.locator(".cure").waitFor();
  await look(page, "bench-list-refused");
  // What was meant is written by one act, and stands in the record.
  await page.getByRole("button", { name: "Write 1.5", exact: true }).click();
  await page.locator("main.bench h1.words").waitFor();
  await look(page, "bench-step");
  // Each step until what came out.
  for (;;) {
    const well = page.getByLabel("Temperature, in °C");
    if ((await page.locator("h1.words").count()) === 0) break;
    const high = Number(await page.locator("form.weigh").first().getAttribute("data-high"));
    if (high && (await well.count())) await well.fill(String(high));
    const before = page.url();
    const hold = await page.locator("#here").getByText("Hold", { exact: true }).count();
    await page.locator("button.big").click();
    await page.waitForURL((url) => url.href !== before);
    if (hold) await house.release(batch);
  }
  await page.getByLabel("Weighed, in grams").fill("361.5");
  await page.locator("button.big").click();
  await page.getByRole("button", { name: "Submit for review" }).waitFor();
  await look(page, "record");
  await page.getByRole("button", { name: "Submit for review" }).click();
  await page.getByText(/^Submitted/).first().waitFor();
  await look(page, "record-submitted");
  await page.goto(`/batches/${batch}/bench`);
  assert.match(page.url(), /batches\/[^/]+$/);
  await page.goto("/batches");
  await look(page, "batches");
});

test("back, double click and reload write nothing twice", async () => {
  const page = await house.as("tomas.lind", PHONE);
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Thyme syrup'");
  await page.goto(`/revisions/${id}/recipe`);
  await page.getByRole("button", { name: "Start a batch" }).dblclick();
  await page.locator("main.bench").waitFor();
  const batches = () => house.sql("SELECT count(*) FROM batch b JOIN revision r ON r.id = b.revision_id WHERE r.title = 'Thyme syrup'");
  assert.equal(batches(), "1");
  const entries = () => house.sql("SELECT coalesce(sum(last_entry), 0) FROM batch b JOIN revision r ON r.id = b.revision_id WHERE r.title = 'Thyme syrup'");
  const first = await page.locator("h1").textContent();
  await page.getByRole("button", { name: /more$/ }).click();
  await page.locator("button.big").dblclick();
  await page.getByText(/^Written:/).waitFor();
  assert.equal(entries(), "1");
  await page.reload();
  assert.equal(entries(), "1");
  assert.notEqual(await page.locator("h1").textContent(), first);
  await page.goBack();
  await page.goBack();
  await page.locator("body").waitFor();
  assert.equal(entries(), "1");
});

test("without script the bench writes, says how far off, and shows a used form what it led to", async () => {
  const page = await house.as("tomas.lind", PHONE, { javaScriptEnabled: false });
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Thyme syrup'");
  await page.goto(`/revisions/${id}/recipe`);
  await page.getByRole("button", { name: "Start a batch" }).click();
  await page.locator("main.bench").waitFor();
  await picture(page, "bench-no-script", { fullPage: true });
  const address = page.url();
  const sent = Object.fromEntries(await Promise.all((await page.locator("form.weigh input").all()).map(async (field) => [await field.getAttribute("name"), await field.inputValue()])));
  await page.locator("[name=quantity]").fill("1 g");
  await page.getByRole("button", { name: "Write down" }).click();
  await page.getByText(/^Written: 1/).waitFor();
  await picture(page, "bench-written-no-script", { fullPage: true });
  // The same form once more with another amount: its key was used.
  const again = await page.request.post(address.replace(/bench.*/, "entries"), { form: { ...sent, quantity: "2 g" }, headers: { origin: house.base } });
  assert.match(await again.text(), /This form was already saved\./);
  const entries = house.sql(`SELECT last_entry FROM batch WHERE id = '${/batches\/([^/]+)/.exec(address)[1]}'`);
  assert.equal(entries, "1");
});

test("what was typed when the session ended opens again for the same person only", async () => {
  const page = await house.as("tomas.lind", PHONE);
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Thyme syrup'");
  await page.goto(`/revisions/${id}/recipe`);
  await page.getByRole("button", { name: "Start a batch" }).click();
  await page.locator("main.bench").waitFor();
  await page.goto(`${page.url()}/list`);
  await page.locator("input.n").first().fill("123.4");
  house.sql("UPDATE session SET ended_at = started_at + interval '1 second' WHERE ended_at IS NULL");
  await page.getByRole("button", { name: "Write all down" }).click();
  await page.getByText("Your text is kept").waitFor();
  await look(page, "sign-in-kept");
  await signIn(page, "tomas.lind");
  await page.getByText("123.4").waitFor();
  assert.doesNotMatch(await page.locator("main").innerText(), /[0-9a-f]{24}/, "the keys of the form are shown");
  await look(page, "kept");
  await page.getByRole("button", { name: "Send it now" }).click();
  await page.locator("main.bench").waitFor();
  assert.equal(house.sql("SELECT max(last_entry) FROM batch b JOIN revision r ON r.id = b.revision_id WHERE r.title = 'Thyme syrup' AND b.id = (SELECT max(id::text)::uuid FROM batch)"), "1");
});

test("grams or household measures stand first by the person's choice, and both are there", async () => {
  const page = await house.as("noor.haddad", PHONE);
  const id = house.sql("SELECT approved_revision_id FROM formula WHERE title = 'Household calendula cream'");
  await page.goto(`/revisions/${id}/recipe?way=own`);
  if (await page.locator(".reading").count()) {
    await readAll(page);
    await page.getByRole("button", { name: "Open the recipe" }).click();
  }
  const first = page.locator(".lines tbody tr", { hasText: "Infused oil of calendula" });
  await first.locator(".fig", { hasText: "216.0" }).waitFor();
  await first.locator(".quiet", { hasText: "236.6" }).waitFor();
  await page.goto("/account");
  await page.getByLabel("household measures, such as cups").check();
  await page.getByRole("button", { name: "Save choice" }).click();
  await page.getByText("The choice was saved on this device.").waitFor();
  await look(page, "account-measures");
  await page.goto(`/revisions/${id}/recipe?way=own`);
  await first.locator(".fig", { hasText: "236.6" }).waitFor();
  await first.locator(".quiet", { hasText: "216.0" }).waitFor();
  await look(page, "recipe-measures");
  await page.getByRole("button", { name: "Start a batch" }).click();
  await page.locator("#here .target", { hasText: "236.6" }).waitFor();
  await page.locator("#here .quiet", { hasText: "216.0" }).waitFor();
  await look(page, "bench-measures");
  // What is typed is grams all the same, and is judged as such.
  await page.getByRole("button", { name: /more$/ }).click();
  assert.equal(await page.getByLabel("Weighed, in grams").inputValue(), "216.0");
  await page.goto("/account");
  await page.getByLabel("grams", { exact: true }).check();
  await page.getByRole("button", { name: "Save choice" }).click();
  await page.goto(`/revisions/${id}/recipe?way=own`);
  await first.locator(".fig", { hasText: "216.0" }).waitFor();
});
