// The plain parser of a balance, without a browser; and with a port that is none.
import test from "node:test";
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import path from "node:path";
import { clinic, look, PHONE } from "./house.js";

const source = readFileSync(path.join(process.env.PAGES_SOURCES, "balance.js"), "utf8");
const { lines, reading } = await import(`data:text/javascript,${encodeURIComponent(source)}`);
const house = clinic();

test("a number with a unit is read as a person or a balance writes it", () => {
  for (const [text, value] of [["312.4", 312.4], [" 312.4 g", 312.4], ["+   312.40 g\r\n", 312.4], ["ST,GS,+0312.40 g", 312.4], ["0.3124 kg", 312.4], ["1500 mg", 1.5], ["70 °C", 70]]) {
    assert.ok(Math.abs(reading(text).value - value) < 1e-9, text);
  }
  for (const text of ["", "g", "-3 g", "ST,GS,-   3.1 g", "62,7", "62,7 g", "ERR 4 x", "1.2.3", "12 lb"]) assert.equal(reading(text), null, text);
});

test("lines that arrive in pieces are read when they are whole", () => {
  const whole = lines();
  assert.deepEqual(whole("ST,GS,+03"), []);
  assert.deepEqual(whole("12.4 g\r\nST,"), ["ST,GS,+0312.4 g"]);
  assert.deepEqual(whole("GS,+1 g\n"), ["ST,GS,+1 g"]);
});

async function atTheBench(options) {
  const page = await house.device(PHONE);
  if (options?.init) await page.addInitScript(options.init);
  await page.goto("/sign-in");
  await page.getByLabel("Sign-in name").fill("noor.haddad");
  await page.getByLabel("Password").fill(house.passwords["noor.haddad"]);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.getByRole("link", { name: /^Go on/ }).first().click();
  await page.locator("main.bench").waitFor();
  return page;
}

test("a serial balance puts what it reads into the well", async () => {
  const page = await atTheBench({
    init: () => {
      const port = {
        open: async () => {},
        readable: new ReadableStream({
          async start(stream) {
            const text = new TextEncoder();
            stream.enqueue(text.encode("US,GS,+0100.0 g\r\nST,GS,+03"));
            stream.enqueue(text.encode("11.9 g\r\n"));
          },
        }),
      };
      Object.defineProperty(navigator, "serial", { value: { requestPort: async () => port } });
    },
  });
  await page.getByRole("button", { name: "Use a balance" }).click();
  await page.getByText("The balance is connected").waitFor();
  await page.waitForFunction(() => document.querySelector("[name=quantity]").value === "311.9");
  await look(page, "bench-balance");
});

test("a balance that types is heard wherever the focus is, and a second Enter writes", async () => {
  const page = await atTheBench();
  // The page shows this key once it listens.
  await page.getByRole("button", { name: "Use a balance" }).waitFor();
  await page.evaluate(() => document.activeElement.blur());
  await page.keyboard.type("  311.9 g");
  await page.keyboard.press("Enter");
  assert.equal(await page.getByLabel("Weighed, in grams").inputValue(), "311.9");
  await page.getByText(/under/).waitFor();
  await page.keyboard.press("Enter");
  await page.getByText(/^Written: 311\.9/).waitFor();
});
