// Reads files with the TextMate grammar and prints, as JSON, one list a file of one list a line of [column, scope] for each character
// that is not blank: the innermost scope that it has.
// usage: node textmate.mjs PACKAGES GRAMMAR FILE...
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';

const [packages, grammarPath, ...files] = process.argv.slice(2);
const load = createRequire(packages + '/');
const oniguruma = load('vscode-oniguruma');
const textmate = load('vscode-textmate');

await oniguruma.loadWASM(readFileSync(load.resolve('vscode-oniguruma/release/onig.wasm')).buffer);
const registry = new textmate.Registry({
  onigLib: Promise.resolve({
    createOnigScanner: (patterns) => new oniguruma.OnigScanner(patterns),
    createOnigString: (text) => new oniguruma.OnigString(text),
  }),
  loadGrammar: async () => textmate.parseRawGrammar(readFileSync(grammarPath, 'utf8'), grammarPath),
});
const grammar = await registry.loadGrammar('source.stage');

const answer = files.map((file) => {
  let state = textmate.INITIAL;
  return readFileSync(file, 'utf8').split(/\r?\n/).map((line) => {
    const read = grammar.tokenizeLine(line, state);
    state = read.ruleStack;
    return read.tokens.flatMap((token) => [...line.slice(token.startIndex, token.endIndex)].map((character) => [character, token.scopes.at(-1)]));
  });
});
process.stdout.write(JSON.stringify(answer));
