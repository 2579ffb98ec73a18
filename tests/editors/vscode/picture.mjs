// Takes the picture of the page for users: the design in the editor, with nothing of the window around it.
// usage: node picture.mjs TASK.json   with {packages, browser, profile, url, file, awaited, picture, width, height, shown}
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import { openDesign, visibleLines } from './page.mjs';

const task = JSON.parse(readFileSync(process.argv[2], 'utf8'));
const { chromium } = createRequire(task.packages + '/')('playwright-core');
const viewport = { width: Number(task.width), height: Number(task.height) };
const { context, page } = await openDesign(chromium, task, viewport, 2);
const end = Date.now() + 30000;
while (!(await visibleLines(page)).some((line) => line.hints.includes(task.awaited))) {
  if (Date.now() > end) {
    throw new Error(`“${task.awaited}” did not come onto the page`);
  }
  await page.waitForTimeout(100);
}
await page.keyboard.press('Control+b');
// Nothing blinks and nothing is selected while the picture is taken.
await page.evaluate(() => document.activeElement?.blur());
await page.waitForTimeout(1500);
const box = await page.locator('.editor-instance').first().boundingBox();
await page.screenshot({ path: task.picture, clip: { ...box, height: Number(task.shown) } });
await context.close();
