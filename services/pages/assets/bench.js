// The bench: what was typed against what was asked, in words and on the beam; entries that wait for the network; a balance,
// a timer, speech, the hand and a screen that stays awake. What is asked stands on the page and in no store.
import { listen, reading } from "./balance.js";
import { drop, keep, kept, keyOf, send, sendOne } from "./unsent.js";

const root = document.body;
const say = root.dataset;
const { person, batch } = say;
const by = (id) => document.getElementById(id);
const fill = (text, ...values) => values.reduce((all, value, i) => all.replaceAll(`{${i}}`, value), text);
const here = by("here");

/** What the form that is there is about. */
function about(form) {
  const { asked, low, high, step, unit } = form.dataset;
  // As many places as the balance shows; more where what is allowed is narrower than its step.
  const places = Math.max(...[step, low, high].map((text) => (text?.split(".")[1] ?? "").length));
  const number = (text) => (text === "" || text === undefined ? null : Number(text));
  return { asked: number(asked), low: number(low), high: number(high), step: Number(step), unit, write: (n) => n.toFixed(places) };
}

function ofWeight(n, { asked, low, high, write }) {
  if (asked === null || low === null) return "";
  const off = n - asked;
  if (Number(write(off)) === 0) return say.asAsked;
  const cure = off < 0 ? fill(say.add, write(low - n)) : fill(say.takeOut, write(n - high));
  const rest = n >= low && n <= high ? say.within : cure;
  const share = Math.abs(off / asked) * 100;
  return `${fill(off < 0 ? say.under : say.over, write(Math.abs(off)), share.toPrecision(2))} ${rest}`;
}
function ofHeat(n, { low, high, write }) {
  if (high !== null && n > high) return fill(say.tooHot, write(n - high));
  if (low !== null && n < low) return fill(say.tooCold, write(low - n));
  return high === null && low === null ? "" : fill(say.heatWithin, write(n));
}
const tilt = (arm, needle) => {
  here.querySelector(".arm")?.setAttribute("transform", `rotate(${arm} 180 22)`);
  here.querySelector(".needle")?.setAttribute("transform", `rotate(${needle} 180 22)`);
};

let first;
function weigh() {
  const form = here.querySelector("form");
  const field = form.elements.quantity;
  if (!field) return;
  const it = about(form);
  const says = here.querySelector(".says");
  const button = form.querySelector("[data-say-amount]");
  const now = reading(field.value);
  if (!now) {
    says.textContent = field.value.trim() ? say.number : first.says;
    button.textContent = first.button;
    return tilt(-8, -30);
  }
  const n = now.value;
  says.textContent = (it.unit === "g" ? ofWeight : ofHeat)(n, it) || first.says;
  button.textContent = `${button.dataset.sayAmount} ${it.write(n)} ${it.unit}`.trim();
  if (it.asked === null || it.low === null || it.high === null) return;
  // Above the tolerance a reason is asked for: here too where nobody is there to ask for it.
  const fold = form.querySelector(".deviation");
  if (fold && n > it.high) fold.open = true;
  const band = (n - it.asked) / ((it.high - it.low) / 2);
  tilt(Math.max(-8, Math.min(8, band * 2)), Math.max(-30, Math.min(30, band * 14.6)));
}
function put(value) {
  const form = here.querySelector("form");
  form.elements.quantity.value = about(form).write(value);
  weigh();
}
function begin() {
  first = { says: here.querySelector(".says")?.textContent ?? "", button: here.querySelector("[data-say-amount]").textContent };
  const field = here.querySelector("form").elements.quantity;
  if (field?.value) weigh();
  // On a desk the well has the focus; on touch no keyboard jumps up.
  if (matchMedia("(pointer: fine)").matches) field?.focus();
  // Without this script the key would do nothing, so the page hides it until now.
  for (const key of here.querySelectorAll("[data-balance]")) key.hidden = false;
  for (const key of here.querySelectorAll("[data-aloud]")) key.hidden = !("speechSynthesis" in window);
  turn(localStorage.getItem("hand") ?? "right");
  timers();
}

here.addEventListener("input", (event) => { if (event.target.name === "quantity") weigh(); });
here.addEventListener("keydown", (event) => {
  if (event.target.name !== "quantity" || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
  event.preventDefault();
  move(event.key === "ArrowUp" ? 1 : -1);
});
function move(by) {
  const form = here.querySelector("form");
  const it = about(form);
  const now = reading(form.elements.quantity.value);
  // The first touch puts in what is asked; the next ones move it by what the balance reads.
  put(now ? Math.max(0, now.value + by * it.step) : it.asked ?? 0);
}

here.addEventListener("click", async (event) => {
  const key = event.target.closest("button");
  if (!key) return;
  if (key.dataset.by) move(Number(key.dataset.by));
  if (key.dataset.aloud) speechSynthesis.speak(new SpeechSynthesisUtterance(key.dataset.aloud));
  if ("handTurn" in key.dataset) {
    localStorage.setItem("hand", root.dataset.hand === "left" ? "right" : "left");
    turn(localStorage.getItem("hand"));
  }
  if (key.dataset.minutes) start(key);
  if ("balance" in key.dataset) balance(key);
});

// Which hand: kept on the device; it tells nothing about anybody.
function turn(side) {
  root.dataset.hand = side;
  for (const key of here.querySelectorAll("[data-hand-turn]")) key.textContent = side === "left" ? key.dataset.right : key.dataset.left;
}

// A timer survives a reload: its end is in the session's store. It says when time is up, and stops at nothing.
function start(key) {
  sessionStorage.setItem(key.dataset.timer, String(Date.now() + Number(key.dataset.minutes) * 60000));
  timers();
}
function timers() {
  for (const key of here.querySelectorAll("[data-timer]")) {
    const end = Number(sessionStorage.getItem(key.dataset.timer));
    if (!end) continue;
    const tick = () => {
      if (!key.isConnected) return clearInterval(every);
      const left = Math.max(0, Math.round((end - Date.now()) / 1000));
      key.textContent = left ? fill(say.left, `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`) : say.up;
      if (!left) {
        clearInterval(every);
        sound();
      }
    };
    const every = setInterval(tick, 1000);
    tick();
  }
}
function sound() {
  try {
    const audio = new AudioContext();
    const tone = audio.createOscillator();
    tone.connect(audio.destination);
    tone.start();
    tone.stop(audio.currentTime + 0.4);
  } catch {
    // A browser without sound shows the words.
  }
}

// A balance on a serial line where the browser has one; and one that types, wherever the focus is.
async function balance(key) {
  if (!navigator.serial) {
    key.textContent = say.balanceNone;
    return;
  }
  try {
    const port = await navigator.serial.requestPort();
    key.textContent = say.balanceOn;
    await listen(port, ({ value }) => put(value));
  } catch {
    key.textContent = say.balanceNone;
  }
}
let typedByBalance = "";
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, textarea, select, button, a, summary")) return;
  if (event.key === "Enter") {
    const now = reading(typedByBalance);
    typedByBalance = "";
    if (now) put(now.value);
    // A second Enter writes it down.
    else if (here.querySelector("form").elements.quantity?.value) here.querySelector("form").requestSubmit();
    return event.preventDefault();
  }
  if (/^[\d.+\-\skgm]$/.test(event.key)) typedByBalance = (typedByBalance + event.key).slice(-40);
});

// The screen stays awake while the step is open.
const awake = () => document.visibilityState === "visible" && navigator.wakeLock?.request("screen").catch(() => {});
document.addEventListener("visibilitychange", awake);
awake();

// Writing: kept first, then sent; without a network the next act comes from the page itself.
function cure(form, text, instead = [], reason = false) {
  const place = form.querySelector(".cures");
  place.innerHTML = "";
  const block = document.createElement("div");
  block.className = "cure";
  block.setAttribute("role", "alert");
  block.append(Object.assign(document.createElement("p"), { textContent: text }));
  const keys = instead.map((one) => Object.assign(document.createElement("button"), { className: "may", name: "instead", value: one, textContent: fill(say.instead, one) }));
  if (keys.length) block.append(Object.assign(document.createElement("p"), { className: "acts" }));
  block.querySelector(".acts")?.append(...keys);
  place.append(block);
  const field = reason ? form.elements.deviation : form.elements.quantity;
  const fold = form.querySelector(".deviation");
  if (reason && fold) fold.open = true;
  field?.setAttribute("aria-invalid", "true");
  field?.focus();
}
here.addEventListener("submit", async (event) => {
  const form = event.target;
  event.preventDefault();
  if (form.dataset.writing) return;
  form.dataset.writing = "yes";
  const fields = [...new FormData(form, event.submitter)].map(([name, value]) => [name, String(value)]);
  const entry = { id: form.elements.once.value, batch, act: form.dataset.act, at: Date.now(), fields };
  try {
    await keep(person, entry);
  } catch {
    return unkept(form, entry);
  }
  const waiting = (await kept(person)).mine.filter((one) => !one.cure);
  // What was written before it goes first.
  const { how, next, cure: words, instead, reason } = waiting.length > 1 ? { how: "later" } : await sendOne(entry);
  if (how === "sent") {
    await drop(entry.id);
    return location.assign(next);
  }
  delete form.dataset.writing;
  if (how === "refused") {
    await drop(entry.id);
    if (next) return location.assign(next);
    return cure(form, words, instead, reason);
  }
  onward(entry);
});
// Where nothing can be kept, the entry is sent at once; without a network what was typed stays in its field, and is said.
async function unkept(form, entry) {
  const { how, status, next, cure: words, instead, reason } = await sendOne(entry);
  if (how === "sent" || next) return location.assign(next);
  // Somebody answered, such as that the session has ended: the page says what to do.
  if (status) return form.submit();
  delete form.dataset.writing;
  if (how === "refused") return cure(form, words, instead, reason);
  cure(form, say.notKept);
}
function onward(entry) {
  const row = document.querySelector(`[data-row="${entry.act}"]`);
  row?.removeAttribute("aria-current");
  // The row that is being weighed has its name as text behind a word; the others have it as a link.
  const before = row?.querySelector("a, b");
  const name = before?.localName === "a" ? ` ${before.textContent}` : "";
  before?.replaceWith(Object.assign(document.createElement("b"), { textContent: say.notSent }), name);
  const next = document.querySelector("template[data-later]");
  if (next) {
    here.replaceChildren(next.content.cloneNode(true));
    document.querySelector(`[data-row="${next.dataset.later}"]`)?.setAttribute("aria-current", "step");
    next.remove();
    begin();
  } else {
    here.replaceChildren(Object.assign(document.createElement("p"), { textContent: say.allDone }));
  }
  tell({ offline: true });
  scrollTo({ top: 0 });
}

// What is kept, and the network's sign.
async function tell(how = {}) {
  const { mine } = await kept(person).catch(() => ({ mine: [] }));
  const net = by("net");
  const waiting = mine.filter((one) => !one.cure).length;
  by("kept").hidden = mine.length === 0;
  by("kept-list").replaceChildren(...mine.map(shown));
  net.hidden = false;
  if (how.sending) net.textContent = fill(say.sending, how.sending, how.of);
  else if (how.offline && waiting) net.innerHTML = "", net.append(Object.assign(document.createElement("b"), { textContent: say.noNetwork }), ` ${waiting === 1 ? say.keptOne : fill(say.kept, waiting)}`);
  else if (how.done && how.sent) net.textContent = say.sent;
  else if (!navigator.onLine) net.textContent = say.noNetwork;
  else net.hidden = true;
}
function shown(entry) {
  const field = (name) => entry.fields.find(([one]) => one === name)?.[1] ?? "";
  const row = document.createElement("li");
  row.className = "row";
  const time = new Date(entry.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  row.innerHTML = '<p class="l"></p><div class="on"><svg class="beam" viewBox="-18 -10 36 20" aria-hidden="true" focusable="false"><circle class="ring" r="6.500"/></svg><b></b> <span></span></div>';
  row.querySelector(".l").textContent = time;
  const name = document.querySelector(`[data-row="${entry.act}"] .on`)?.textContent.trim() ?? "";
  row.querySelector("b").textContent = field("quantity") || field("note") || name;
  row.querySelector("span").textContent = entry.cure ? fill(say.typed, entry.cure) : say.notSent;
  if (entry.cure !== undefined) {
    const away = Object.assign(document.createElement("button"), { type: "button", className: "link", textContent: say.throw });
    away.addEventListener("click", async () => {
      await drop(entry.id);
      tell();
    });
    const again = Object.assign(document.createElement("button"), { type: "button", className: "link", textContent: say.again });
    again.addEventListener("click", async () => {
      const { cure: _, ...whole } = entry;
      await keep(person, whole);
      flush();
    });
    row.querySelector(".on").append(" ", again, " ", away);
  }
  return row;
}
async function flush() {
  const before = (await kept(person)).mine.filter((one) => !one.cure).length;
  if (!before) return tell();
  await send(person, tell);
  const after = (await kept(person)).mine;
  // What was written is on the record now: the page shows it, unless somebody is typing.
  if (!after.length && !here.querySelector("form")?.elements.quantity?.value) location.assign(`/batches/${batch}/bench`);
}
addEventListener("online", flush);
addEventListener("offline", () => tell({ offline: true }));
setInterval(() => { if (navigator.onLine) flush().catch(() => {}); }, 5000);

begin();
keyOf(person).then(flush).catch(() => tell({ offline: !navigator.onLine }));
navigator.serviceWorker?.register("/offline-worker.js").catch(() => {});
