// xAPI statements through the package xapi-validation (rules of 1.0.3). Prints the number of statements; fails with the
// first fault, and where a broken statement is taken for sound.
import { readFileSync } from "node:fs";
import validation from "xapi-validation";

const faults = (statement) => validation.default(statement);
const statements = JSON.parse(readFileSync(process.argv[2], "utf8"));
for (const statement of statements) {
  const found = faults(statement);
  if (found.length > 0) throw new Error(`${JSON.stringify(statement)}: ${found.map(String).join("; ")}`);
}
const [good] = statements;
const broken = [
  { ...good, actor: { objectType: "Agent", mbox: "mailto:a@example.org", ...good.actor } },
  { ...good, verb: { id: "passed" } },
  { ...good, timestamp: "yesterday" },
  { ...good, result: { ...good.result, duration: "4 minutes" } },
  { ...good, result: { ...good.result, extensions: { fails: [] } } },
  { ...good, id: "7" },
];
for (const one of broken) {
  if (faults(one).length === 0) throw new Error(`taken for sound: ${JSON.stringify(one)}`);
}
console.log(statements.length);
