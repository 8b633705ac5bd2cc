// The report says the same where scripts are not run.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { inTableOrder, newContext, onPage, readUnits, serialsOf, startBrowser } from './browser.mjs';

let browser, context;
before(async () => {
  browser = await startBrowser();
  context = await newContext(browser, { javaScriptEnabled: false });
});
after(() => browser.close());
const on = (page, act) => onPage(() => context, page, act);

for (const report of ['mixed', 'middle'])
  test(`${report}: every row can be seen`, on(`${report}/report.html`, async (page) => {
    assert.deepEqual(await serialsOf(page), inTableOrder(readUnits(report)).map((unit) => unit.serial));
  }));

test('nothing is shown that needs the script', on('middle/report.html', async (page) => {
  const controls = page.locator('button, input, select, output');
  assert.ok(await controls.count() >= 6);
  for (const control of await controls.all()) assert.ok(!await control.isVisible());
}));

test('head, pictures and limits are there', on('demo/report.html', async (page) => {
  assert.equal(await page.textContent('h1'), 'Kittiwake KW-170 driver board');
  assert.match(await page.textContent('.counts'), /PASS19.*FAIL5.*INCOMPLETE0/);
  for (const part of ['.counts', '.facts', '#units', '#pictures', '#limits', '#limits-table'])
    assert.ok(await page.isVisible(part), part);
  const sizes = await page.locator('figure > svg').evaluateAll((drawings) => drawings.map((drawing) =>
    [drawing.getBoundingClientRect().height, drawing.querySelectorAll('path').length]));
  assert.ok(sizes.length > 20);
  for (const [height, n_paths] of sizes) assert.ok(height > 100 && n_paths > 5);
}));

test('a line and a row lead to their unit', on('demo/report.html', async (page) => {
  await page.click('#units-table a:text-is("KW000118")');
  await page.waitForURL('**/units/KW000118.html');
  await page.goBack();
  await page.locator('a.unit:has(text:text-is("KW000121"))').first().focus();
  await page.keyboard.press('Enter');
  await page.waitForURL('**/units/KW000121.html');
}));
