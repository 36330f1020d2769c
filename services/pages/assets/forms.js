// Every form: a second act while the first is being sent does nothing. Without script the key in the form does the same.
for (const form of document.querySelectorAll("form[method=post]")) {
  form.addEventListener("submit", (event) => {
    if (event.defaultPrevented) return;
    if (form.dataset.sent) return event.preventDefault();
    form.dataset.sent = "yes";
    const key = event.submitter;
    if (key) {
      key.dataset.words = key.textContent;
      key.textContent = document.documentElement.dataset.writing;
    }
  });
}

// Coming back to a page shows it as it was, and it may be sent again.
addEventListener("pageshow", (event) => {
  if (!event.persisted) return;
  for (const form of document.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    for (const key of form.querySelectorAll("[data-words]")) key.textContent = key.dataset.words;
  }
});

// A list of faults is read first.
document.getElementById("faults")?.focus();
