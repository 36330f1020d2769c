// The answer follows the typing, in its own place, and the question stands in the address.
const ask = document.getElementById("ask");
let waiting, running;
ask.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(async () => {
    running?.abort();
    running = new AbortController();
    const address = `${ask.getAttribute("action")}?${new URLSearchParams(new FormData(ask))}`;
    try {
      const response = await fetch(address, { signal: running.signal });
      const page = new DOMParser().parseFromString(await response.text(), "text/html");
      for (const cure of ask.querySelectorAll(".cure")) cure.remove();
      for (const cure of page.querySelectorAll("#ask .cure")) ask.querySelector(".fill").after(cure);
      // What was not accepted leaves the last answer where it is.
      if (!response.ok) return;
      document.getElementById("answer").replaceChildren(...page.getElementById("answer").childNodes);
      history.replaceState(null, "", address);
    } catch (error) {
      if (error.name !== "AbortError") return;
    }
  }, 300);
});
