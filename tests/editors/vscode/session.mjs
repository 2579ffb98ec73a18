// Drives a running editor by its page: takes the steps of a file by keyboard and writes down what the editor has then.
// usage: node session.mjs TASK.json   with {packages, browser, profile, url, steps, questions, probe, file, answers, pictures, lines}
import { createRequire } from 'node:module';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { isDeepStrictEqual } from 'node:util';
import { openDesign, visibleLines } from './page.mjs';

const task = JSON.parse(readFileSync(process.argv[2], 'utf8'));
const { chromium } = createRequire(task.packages + '/')('playwright-core');
const steps = JSON.parse(readFileSync(task.steps, 'utf8'));
const { context, page } = await openDesign(chromium, task, { width: 1400, height: 140 + 20 * Number(task.lines) });

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
/** Goes to a place. What is typed before the field for it has the focus, or behind it, would go into the text. */
async function goTo(place) {
  const inField = () => Boolean(document.activeElement?.closest('.quick-input-widget'));
  await page.keyboard.press('Control+g');
  await page.waitForFunction(inField);
  await page.keyboard.type(place);
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => !document.activeElement?.closest('.quick-input-widget'));
}

async function replaceLine(number, text) {
  await goTo(String(number + 1));
  await page.keyboard.press('End');
  await page.keyboard.press('Shift+Home');
  await page.keyboard.press('Shift+Home');
  await page.keyboard.press('Delete');
  // One key after the other, as at a desk; completion stays closed, since a list that opens would take the Enter key.
  await page.keyboard.type(text, { delay: 15 });
  await page.keyboard.press('Escape');
}

const underlined = () => page.locator('.squiggly-error, .squiggly-warning, .squiggly-info, .squiggly-hint').count();

const answers = [];
for (const step of steps) {
  if (step.line !== null) {
    await replaceLine(step.line, step.text);
  }
  await settle(() => {
    const { hints, problems, text } = now();
    const typed = text.split('\n')[step.line ?? 0] === step.text;
    return typed && (!step.hints || isDeepStrictEqual(hints, step.hints)) && isDeepStrictEqual(problems, step.problems);
  }, 20000);
  const answer = { name: step.name, ...now() };

  // The page is drawn a moment after the providers have answered.
  const labels = (step.hints ?? []).map(([, label]) => label);
  await settle(async () => {
    const seen = (await visibleLines(page)).flatMap((line) => line.hints);
    return labels.every((label) => seen.includes(label)) && (step.problems.length === 0) === ((await underlined()) === 0);
  }, 5000);
  answer.page = (await visibleLines(page)).map((line) => line.text);
  answer.marks = await underlined();
  await page.screenshot({ path: `${task.pictures}-${answers.length + 1}.png` });
  answers.push(answer);
}
// What hovering over the part tells, where its mention leads, and what the layout makes of an untidy line: by the keys for these.
const questions = JSON.parse(readFileSync(task.questions, 'utf8'));
const asked = { hover: '', definition: -1, formatted: [] };
async function go(place) {
  await goTo(`${place.line + 1}:${place.column + 1}`);
}
await go(questions.part);
await page.keyboard.press('Control+k');
await page.keyboard.press('Control+i');
await page.waitForSelector('.monaco-hover:not(.hidden) .hover-contents', { timeout: 8000 }).catch(() => {});
asked.hover = (await page.$$eval('.monaco-hover:not(.hidden) .hover-contents', (all) => all.map((one) => one.textContent))).join('\n');
await page.screenshot({ path: `${task.pictures}-hover.png` });
await page.keyboard.press('Escape');
await go(questions.mention);
await page.keyboard.press('F12');
await settle(() => probed().line === questions.part.line, 8000);
asked.definition = probed().line;
await replaceLine(questions.part.line, questions.untidy);
await settle(() => probed().text.split('\n')[questions.part.line] === questions.untidy, 8000);
await page.keyboard.press('Control+Shift+i');
await settle(() => probed().text.split('\n')[questions.part.line] !== questions.untidy, 8000);
asked.formatted = probed().text.replace(/\n$/, '').split('\n');
await page.screenshot({ path: `${task.pictures}-format.png` });
writeFileSync(task.answers, JSON.stringify({ editor: probed().editor, answers, asked }));
await context.close();
