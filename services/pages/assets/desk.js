// The review desk by keyboard. Single keys act only while an entry of the record has the focus, and can be turned off.
const entries = [...document.querySelectorAll(".entry[tabindex]")];
const by = (id) => document.getElementById(id);
const go = (to) => to && (to.focus(), to.scrollIntoView({ block: "nearest" }));
const off = () => localStorage.getItem("keys") === "off";
const turn = document.querySelector("[data-keys]");
const said = () => { if (turn) turn.textContent = off() ? turn.dataset.on : turn.dataset.off; };
turn?.addEventListener("click", () => {
  localStorage.setItem("keys", off() ? "on" : "off");
  said();
});
said();

// On a criterion the digits choose: its levels from 1 on, the fewest points first; y and n of what is met or not.
const levels = (entry) => {
  if (!("criterion" in entry.dataset)) return {};
  const radios = [...entry.querySelectorAll("input[type=radio]")];
  const choose = (radio) => () => {
    radio.checked = true;
    radio.dispatchEvent(new Event("input", { bubbles: true }));
    go(entries.filter((one) => one.checkVisibility())[entries.filter((one) => one.checkVisibility()).indexOf(entry) + 1]);
  };
  return Object.fromEntries(radios.map((radio, at) => [radio.value === "yes" ? "y" : radio.value === "no" ? "n" : `${at + 1}`, choose(radio)]));
};

for (const entry of entries) {
  entry.addEventListener("keydown", (event) => {
    if (off() || event.target !== entry || event.ctrlKey || event.metaKey || event.altKey) return;
    const open = entries.filter((one) => one.checkVisibility());
    const at = open.indexOf(entry);
    const act = {
      ...levels(entry),
      ArrowDown: () => go(open[at + 1]),
      ArrowUp: () => go(open[at - 1]),
      c: () => {
        const note = entry.querySelector("details.why");
        note.open = true;
        note.querySelector("textarea").focus();
      },
      u: () => {
        const fold = document.querySelector(".fold");
        fold.open = !fold.open;
      },
      a: () => by("accept")?.focus(),
      r: () => by("return")?.focus(),
      x: () => by("reject")?.focus(),
    }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
}
// Escape leaves a comment and goes back to its entry; what was typed stays.
addEventListener("keydown", (event) => event.key === "Escape" && go(event.target.closest?.("details")?.closest(".entry")));

// A phrase is written into its comment at once, after what was typed.
for (const choice of document.querySelectorAll("[data-phrase]")) {
  choice.addEventListener("change", () => {
    const note = document.querySelector(`textarea[name="${choice.dataset.phrase}"]`);
    const phrase = choice.selectedOptions[0].textContent;
    if (!choice.value || !note) return;
    note.value = [note.value.trimEnd(), phrase].filter(Boolean).join(" ");
    choice.value = "";
    note.dispatchEvent(new Event("input", { bubbles: true }));
    note.focus();
  });
}

// Comments are kept as they are typed, for this window: a lost connection or a reload loses none.
const review = document.querySelector("[data-review]");
if (review) {
  const place = (field) => `${review.dataset.review}.${field.name}`;
  const kept = [...review.querySelectorAll("[data-kept]")];
  for (const field of kept) {
    const kept = sessionStorage.getItem(place(field));
    if (field.type === "radio") {
      if (kept === field.value && !review.querySelector(`[name="${field.name}"]:checked`)) field.checked = true;
    } else if (kept && !field.value) {
      field.value = kept;
      field.closest("details")?.setAttribute("open", "");
    }
    field.addEventListener("input", () => sessionStorage.setItem(place(field), field.value));
  }
  review.addEventListener("submit", (event) => {
    if (event.submitter?.name !== "verdict") return;
    for (const field of kept) sessionStorage.removeItem(place(field));
  });
}
