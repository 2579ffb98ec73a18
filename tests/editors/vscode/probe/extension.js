// Watches the open design and writes what the editor has for it into the file that STAGE_PROBE names, whenever that changes.
const vscode = require('vscode');
const fs = require('node:fs');

const path = process.env.STAGE_PROBE;
let last = '';
let timer;

async function look() {
  const document = vscode.workspace.textDocuments.find((one) => one.languageId === 'stage');
  if (document) {
    const all = new vscode.Range(0, 0, document.lineCount, 0);
    const hints = await vscode.commands.executeCommand('vscode.executeInlayHintProvider', document.uri, all);
    const said = JSON.stringify({
      editor: vscode.version,
      text: document.getText(),
      line: vscode.window.activeTextEditor?.selection.active.line,
      hints: hints.map((hint) => [
        hint.position.line + 1,
        typeof hint.label === 'string' ? hint.label : hint.label.map((part) => part.value).join(''),
      ]),
      problems: vscode.languages
        .getDiagnostics(document.uri)
        .map((problem) => [problem.range.start.line + 1, problem.message])
        .sort((one, other) => one[0] - other[0] || (one[1] < other[1] ? -1 : 1)),
    });
    if (said !== last) {
      last = said;
      // Written beside and moved, so that a reader never meets half a file.
      fs.writeFileSync(path + '.new', said);
      fs.renameSync(path + '.new', path);
    }
  }
  timer = setTimeout(() => void look(), 100);
}

exports.activate = () => {
  if (path) {
    void look();
  }
};
exports.deactivate = () => clearTimeout(timer);
