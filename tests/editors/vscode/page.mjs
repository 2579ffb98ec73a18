// The page of the editor: opening a design in it, and reading the lines that it shows.

/** Opens the task's file in a browser with a profile of its own and waits until the editor shows it. */
export async function openDesign(chromium, task, viewport, scale = 1) {
  const context = await chromium.launchPersistentContext(task.profile, {
    executablePath: task.browser,
    headless: true,
    viewport,
    deviceScaleFactor: scale,
    args: ['--no-sandbox', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
  const page = context.pages()[0] ?? (await context.newPage());
  const folder = task.file.slice(0, task.file.lastIndexOf('/'));
  const open = JSON.stringify([['openFile', `vscode-remote://${new URL(task.url).host}${task.file}`]]);
  await page.goto(`${task.url}/?folder=${encodeURIComponent(folder)}&payload=${encodeURIComponent(open)}`);
  await page.waitForSelector('.editor-instance .view-lines .view-line', { timeout: 90000 });
  await page.locator('.editor-instance .view-lines').first().click({ position: { x: 5, y: 5 } });
  return { context, page };
}

/** The lines on the page from top to bottom: the text with the hints in it, and the hints by themselves. */
export async function visibleLines(page) {
  const plain = (text) => text.replace(/\u00a0/g, ' ').replace(/[\u200b-\u200d\u2060]/g, '');
  const lines = await page.$$eval('.editor-instance .view-line', (elements) =>
    elements.map((element) => ({
      top: parseFloat(element.style.top),
      text: element.textContent,
      // Text that the editor puts between the words of the file has a style class of its own kind.
      hints: [...element.querySelectorAll('span[class*="dyn-rule"]')].map((span) => span.textContent),
    })),
  );
  return lines
    .sort((one, other) => one.top - other.top)
    .map(({ text, hints }) => ({ text: plain(text), hints: hints.map(plain).filter((hint) => hint.trim()) }));
}
