// Whether Ajv (draft 2020-12, formats asserted) takes documents for valid. Arguments: the schema, and a file with one
// document a line. Prints one true or false a line.
import { readFileSync } from "node:fs";
import Ajv from "ajv/dist/2020.js";
import formats from "ajv-formats";

const ajv = new Ajv({ strict: true, allowUnionTypes: true, allErrors: false });
formats(ajv);
const valid = ajv.compile(JSON.parse(readFileSync(process.argv[2], "utf8")));
for (const line of readFileSync(process.argv[3], "utf8").split("\n").filter(Boolean)) {
  console.log(JSON.stringify(valid(JSON.parse(line))));
}
