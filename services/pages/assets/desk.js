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

for (const entry of entries) {
  entry.addEventListener("keydown", (event) => {
    if (off() || event.target !== entry || event.ctrlKey || event.metaKey || event.altKey) return;
    const open = entries.filter((one) => one.checkVisibility());
    const at = open.indexOf(entry);
    const act = {
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

// Comments are kept as they are typed, for this window: a lost connection or a reload loses none.
const review = document.querySelector("[data-review]");
if (review) {
  const place = (field) => `${review.dataset.review}.${field.name}`;
  for (const field of review.querySelectorAll("[data-kept]")) {
    const kept = sessionStorage.getItem(place(field));
    if (kept && !field.value) {
      field.value = kept;
      field.closest("details")?.setAttribute("open", "");
    }
    field.addEventListener("input", () => sessionStorage.setItem(place(field), field.value));
  }
  review.addEventListener("submit", () => {
    for (const field of review.querySelectorAll("[data-kept]")) sessionStorage.removeItem(place(field));
  });
}
