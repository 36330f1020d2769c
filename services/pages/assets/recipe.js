// The recipe follows what is typed, in the place where it stands. What is fetched is the page itself, which passes the
// gate like any page, and is kept nowhere.
const ask = document.getElementById("ask");
const announced = () => document.getElementById("announced");
let waiting, running;

// The style shows the wells of the way that is chosen, from the first paint on.
const shown = () => { ask.querySelector("[data-way]").dataset.way = ask.elements.way.value; };

async function work() {
  running?.abort();
  running = new AbortController();
  const answer = document.getElementById("answer");
  const address = `${ask.getAttribute("action")}?${new URLSearchParams(new FormData(ask))}`;
  try {
    const response = await fetch(address, { signal: running.signal, headers: { accept: "text/html" } });
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const next = page.getElementById("answer");
    if (!next) return location.assign(address);
    for (const cure of ask.querySelectorAll(".cure")) cure.remove();
    for (const cure of page.querySelectorAll("#ask .cure")) ask.querySelector(".fill").after(cure);
    const words = page.querySelector("#ask summary span");
    if (words) ask.querySelector("summary span").textContent = words.textContent;
    // What was not accepted leaves the last good recipe where it is.
    if (response.status === 422) return;
    const open = [...answer.querySelectorAll("details")].map((one) => one.open);
    answer.replaceWith(next);
    next.querySelectorAll("details").forEach((one, i) => { one.open = open[i] ?? one.open; });
    history.replaceState(null, "", address);
    announced().textContent = next.querySelector(".total").textContent.replace(/\s+/g, " ").trim().split(/why|Why/)[0];
  } catch (error) {
    if (error.name !== "AbortError") return;
  }
}

ask.addEventListener("input", () => {
  shown();
  clearTimeout(waiting);
  waiting = setTimeout(work, 300);
});
document.addEventListener("click", (event) => { if (event.target.closest("[data-print]")) print(); });
shown();
