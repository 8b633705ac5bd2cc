// Small windows and people who want no motion.
import assert from 'node:assert/strict';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { assertFaultless, newContext, openPage, pagesOf, readUnits, SCREENS, startBrowser }
  from './browser.mjs';

let browser;
before(async () => { browser = await startBrowser(); });
after(() => browser.close());

// The longest transition or animation of anything on the page, in seconds.
const longestMotion = (page) => page.evaluate(() => Math.max(...Array.from(
  document.querySelectorAll('*'), (element) => {
    const style = getComputedStyle(element);
    return Math.max(...`${style.transitionDuration},${style.animationDuration}`.split(',').map(parseFloat));
  })));

for (const name of ['demo/report.html', 'demo/units/KW000110.html'])
  test(`${name}: no motion for those who want none`, async () => {
    for (const [reducedMotion, moves] of [['reduce', false], ['no-preference', true]]) {
      const context = await newContext(browser, { reducedMotion });
      const page = await openPage(context, name);
      assert.equal(await longestMotion(page) > 0, moves, reducedMotion);
      await context.close();
    }
  });

// 1280 pixels at 400 % are 320 (WCAG 2.2, 1.4.10). Tables may scroll in their frames.
for (const report of ['demo', 'mixed', 'hostile'])
  test(`${report}: no page is wider than the window at 400 %`, async () => {
    const context = await newContext(browser, { viewport: { width: 320, height: 256 } });
    for (const name of pagesOf(report).filter((_, i) => report !== 'demo' || i < 2 || i % 5 === 0)) {
      const page = await openPage(context, name);
      const [wide, window] = await page.evaluate(() =>
        [document.scrollingElement.scrollWidth, innerWidth]);
      assert.ok(wide <= window, `${name}: ${wide} > ${window}`);
      await assertFaultless(page);
      await page.close();
    }
    await context.close();
  });

// For people to look at.
test('pictures of the pages', async () => {
  const incomplete = readUnits('mixed').find((unit) => unit.verdict === 'INCOMPLETE').serial;
  const views = {
    light: { colorScheme: 'light' }, dark: { colorScheme: 'dark' },
    zoomed: { viewport: { width: 320, height: 640 } },
  };
  const pages = { report: 'demo/report.html', fail: 'demo/units/KW000110.html',
    incomplete: `mixed/units/${incomplete}.html` };
  for (const [view, options] of Object.entries(views)) {
    const context = await newContext(browser, options);
    for (const [name, path] of Object.entries(pages)) {
      const page = await openPage(context, path);
      await page.screenshot({ path: join(SCREENS, `${name}-${view}.png`), fullPage: true });
      await page.close();
    }
    await context.close();
  }
});
