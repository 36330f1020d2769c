// The workshop: what comes out follows the typing. The answer is the page itself, of which only the figures are taken.
const form = document.getElementById("workshop");
let waiting, running;

async function work() {
  running?.abort();
  running = new AbortController();
  const fields = new URLSearchParams(new FormData(form));
  fields.set("do", "work");
  try {
    const answer = await fetch(form.getAttribute("action"), { method: "POST", signal: running.signal, headers: { "content-type": "application/x-www-form-urlencoded" }, body: fields.toString() });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.getElementById("answer");
    if (!next) return;
    document.getElementById("answer").replaceWith(next);
    for (const pan of form.querySelectorAll("[data-of]")) pan.innerHTML = page.querySelector(`[data-of="${pan.dataset.of}"]`)?.innerHTML ?? "";
    for (const cures of form.querySelectorAll("[data-cures]")) {
      cures.innerHTML = page.querySelector(`[data-cures="${cures.dataset.cures}"]`)?.innerHTML ?? "";
      const field = document.getElementById(cures.dataset.cures);
      if (cures.firstElementChild) field.setAttribute("aria-invalid", "true");
      else field.removeAttribute("aria-invalid");
    }
  } catch (error) {
    if (error.name !== "AbortError") return;
  }
}
form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(work, 400);
});

// Enter goes to the next line; Alt with an arrow moves the line. Without script a field takes several lines.
form.addEventListener("keydown", (event) => {
  if (event.target.tagName !== "TEXTAREA" || !event.target.closest(".writing")) return;
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
