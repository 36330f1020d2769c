// Names completed in a line of the workshop, from the materials and the titles of formulas; titles alone where work is set. The list is read from the pages
// on which they are found. Arrow keys move in it, Enter or a tap takes a name, Escape leaves it and Tab goes on.
const MOST = 8;
const UNIT = /^(q\.?\s?s\.?|ph|[mµk]?g|mcg|m?l|%|w\/w|v\/v|w\/v|v\/w|oz|fl|lb|cups?|drops?|teaspoons?|tablespoons?|tsp|tbsp|parts?|of|to|at|in|per|about)$/i;

/** Where the name begins in a line, and what is typed of it: behind the amount, before the function. */
export function nameIn(line) {
  if (line.includes(", ")) return undefined;
  const words = [...line.matchAll(/\S+/g)];
  const first = words.find(([word]) => !/\d/.test(word) && !UNIT.test(word));
  if (!first || first === words[0] && line.startsWith(" ")) return undefined;
  const name = line.slice(first.index);
  return name.trim().length >= 2 ? { at: first.index, name } : undefined;
}

const read = async (address, signal) => {
  const answer = await fetch(address, { signal, headers: { accept: "text/html" } });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  return [...page.querySelectorAll("main ul a.name")].map((link) => link.textContent.trim());
};

/** Titles that contain what was typed, then materials: the service finds these by any of their names. */
async function find(text, signal) {
  const q = encodeURIComponent(text);
  const [titles, materials] = await Promise.all([read(`/formulas?q=${q}`, signal), read(`/materials?q=${q}`, signal)]);
  const has = (name) => name.toLowerCase().includes(text.toLowerCase());
  const begins = (name) => (name.toLowerCase().startsWith(text.toLowerCase()) ? 0 : 1);
  const all = [...materials, ...titles.filter(has)];
  return [...new Set(all)].sort((one, other) => begins(one) - begins(other)).slice(0, MOST);
}

/** Titles of formulas that contain what was typed. */
export async function titles(text, signal) {
  const found = await read(`/formulas?q=${encodeURIComponent(text)}`, signal);
  return [...new Set(found.filter((name) => name.toLowerCase().includes(text.toLowerCase())))].slice(0, MOST);
}

/**
 * Completes the names in a field. `how` has the list's title, the words for how many were found, and where they are said;
 * and, where they are others than in the workshop, how names are found and where they stand in a line.
 */
export function complete(field, how) {
  let list, at = -1, waiting, running;
  const { find: seek = find, nameIn: place = nameIn } = how;
  field.setAttribute("aria-autocomplete", "list");

  const shut = () => {
    clearTimeout(waiting);
    running?.abort();
    list?.remove();
    list = undefined;
    at = -1;
    field.removeAttribute("aria-controls");
    field.removeAttribute("aria-activedescendant");
  };
  const mark = (next) => {
    const options = [...list.children];
    at = (next + options.length) % options.length;
    options.forEach((option, i) => option.setAttribute("aria-selected", String(i === at)));
    field.setAttribute("aria-activedescendant", options[at].id);
    options[at].scrollIntoView({ block: "nearest" });
  };
  const line = () => {
    const before = field.value.slice(0, field.selectionStart);
    const from = before.lastIndexOf("\n") + 1;
    const end = field.value.indexOf("\n", field.selectionStart);
    return { from, to: end < 0 ? field.value.length : end };
  };
  const take = (name) => {
    const { from, to } = line();
    const found = place(field.value.slice(from, to));
    if (found) field.setRangeText(name, from + found.at, to, "end");
    shut();
    field.focus();
    field.dispatchEvent(new Event("input", { bubbles: true }));
    shut();
  };
  const show = (names) => {
    shut();
    if (!names.length) return;
    list = Object.assign(document.createElement("ul"), { className: "names", id: `${field.id}-names` });
    list.setAttribute("role", "listbox");
    list.setAttribute("aria-label", how.title);
    names.forEach((name, i) => {
      const option = Object.assign(document.createElement("li"), { id: `${list.id}-${i}`, textContent: name });
      option.setAttribute("role", "option");
      option.setAttribute("aria-selected", "false");
      // The field keeps the focus, so that leaving it still closes the list.
      option.addEventListener("pointerdown", (event) => event.preventDefault());
      option.addEventListener("click", () => take(name));
      list.append(option);
    });
    field.after(list);
    field.setAttribute("aria-controls", list.id);
    how.said.textContent = how.found.replace("{0}", String(names.length));
  };

  const look = () => {
    clearTimeout(waiting);
    running?.abort();
    const { from, to } = line();
    const found = place(field.value.slice(from, to));
    if (!found) return shut();
    running = new AbortController();
    const { signal } = running;
    waiting = setTimeout(async () => {
      try {
        const names = await seek(found.name.trim(), signal);
        if (signal.aborted || document.activeElement !== field) return;
        // What is written in full needs no list.
        show(names.includes(found.name.trim()) ? [] : names);
      } catch {
        // Without a network the name is typed in full.
      }
    }, 200);
  };
  field.addEventListener("input", look);
  // Somebody may have typed before this script was there.
  if (document.activeElement === field) look();
  field.addEventListener("keydown", (event) => {
    if (!list || event.altKey || event.ctrlKey || event.metaKey) return;
    const act = {
      ArrowDown: () => mark(at + 1),
      ArrowUp: () => mark(at < 0 ? -1 : at - 1),
      Enter: () => (at >= 0 ? take(list.children[at].textContent) : undefined),
      Escape: shut,
    }[event.key];
    if (!act || (event.key === "Enter" && at < 0)) return event.key === "Tab" || event.key === "Enter" ? shut() : undefined;
    event.preventDefault();
    act();
  });
  field.addEventListener("blur", shut);
}
