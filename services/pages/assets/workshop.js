// The workshop: what comes out follows the typing, and a draft that is kept already is saved while its author types. The
// answer is the page itself, of which only the figures, the cures and what is said of the saving are taken.
import { complete } from "./names.js";

const form = document.getElementById("workshop");
const say = form.dataset;
const kept = document.getElementById("kept");
const SAVE_AFTER = 2000;
const TRY_AGAIN_AFTER = 10000;
let waiting, running, saving, later, refused, paused = false;

const typed = () => {
  const fields = new URLSearchParams(new FormData(form));
  fields.delete("version");
  fields.delete("once");
  return fields.toString();
};
let last = typed();
const dirty = () => typed() !== last;

async function ask(act, options = {}) {
  const fields = new URLSearchParams(new FormData(form));
  fields.set("do", act);
  const answer = await fetch(form.getAttribute("action"), { method: "POST", headers: { "content-type": "application/x-www-form-urlencoded" }, body: fields.toString(), ...options });
  return new DOMParser().parseFromString(await answer.text(), "text/html");
}

/** The line of the answer that belongs to each field: the service leaves empty lines and phases out, and numbers anew. */
function places() {
  const found = new Map();
  let phase = 0;
  for (const list of form.querySelectorAll("ol.writing")) {
    const fields = [...list.querySelectorAll("[name=line]")];
    const lines = (field) => field.value.split("\n").filter((text) => text.trim()).length;
    if (!fields.some(lines)) continue;
    phase += 1;
    let line = 1;
    for (const field of fields) {
      if (lines(field)) found.set(field.id, `l${phase}-${line}`);
      line += lines(field);
    }
  }
  return found;
}

function take(page) {
  const next = page.getElementById("answer");
  if (!next) return false;
  const open = [...document.querySelectorAll("#answer details")].map((one) => one.open);
  document.getElementById("answer").replaceWith(next);
  next.querySelectorAll("details").forEach((one, i) => { one.open = open[i] ?? one.open; });
  const at = places();
  for (const pan of form.querySelectorAll("[data-of]")) pan.innerHTML = page.querySelector(`[data-of="${at.get(pan.dataset.of)}"]`)?.innerHTML ?? "";
  for (const cures of form.querySelectorAll("[data-cures]")) {
    cures.innerHTML = page.querySelector(`[data-cures="${at.get(cures.dataset.cures)}"]`)?.innerHTML ?? "";
    const field = document.getElementById(cures.dataset.cures);
    const cure = cures.querySelector(".cure");
    if (cure) {
      cure.id = `${field.id}c`;
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", cure.id);
    } else {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
  }
  return true;
}

async function work() {
  running?.abort();
  running = new AbortController();
  try {
    const page = await ask("work", { signal: running.signal });
    // What is being saved brings the figures of what was typed last.
    if (!saving) take(page);
  } catch {
    // Without a network the figures stay; what is said of the saving tells why.
  }
}

/** Saves what stands in the fields, one save after the other. */
async function save(options = {}) {
  clearTimeout(later);
  if (!form.elements.version.value || paused || saving || !dirty() || typed() === refused) return saving;
  const before = typed();
  kept.textContent = say.saving;
  running?.abort();
  saving = (async () => {
    try {
      const page = await ask("save", options);
      const trouble = page.getElementById("trouble");
      if (!trouble) {
        kept.textContent = say.signedOut;
        paused = true;
        return;
      }
      take(page);
      document.getElementById("trouble").replaceWith(trouble);
      kept.textContent = page.getElementById("kept").textContent;
      form.elements.version.value = page.querySelector("[name=version]").value;
      // What somebody else wrote is replaced by an act alone.
      if (trouble.querySelector("#stale")) paused = true;
      else if (page.querySelector("[role=alert], .cure")) refused = before;
      else last = before;
    } catch {
      kept.textContent = say.offline;
      later = setTimeout(() => save(), TRY_AGAIN_AFTER);
      refused = undefined;
    }
  })();
  await saving;
  saving = undefined;
  if (typed() !== before && !paused) soon();
}
function soon() {
  clearTimeout(later);
  if (form.elements.version.value && !paused) later = setTimeout(() => save(), SAVE_AFTER);
}

form.addEventListener("input", () => {
  if (form.elements.version.value && !paused && !saving) kept.textContent = say.unsaved;
  clearTimeout(waiting);
  waiting = setTimeout(work, 400);
  soon();
});
addEventListener("online", () => save());
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden") save({ keepalive: true }); });

// The author's own act goes after a save that is on its way, with the version that the save made.
let leaving = false;
document.addEventListener("submit", async (event) => {
  if (event.target !== form) return;
  if (saving) {
    event.preventDefault();
    event.stopImmediatePropagation();
    const key = event.submitter;
    await saving;
    return form.requestSubmit(key);
  }
  clearTimeout(later);
  leaving = true;
}, true);
addEventListener("beforeunload", (event) => { if (!leaving && dirty()) event.preventDefault(); });

// What may be meant is written by an act.
form.addEventListener("click", (event) => {
  const key = event.target.closest("[data-write]");
  if (!key) return;
  const field = document.getElementById(key.closest("[data-cures]").dataset.cures);
  field.value = key.dataset.write;
  field.focus();
  field.dispatchEvent(new Event("input", { bubbles: true }));
});

// Enter goes to the next line; Alt with an arrow moves the line. Without script a field takes several lines.
form.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.target.tagName !== "TEXTAREA" || !event.target.closest(".writing")) return;
  const all = [...form.querySelectorAll(".writing textarea")];
  const at = all.indexOf(event.target);
  if (event.key === "Enter" && !event.shiftKey) {
    event.preventDefault();
    all[at + 1]?.focus();
  }
  if (event.altKey && ["ArrowUp", "ArrowDown"].includes(event.key)) {
    event.preventDefault();
    const other = all[at + (event.key === "ArrowUp" ? -1 : 1)];
    if (!other || other.closest("ol") !== event.target.closest("ol")) return;
    [other.value, event.target.value] = [event.target.value, other.value];
    other.focus();
    form.dispatchEvent(new Event("input"));
  }
});

for (const field of form.querySelectorAll("[name=line]")) complete(field, { title: say.namesTitle, found: say.names, said: document.getElementById("names-said") });
