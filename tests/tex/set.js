// Sets pieces of TeX mathematics, as JSON on standard input: [{where, math, display}]. Prints those that cannot be set, as JSON.
//
// Whatever the typesetter only warns of is an error here.
const { readFileSync } = require("node:fs");
const katex = require(require.resolve("katex", { paths: [process.argv[2]] }));

const failed = [];
for (const { where, math, display } of JSON.parse(readFileSync(0, "utf8"))) {
  try {
    katex.renderToString(math, { displayMode: display, throwOnError: true, strict: "error", output: "mathml" });
  } catch (reason) {
    failed.push({ where, math, reason: reason.message });
  }
}
console.log(JSON.stringify(failed));
