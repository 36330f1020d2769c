// Titles of formulas completed where an assignment names them.
import { complete, titles } from "./names.js";

const form = document.getElementById("set-work");
const said = document.getElementById("names-said");
const how = { title: form.dataset.namesTitle, found: form.dataset.names, said, find: titles, nameIn: (line) => (line.trim().length >= 2 ? { at: 0, name: line } : undefined) };
for (const field of form.querySelectorAll("[name=formula]")) complete(field, how);
