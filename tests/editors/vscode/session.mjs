// Drives a running editor by its page: takes the steps of a file by keyboard and writes down what the editor has then.
// usage: node session.mjs TASK.json   with {packages, browser, profile, url, steps, probe, file, answers, pictures}
import { createRequire } from 'node:module';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { isDeepStrictEqual } from 'node:util';
import { openDesign, visibleLines } from './page.mjs';

const task = JSON.parse(readFileSync(process.argv[2], 'utf8'));
const { chromium } = createRequire(task.packages + '/')('playwright-core');
const steps = JSON.parse(readFileSync(task.steps, 'utf8'));
const { context, page } = await openDesign(chromium, task, { width: 1200, height: 900 });

const probed = () => (existsSync(task.probe) ? JSON.parse(readFileSync(task.probe, 'utf8')) : { hints: [], problems: [], text: '' });
const order = (one, other) => one[0] - other[0] || (one[1] < other[1] ? -1 : 1);
const now = () => {
  const { hints, problems, text } = probed();
  return { hints: hints.sort(order), problems, text };
};
/** Waits for a condition; what is there when the time is over is reported by the comparison that follows. */
async function settle(condition, milliseconds) {
  const end = Date.now() + milliseconds;
  while (!(await condition()) && Date.now() < end) {
    await page.waitForTimeout(50);
  }
}

/** Puts a text in the place of a line, by keyboard. */
async function replaceLine(number, text) {
  await page.keyboard.press('Control+g');
  await page.waitForSelector('.quick-input-widget:not([style*="display: none"]) input');
  await page.keyboard.type(String(number + 1));
  await page.keyboard.press('Enter');
  await page.keyboard.press('End');
  await page.keyboard.press('Shift+Home');
  await page.keyboard.press('Shift+Home');
  await page.keyboard.press('Delete');
  // One key after the other, as at a desk; completion stays closed, since a list that opens would take the Enter key.
  await page.keyboard.type(text, { delay: 15 });
  await page.keyboard.press('Escape');
}

const answers = [];
let before;
for (const step of steps) {
  if (step.line !== null) {
    await replaceLine(step.line, step.text);
  }
  await settle(() => {
    const { hints, problems, text } = now();
    const typed = step.line === null || text.split('\n')[step.line] === step.text;
    const right = !step.hints || isDeepStrictEqual(hints, step.hints);
    const told = step.problem ? problems.some(([line]) => line - 1 === step.line) : !before || isDeepStrictEqual(problems, before);
    return typed && right && told;
  }, 20000);
  const answer = { name: step.name, ...now() };
  before ??= answer.problems;

  // The page is drawn a moment after the providers have answered.
  const drawn = (lines) => (step.hints ?? []).filter(([, label]) => !lines.some((line) => line.hints.includes(label)));
  await settle(async () => drawn(await visibleLines(page)).length === 0, 5000);
  const lines = await visibleLines(page);
  answer.page = lines.filter((line) => line.hints.length > 0).map((line) => [line.text, line.hints.join('')]);
  if (step.problem) {
    await settle(async () => (await page.locator('.squiggly-error, .squiggly-warning, .squiggly-info, .squiggly-hint').count()) > 0, 5000);
  }
  answer.marks = await page.locator('.squiggly-error, .squiggly-warning, .squiggly-info, .squiggly-hint').count();
  await page.screenshot({ path: `${task.pictures}-${answers.length + 1}.png` });
  answers.push(answer);
}
writeFileSync(task.answers, JSON.stringify({ editor: probed().editor, answers }));
await context.close();
