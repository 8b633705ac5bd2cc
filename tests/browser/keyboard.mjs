// Everything by keyboard alone, and always to be seen where one is.
import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import { inTableOrder, newContext, onPage, readUnits, serialsOf, startBrowser } from './browser.mjs';

let browser, context;
before(async () => {
  browser = await startBrowser();
  context = await newContext(browser, { reducedMotion: 'reduce' }); // widths are there at once
});
after(() => browser.close());
const on = (page, act) => onPage(() => context, page, act);

// Where the focus is: a name for it, and whether it can be seen: an outline, or for a line of a
// picture, which has none, a line that is wider than the others.
const focusOf = (page) => page.evaluate(() => {
  const here = document.activeElement;
  if (!here || here === document.body) return null;
  const style = getComputedStyle(here);
  const outlined = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  const width = (line) => parseFloat(getComputedStyle(line.querySelector('path')).strokeWidth);
  const other = here.matches('.unit') && document.querySelector('figure .unit:not(:focus)');
  const box = here.getBoundingClientRect();
  const place = here.closest('figure') ? 'figure' : here.closest('tbody') ? 'row'
    : here.closest('thead') ? `head ${here.textContent}` : here.closest('nav') ? 'contents'
      : here.matches('.scroll') ? `frame ${here.getAttribute('aria-label')}` : `#${here.id}`;
  return { place, words: here.textContent.slice(0, 40), seen: outlined ||
    Boolean(other && width(here) > 1.5 * width(other)), sight: box.bottom > 0 && box.top < innerHeight };
});

// Every stop of the Tab key, from the one behind the current to the end of the page.
async function tabThrough(page, most = 400) {
  const stops = [];
  for (let n = 0; n < most; n++) {
    await page.keyboard.press('Tab');
    const stop = await focusOf(page);
    if (!stop || (stops.length > 0 && stop.place === '#find')) return stops;
    stops.push(stop);
  }
  throw new Error(`more than ${most} stops`);
}

const distinct = (stops) => [...new Set(stops.map((stop) => stop.place))];

test('Tab reaches every part in the order of the page', on('demo/report.html', async (page) => {
  assert.equal((await focusOf(page)).place, '#find');
  for (const words of ['Limits', 'Pictures', 'Units']) {
    await page.keyboard.press('Shift+Tab');
    assert.equal((await focusOf(page)).words, words);
  }
  await page.focus('#find');
  const stops = await tabThrough(page);
  const order = distinct(stops.filter((stop) => stop.place !== 'contents'));
  const heads = ['Serial', 'Verdict', 'Worst limit', 'Margin', 'Attempts'];
  assert.deepEqual(order, ['#by-verdict', '#by-limit', 'frame table units-table',
    ...heads.map((name) => `head ${name}`), 'row', 'figure', 'frame table limits-table',
    'frame table together-table']);
  const rows = stops.filter((stop) => stop.place === 'row').map((stop) => stop.words);
  assert.deepEqual(rows, inTableOrder(readUnits('demo')).map((unit) => unit.serial));
  const n_figures = await page.locator('figure:has(a.unit)').count();
  assert.equal(stops.filter((stop) => stop.place === 'figure').length, n_figures);
}));

test('the focus can always be seen', on('demo/report.html', async (page) => {
  for (const stop of [await focusOf(page), ...await tabThrough(page)])
    assert.ok(stop.seen && stop.sight, JSON.stringify(stop));
}));

test('the focus can be seen on a unit page', on('demo/units/KW000110.html', async (page) => {
  const stops = await tabThrough(page);
  assert.ok(stops.length >= 3);
  for (const stop of stops) assert.ok(stop.seen && stop.sight, JSON.stringify(stop));
}));

test('arrows walk over the rows that are shown', on('demo/report.html', async (page) => {
  await page.selectOption('#by-verdict', { label: 'FAIL' });
  const serials = await serialsOf(page);
  await page.focus('#units-table tr:not(.later) a');
  const walked = [];
  for (let n = 0; n < serials.length + 1; n++) {
    walked.push((await focusOf(page)).words);
    await page.keyboard.press('ArrowDown');
  }
  assert.deepEqual(walked, [...serials, serials.at(-1)]);
  await page.keyboard.press('ArrowUp');
  assert.equal((await focusOf(page)).words, serials.at(-2));
}));

test('arrows walk over the lines of a picture, Tab leaves it', on('demo/report.html', async (page) => {
  const figure = page.locator('figure:has(a.unit)').first();
  const names = await figure.locator('a.unit text').allTextContents();
  assert.ok(names.length > 2);
  await figure.locator('a.unit').first().focus();
  const focused = () => page.evaluate(() => document.activeElement.querySelector('text').textContent);
  for (const [key, name] of [['ArrowRight', names[1]], ['ArrowDown', names[2]],
    ['ArrowLeft', names[1]], ['ArrowUp', names[0]], ['ArrowUp', names[0]], ['ArrowRight', names[1]]]) {
    await page.keyboard.press(key);
    assert.equal(await focused(), name, key);
    assert.ok((await focusOf(page)).seen);
  }
  await page.keyboard.press('Tab');
  assert.equal(await figure.locator('a.unit:focus').count(), 0);
  await page.keyboard.press('Shift+Tab');
  assert.equal(await focused(), names[1]);
}));

test('heads sort by Enter and by the space bar', on('demo/report.html', async (page) => {
  await page.focus('#units-table th:first-child button');
  await page.keyboard.press('Enter');
  await page.keyboard.press('Space');
  assert.deepEqual(await serialsOf(page), readUnits('demo').map((unit) => unit.serial).reverse());
  assert.equal((await focusOf(page)).place, 'head Serial');
}));

test('Enter follows a row, and the way back leads to the table', on('demo/report.html', async (page) => {
  const [, { serial }] = inTableOrder(readUnits('demo'));
  await page.focus('#units-table tbody a');
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('Enter');
  await page.waitForURL(`**/units/${serial}.html`);
  assert.equal(await page.textContent('h1'), serial);
  await page.goBack();
  assert.match(page.url(), /report\.html$/);
  assert.equal((await serialsOf(page)).length, 24);
}));

test('a unit page leads back to the batch', on('demo/units/KW000102.html', async (page) => {
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.waitForURL('**/report.html');
}));
