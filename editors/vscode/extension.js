// @ts-check
// The client: starts `stagewright serve` and leaves everything else to the server.
const vscode = require('vscode');
const { LanguageClient, TransportKind } = require('vscode-languageclient/node');

/** @type {LanguageClient | undefined} */
let client;

/** Tells that the text of a page may be another one. */
const changed = new vscode.EventEmitter();
/** The pages that were shown. @type {Map<string, vscode.Uri>} */
const shown = new Map();

/**
 * Runs a command of the server's, and shows the page that it leads to beside the design.
 * @param {string} command @param {unknown[]} args @param {(command: string, args: unknown[]) => any} next
 */
async function showPage(command, args, next) {
  const page = await next(command, args);
  if (typeof page?.uri === 'string') {
    const uri = vscode.Uri.parse(page.uri);
    shown.set(page.uri, uri);
    changed.fire(uri);
    await vscode.commands.executeCommand('markdown.showPreviewToSide', uri);
  }
  return page;
}

/** Starts the server that the settings name. A server that cannot be started is told once, with a way to the setting. */
async function start() {
  const command = vscode.workspace.getConfiguration('stagewright').get('server.path', 'stagewright');
  client = new LanguageClient(
    'stagewright',
    'Stagewright',
    { command, args: ['serve'], transport: TransportKind.stdio },
    {
      documentSelector: [{ language: 'stage' }],
      initializationOptions: { pages: true },
      middleware: { executeCommand: showPage },
    },
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
  // The embedded library and the pages of workings stand on no disk: the server gives their text.
  const library = {
    onDidChange: changed.event,
    /** @param {vscode.Uri} uri */
    provideTextDocumentContent: async (uri) =>
      (await client?.sendRequest('workspace/textDocumentContent', { uri: uri.toString() }))?.text,
  };
  context.subscriptions.push(
    vscode.workspace.registerTextDocumentContentProvider('stagewright', library),
    vscode.commands.registerCommand('stagewright.restart', restart),
    changed,
    vscode.workspace.onDidSaveTextDocument((document) => {
      if (document.languageId === 'stage') {
        shown.forEach((uri) => changed.fire(uri));
      }
    }),
    vscode.workspace.onDidCloseTextDocument((document) => {
      shown.delete(document.uri.toString());
    }),
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
