// Every page that the router serves was reached by some test.
import { readFileSync } from "node:fs";
import path from "node:path";

const read = (name) => readFileSync(path.join(process.env.PAGES_WORK, name), "utf8").split("\n").filter(Boolean);
const seen = new Set(read("seen"));
const missing = read("pages").filter((line) => {
  const [method, pattern] = line.split(" ");
  const address = new RegExp(`^${method} ${pattern.replace(/\{[^}]+\}/g, "[^/]+")}$`);
  return ![...seen].some((one) => address.test(one));
});
if (missing.length > 0) {
  console.error(`No test reaches these pages:\n  ${missing.join("\n  ")}`);
  process.exit(1);
}
console.log(`Every page is reached by a test: ${read("pages").length}.`);
