// What was written while there was no network: kept on this device, sealed for the person who wrote it, and sent once and
// in order when the network returns. The key comes from the service for this person; the browser keeps it in a form that
// no script can read out. No target and no name of a material is kept.

const open = () => new Promise((done, fail) => {
  const asked = indexedDB.open("stillroom", 1);
  asked.onupgradeneeded = () => {
    asked.result.createObjectStore("keys", { keyPath: "person" });
    asked.result.createObjectStore("entries", { keyPath: "id" });
  };
  asked.onsuccess = () => {
    const db = asked.result;
    // The browser may close it, and another window may need it closed: the next act opens it again.
    db.onclose = () => { opened = undefined; };
    db.onversionchange = () => { db.close(); opened = undefined; };
    done(db);
  };
  asked.onerror = () => fail(asked.error);
});
const settled = (asked) => new Promise((done, fail) => {
  asked.onsuccess = () => done(asked.result);
  asked.onerror = () => fail(asked.error);
});

// One connection for as long as the page is there. A busy browser may refuse to open one: it is asked again, after a while.
const PAUSES = [50, 200, 800];
let opened;
async function store(name, mode, work, tries = 0) {
  try {
    opened ??= open();
    const db = await opened;
    const act = db.transaction(name, mode, { durability: "strict" });
    const ended = new Promise((done, fail) => {
      act.oncomplete = done;
      act.onabort = () => fail(act.error);
    });
    const answer = await settled(work(act.objectStore(name)));
    // Kept is what is on the disk of this device.
    await ended;
    return answer;
  } catch (fault) {
    opened = undefined;
    if (tries >= PAUSES.length) throw fault;
    await new Promise((rested) => setTimeout(rested, PAUSES[tries]));
    return store(name, mode, work, tries + 1);
  }
}

/** The keys on this device: of nobody, or of whoever is signed in. */
export const keys = () => store("keys", "readonly", (all) => all.getAll());

/** Takes the key away: what is kept can be read by nobody until its person signs in here again. */
export async function forget(but) {
  for (const { person } of await keys()) if (person !== but) await store("keys", "readwrite", (all) => all.delete(person));
}

/** The key of whoever is signed in. */
export async function keyOf(person) {
  await forget(person);
  const known = (await keys()).find((one) => one.person === person);
  if (known) return known.key;
  const answer = await fetch("/account/device-key", { headers: { accept: "application/json" } });
  if (!answer.ok) throw new Error("signed out");
  const told = await answer.json();
  if (told.person !== person) throw new Error("somebody else is signed in");
  const bytes = Uint8Array.from(told.key.match(/../g), (pair) => parseInt(pair, 16));
  const key = await crypto.subtle.importKey("raw", bytes, "AES-GCM", false, ["encrypt", "decrypt"]);
  await store("keys", "readwrite", (all) => all.put({ person, key }));
  return key;
}

/** Keeps an entry. Its id is the key that makes it count once, however often it is sent. */
export async function keep(person, entry) {
  const key = await keyOf(person);
  const iv = crypto.getRandomValues(new Uint8Array(12));
  const sealed = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, key, new TextEncoder().encode(JSON.stringify(entry)));
  await store("entries", "readwrite", (all) => all.put({ id: entry.id, person, at: entry.at, iv, sealed }));
}

export const drop = (id) => store("entries", "readwrite", (all) => all.delete(id));

/** What is kept of this person, in the order of writing; and how many of others. */
export async function kept(person) {
  const rows = (await store("entries", "readonly", (all) => all.getAll())).sort((a, b) => a.at - b.at);
  const key = (await keys()).find((one) => one.person === person)?.key;
  const mine = [];
  for (const row of rows.filter((one) => one.person === person && key)) {
    const plain = await crypto.subtle.decrypt({ name: "AES-GCM", iv: row.iv }, key, row.sealed);
    mine.push(JSON.parse(new TextDecoder().decode(plain)));
  }
  return { mine, others: rows.length - mine.length };
}

/** Sends one entry: "sent", "refused" with its cure, or "later" where nobody answered. */
export async function sendOne(entry) {
  let answer;
  try {
    answer = await fetch(`/batches/${entry.batch}/entries`, {
      method: "POST",
      headers: { accept: "application/json", "content-type": "application/x-www-form-urlencoded" },
      body: new URLSearchParams(entry.fields).toString(),
    });
  } catch {
    return { how: "later" };
  }
  if (answer.status === 401 || answer.status === 429 || answer.status >= 500) return { how: "later", status: answer.status };
  const told = await answer.json().catch(() => ({}));
  return answer.ok ? { how: "sent", ...told } : { how: "refused", ...told };
}

/** Sends what is kept, one after the other; of several windows one sends. `tell` hears of every step. */
export const send = (person, tell) => navigator.locks.request("stillroom-unsent", async () => {
  const { mine } = await kept(person);
  const waiting = mine.filter((entry) => !entry.cure);
  for (const [i, entry] of waiting.entries()) {
    await tell?.({ sending: i + 1, of: waiting.length });
    let { how, cure, reason } = await sendOne(entry);
    // A weighing outside the tolerance that was noted without its reason: it is written all the same, since it was weighed, and
    // the record asks for the reason. Refused before, it was written nowhere.
    if (how === "refused" && reason) ({ how, cure } = await sendOne({ ...entry, fields: [...entry.fields, ["reason_later", "on"]] }));
    if (how === "later") return tell?.({ offline: true });
    if (how === "sent") await drop(entry.id);
    // Refused: kept with its cure until somebody deals with it; what was written after it is sent all the same.
    else await keep(person, { ...entry, cure: cure ?? "" });
  }
  return tell?.({ done: true, sent: waiting.length });
});
