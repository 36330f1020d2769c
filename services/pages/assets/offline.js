// The bench opened again without a network: only what waits on this phone, without asked weights or names.
import { kept, keys } from "./unsent.js";

const say = document.body.dataset;
const list = document.getElementById("kept-list");
document.getElementById("again").href = location.pathname + location.search;
const mine = [];
for (const { person } of await keys()) mine.push(...(await kept(person)).mine);
list.replaceChildren(...mine.map((entry) => {
  const field = (name) => entry.fields.find(([one]) => one === name)?.[1] ?? "";
  const row = document.createElement("li");
  row.className = "row";
  row.innerHTML = '<p class="l"></p><div class="on"><svg class="beam" viewBox="-18 -10 36 20" aria-hidden="true" focusable="false"><circle class="ring" r="6.500"/></svg><b></b> <span></span></div>';
  row.querySelector(".l").textContent = new Date(entry.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  row.querySelector("b").textContent = field("quantity") || field("note");
  const place = field("line") ? `${say.line} ${field("line")}` : field("step") ? `${say.step} ${field("step")}` : field("kind");
  row.querySelector("span").textContent = `${place}${field("lot") ? `, ${field("lot")}` : ""}. ${say.notSent}`;
  return row;
}));
if (!mine.length) list.textContent = say.nothing;
addEventListener("online", () => location.reload());
