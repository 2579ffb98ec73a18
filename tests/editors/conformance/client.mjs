// The walk by the client library that VS Code itself uses.
// usage: node client.mjs WALK.json MODULES SERVER [ARGUMENT...]   with the folder of packages that holds vscode-languageserver-protocol
// WALK.json has beside the walk {capabilities of the client, promised: [methods] by what the server announced is read from stdin}
import { spawn } from 'node:child_process';
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';

const [path, modules, command, ...words] = process.argv.slice(2);
const walk = JSON.parse(readFileSync(path, 'utf8'));
const lsp = createRequire(modules + '/')('vscode-languageserver-protocol/node');
const server = spawn(command, words, { stdio: ['pipe', 'pipe', 'inherit'] });
const connection = lsp.createProtocolConnection(server.stdout, server.stdin);
const registered = [];
const told = new Map();
connection.onError(([error]) => fail(`the library met ${error}`));
connection.onUnhandledNotification((message) => fail(`the library knows no ${message.method}`));
connection.onRequest(lsp.RegistrationRequest.type, ({ registrations }) => void registered.push(...registrations));
for (const { type } of [lsp.InlayHintRefreshRequest, lsp.DiagnosticRefreshRequest, lsp.CodeLensRefreshRequest, lsp.WorkDoneProgressCreateRequest]) {
  connection.onRequest(type, () => null);
}
connection.onRequest(lsp.ConfigurationRequest.type, ({ items }) => items.map(() => null));
connection.onNotification(lsp.LogMessageNotification.type, () => {});
// The page of a command, for a client that shows no documents.
connection.onNotification(lsp.ShowMessageNotification.type, () => {});
connection.onNotification(lsp.PublishDiagnosticsNotification.type, ({ uri, diagnostics }) => told.set(uri, diagnostics));
connection.listen();

function fail(reason) {
  console.error(reason);
  process.exit(1);
}
const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);
const order = (one, other) => one[0] - other[0] || (one[1] < other[1] ? -1 : 1);

const begun = await connection.sendRequest(lsp.InitializeRequest.type, {
  processId: process.pid,
  rootUri: walk.folder,
  workspaceFolders: [{ uri: walk.folder, name: 'workspace' }],
  capabilities: walk.capabilities,
});
await connection.sendNotification(lsp.InitializedNotification.type, {});
for (const [uri, text] of Object.entries(walk.documents)) {
  await connection.sendNotification(lsp.DidOpenTextDocumentNotification.type, { textDocument: { uri, languageId: 'stage', version: 1, text } });
}

// Which requests are promised is worked out where the table is: what was announced goes out, and the list comes back.
console.log(JSON.stringify(begun.capabilities));
const owed = JSON.parse(await new Promise((done) => process.stdin.once('data', (data) => done(String(data)))));
const answers = {};
for (const stop of walk.stops.filter(({ method }) => owed.includes(method))) {
  let { method, params } = stop;
  if (method === 'workspace/executeCommand') {
    for (const name of begun.capabilities.executeCommandProvider.commands) {
      await connection.sendRequest(method, { command: name, arguments: walk.arguments });
    }
    answers[method] = true;
    continue;
  }
  if (stop.after) {
    const taken = answers[stop.after];
    const items = taken?.items ?? taken;
    params = stop.takes ? { ...params, ...Object.fromEntries(Object.entries(stop.takes).map(([name, of]) => [name, taken[of]])) } : items?.[0];
  }
  answers[method] = await connection.sendRequest(method, params);
  const empty = answers[method] === null || (Array.isArray(answers[method]) && answers[method].length === 0);
  if (stop.filled && empty) {
    fail(`${method} was answered ${JSON.stringify(answers[method])}`);
  }
}
const missed = owed.filter((method) => !(method in answers));
if (missed.length) {
  fail(`announced, and nobody walks there: ${missed}`);
}
const hints = answers['textDocument/inlayHint'].map(({ position, label }) => [
  position.line + 1,
  typeof label === 'string' ? label : label.map(({ value }) => value).join(''),
]);
if (!same(hints.sort(order), walk.hints)) {
  fail(`the hints are ${JSON.stringify(hints)}`);
}
const end = Date.now() + 10000;
// Who can ask for problems is told nothing unasked.
const asks = begun.capabilities.diagnosticProvider;
async function problems() {
  const found = asks
    ? (await connection.sendRequest(lsp.DocumentDiagnosticRequest.type, { textDocument: { uri: walk.slip } })).items
    : (told.get(walk.slip) ?? []);
  return found.map(({ range, message }) => [range.start.line + 1, message]).sort(order);
}
while (!same(await problems(), walk.problems) && Date.now() < end) {
  await new Promise((done) => setTimeout(done, 50));
}
if (!same(await problems(), walk.problems)) {
  fail(`the problems are ${JSON.stringify(await problems())}`);
}
// What the server asks to be told of is told.
for (const { method } of registered) {
  const sent = {
    'workspace/didChangeWatchedFiles': { changes: [{ uri: walk.slip, type: 2 }] },
    'workspace/didChangeConfiguration': { settings: null },
  }[method];
  if (!sent) {
    fail(`the server registers ${method}, which nobody here sends`);
  }
  await connection.sendNotification(method, sent);
}
await connection.sendRequest(lsp.ShutdownRequest.type);
await connection.sendNotification(lsp.ExitNotification.type);
const code = await new Promise((done) => server.once('exit', done));
if (code !== 0) {
  fail(`the server ended with ${code}`);
}
console.log(`${Object.keys(answers).length} requests answered, ${registered.length} registrations`);
process.exit(0);
