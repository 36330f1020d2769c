// A reflection is saved two seconds after its author stops typing, by the form's own address, one save after the other.
const form = document.getElementById("hand-in");
const AFTER = 2000;
let later, saving;

async function save(options = {}) {
  clearTimeout(later);
  if (saving) return void (later = setTimeout(save, AFTER));
  const text = form.elements.reflection.value;
  const fields = new URLSearchParams({ version: form.elements.version.value, reflection: text, do: "save" });
  saving = fetch(form.getAttribute("action"), { method: "POST", headers: { "content-type": "application/x-www-form-urlencoded" }, body: fields.toString(), ...options });
  try {
    const answer = await saving;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("hand-in");
    // Another window has saved since: this one saves no more, and what stands here stays.
    if (!page || !answer.ok) return void (form.querySelector("[data-kept-at]").textContent = form.dataset.unsaved);
    form.elements.version.value = page.elements.version.value;
    form.querySelector("[data-kept-at]").textContent = page.querySelector("[data-kept-at]").textContent;
    if (form.elements.reflection.value !== text) later = setTimeout(save, AFTER);
  } catch {
    form.querySelector("[data-kept-at]").textContent = form.dataset.offline;
    later = setTimeout(save, 5 * AFTER);
  } finally {
    saving = undefined;
  }
}

if (form) {
  form.elements.reflection.addEventListener("input", () => {
    clearTimeout(later);
    later = setTimeout(save, AFTER);
  });
  // The student's own act takes what stands in the field, and needs no save before it.
  form.addEventListener("submit", () => clearTimeout(later));
}
