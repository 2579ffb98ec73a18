// Puts together what the packed extension holds: the client with its library in one file, and the shared grammar.
import { build } from 'esbuild';
import { copyFile, mkdir } from 'node:fs/promises';

await mkdir('dist', { recursive: true });
await copyFile('../shared/stage.tmLanguage.json', 'dist/stage.tmLanguage.json');
await build({
  entryPoints: ['extension.js'],
  outfile: 'dist/extension.js',
  bundle: true,
  platform: 'node',
  format: 'cjs',
  target: 'node20',
  external: ['vscode'],
  minify: true,
});
