// A search whose results follow the typing, in their own place. The list is the page itself, and the question stands in the
// address.
for (const ask of document.querySelectorAll("form[data-follow]")) {
  let waiting, running;
  ask.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(async () => {
      running?.abort();
      running = new AbortController();
      const address = `${ask.getAttribute("action")}?${new URLSearchParams(new FormData(ask))}`;
      try {
        const response = await fetch(address, { signal: running.signal, headers: { accept: "text/html" } });
        const page = new DOMParser().parseFromString(await response.text(), "text/html");
        const next = page.getElementById("answer");
        if (!response.ok || !next) return;
        document.getElementById("answer").replaceChildren(...next.childNodes);
        history.replaceState(null, "", address);
      } catch {
        // Without a network the list stays; the button asks again.
      }
    }, 300);
  });
}
