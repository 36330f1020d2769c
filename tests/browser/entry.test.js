import test from "node:test";
import assert from "node:assert/strict";
import { clinic, DESK, look, PHONE, signIn } from "./house.js";

const house = clinic();

for (const [device, size] of Object.entries({ phone: PHONE, desk: DESK })) {
  test(`sign-in refuses a wrong pair in the same words and keeps the name, on a ${device}`, async () => {
    const page = await house.device(size);
    await page.goto("/");
    await look(page, "sign-in");
    for (const name of ["noor.haddad", "nobody.known"]) {
      await page.getByLabel("Sign-in name").fill(name);
      await page.getByLabel("Password").fill("not the password");
      await page.getByRole("button", { name: "Sign in" }).click();
      await page.getByText("The name or the password is incorrect.").waitFor();
      assert.equal(await page.getByLabel("Sign-in name").inputValue(), name);
    }
    await look(page, "sign-in-wrong");
    await page.getByRole("link", { name: "Forgotten password" }).click();
    await look(page, "forgotten");
    await page.goto("/problems");
    await look(page, "problems");
    await page.getByRole("link", { name: "It changed while you wrote" }).click();
    await look(page, "problem");
    const missing = await page.goto("/no-such-page");
    assert.equal(missing.status(), 404);
    await look(page, "no-such-page");
    await page.context().close();
  });

  test(`a person sees and ends their sessions and changes the password, on a ${device}`, async () => {
    const name = device === "phone" ? "noor.haddad" : "tomas.lind";
    const other = await house.as(name, size);
    const page = await house.as(name, size);
    await page.goto("/account");
    await look(page, "account");
    await page.getByRole("button", { name: /^End/ }).first().click();
    await page.getByText("The session ended.").waitFor();
    await other.goto("/account");
    await other.getByText("You were signed out.").first().waitFor();
    await page.getByLabel("Current password").fill("wrong");
    await page.getByLabel("New password").fill("a long phrase only I know");
    await page.getByRole("button", { name: "Change password" }).click();
    await page.getByText("The current password is incorrect.").waitFor();
    await look(page, "account-refused");
    await page.getByLabel("Current password").fill(house.passwords[name]);
    await page.getByLabel("New password").fill(`a long phrase only ${name} knows`);
    await page.getByRole("button", { name: "Change password" }).click();
    await page.getByText("The password was changed.").waitFor();
    house.passwords[name] = `a long phrase only ${name} knows`;
    await page.getByRole("button", { name: "Sign out" }).click();
    await page.getByRole("heading", { name: "Sign in" }).waitFor();
    await page.goBack();
    await page.goto("/account");
    await page.getByText("Sign in to see this page.").waitFor();
  });
}

test("the cookie is bound to the host, and pages allow nothing inline", async () => {
  const page = await house.as("petra.hollweg", DESK);
  const [session] = (await page.context().cookies()).filter((cookie) => cookie.name === "__Host-session");
  assert.deepEqual([session.httpOnly, session.secure, session.sameSite, session.path], [true, true, "Lax", "/"]);
  const answer = await page.goto("/account");
  const headers = answer.headers();
  assert.match(headers["content-security-policy"], /default-src 'none'/);
  assert.doesNotMatch(headers["content-security-policy"], /unsafe/);
  assert.equal(headers["cache-control"], "no-store");
  const style = await page.request.get(await page.locator("link[rel=stylesheet]").getAttribute("href"));
  assert.match(style.headers()["cache-control"], /immutable/);
});

test("a form sent from another site does nothing", async () => {
  const page = await house.as("petra.hollweg", DESK);
  const foreign = await house.device(DESK);
  await foreign.route("http://elsewhere.test/", (route) => route.fulfill({ contentType: "text/html", body: `<form method="post" action="${house.base}/sign-out"><button>Go</button></form>` }));
  await foreign.context().addCookies(await page.context().cookies());
  await foreign.goto("http://elsewhere.test/");
  const answered = foreign.waitForResponse((response) => response.url().endsWith("/sign-out"));
  await foreign.getByRole("button").click();
  assert.equal((await answered).status(), 403);
  await look(foreign, "cross-site");
  await page.goto("/account");
  await page.getByRole("button", { name: "Sign out" }).waitFor();
});

test("an invited person sets a password with a code from the address, without script too", async () => {
  const code = async (name) => {
    const petra = await house.browser.newContext({ baseURL: house.base });
    const tokens = await (await petra.request.post("/v1/sessions", { data: { sign_in_name: "petra.hollweg", password: house.passwords["petra.hollweg"] } })).json();
    const invited = await petra.request.post("/v1/invitations", {
      headers: { authorization: `Bearer ${tokens.access_token}`, "idempotency-key": name },
      data: { sign_in_name: name, name: "Invited Person", role: "student" },
    });
    return (await invited.json()).code;
  };
  const page = await house.device(PHONE);
  await page.goto(`/code#${await code("first.invited")}`);
  assert.equal(await page.evaluate(() => location.hash), "");
  await look(page, "code");
  await page.getByLabel("New password").fill("password1234");
  await page.getByRole("button", { name: "Set password" }).click();
  await page.locator("#new-cure").waitFor();
  await look(page, "code-refused");
  await page.getByLabel("New password").fill("a quite unusual phrase");
  await page.getByRole("button", { name: "Set password" }).click();
  await page.getByRole("heading", { name: "Today" }).waitFor();

  const plain = await house.device(PHONE, { javaScriptEnabled: false });
  await plain.goto("/code");
  await plain.getByLabel("One-time code").fill("sc_unknown");
  await plain.getByLabel("New password").fill("a quite unusual phrase");
  await plain.getByRole("button", { name: "Set password" }).click();
  await plain.getByText("This code was used or has expired.").waitFor();
});
