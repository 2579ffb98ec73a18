// @ts-check
// The client: starts `stagewright serve` and leaves everything else to the server.
const vscode = require('vscode');
const { LanguageClient, TransportKind } = require('vscode-languageclient/node');

/** @type {LanguageClient | undefined} */
let client;

/** Starts the server that the settings name. A server that cannot be started is told once, with a way to the setting. */
async function start() {
  const command = vscode.workspace.getConfiguration('stagewright').get('server.path', 'stagewright');
  client = new LanguageClient(
    'stagewright',
    'Stagewright',
    { command, args: ['serve'], transport: TransportKind.stdio },
    { documentSelector: [{ language: 'stage' }] },
  );
  try {
    await client.start();
  } catch (reason) {
    client = undefined;
    const open = 'Open the setting';
    const chosen = await vscode.window.showErrorMessage(
      `Stagewright could not be started as ${command}: ${reason instanceof Error ? reason.message : reason}. ` +
        'Install the program, or say in the settings where it is.',
      open,
    );
    if (chosen === open) {
      await vscode.commands.executeCommand('workbench.action.openSettings', 'stagewright.server.path');
    }
  }
}

/** Stops the server if one runs. */
async function stop() {
  const running = client;
  client = undefined;
  await running?.stop();
}

/** @param {vscode.ExtensionContext} context */
exports.activate = async (context) => {
  const restart = async () => {
    await stop();
    await start();
  };
  // The embedded library stands on no disk: the server gives its text.
  const library = {
    /** @param {vscode.Uri} uri */
    provideTextDocumentContent: async (uri) =>
      (await client?.sendRequest('workspace/textDocumentContent', { uri: uri.toString() }))?.text,
  };
  context.subscriptions.push(
    vscode.workspace.registerTextDocumentContentProvider('stagewright', library),
    vscode.commands.registerCommand('stagewright.restart', restart),
    vscode.workspace.onDidChangeConfiguration((change) => {
      if (change.affectsConfiguration('stagewright.server.path')) {
        return restart();
      }
    }),
  );
  // A server that cannot be started must not keep the highlighting and the restart command away.
  void start();
};

exports.deactivate = stop;
