// Many units: sizes and times, printed; sizes, first paint and search are held to their bounds.
import assert from 'node:assert/strict';
import { statSync } from 'node:fs';
import { after, before, test } from 'node:test';
import { foundOf, newContext, openPage, pathOf, readUnits, rowsOf, scan,
  startBrowser, urlOf } from './browser.mjs';

const TRIES = 3; // of which the quickest counts: other work on the machine is not the page's
const MB = 1e6;

let browser, context;
before(async () => {
  browser = await startBrowser();
  context = await newContext(browser);
});
after(() => browser.close());

const inWords = (times) => `${Math.round(Math.min(...times))} ms ` +
  `(${times.length} tries, slowest ${Math.round(Math.max(...times))})`;

for (const [report, n_units, most] of [['big', 10000, 10 * MB], ['middle', 2000, 3 * MB]])
  test(`the size of ${n_units} units`, (t) => {
    assert.equal(readUnits(report).length, n_units);
    const size = statSync(pathOf(`${report}/report.html`)).size;
    t.diagnostic(`report.html of ${n_units} units: ${(size / MB).toFixed(2)} MB`);
    assert.ok(size < most);
  });

test('10,000 units are painted within a second', async (t) => {
  const paints = [], ready = [];
  for (let n = 0; n < TRIES; n++) {
    const page = await openPage(context, 'big/report.html');
    const [paint, loaded] = await page.evaluate(async () => {
      await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
      return [performance.getEntriesByName('first-contentful-paint')[0].startTime,
        performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd];
    });
    paints.push(paint);
    ready.push(loaded);
    await page.close();
  }
  t.diagnostic(`first contentful paint: ${inWords(paints)}`);
  t.diagnostic(`script ready: ${inWords(ready)}`);
  assert.ok(Math.min(...paints) < 1000);
});

test('a scan that does not wait for 10,000 units is answered', async (t) => {
  const page = await context.newPage(), start = performance.now();
  await page.goto(urlOf('big/report.html'), { waitUntil: 'commit' });
  // Before its first paint a browser gives no keys to a page.
  await page.waitForFunction(() =>
    performance.getEntriesByName('first-contentful-paint').length > 0, null, { polling: 10 });
  await scan(page, 'KW005000');
  const typed = performance.now() - start;
  await page.waitForFunction(() =>
    document.getElementById('found')?.textContent.startsWith('KW005000 '));
  t.diagnostic(`typed after ${Math.round(typed)} ms, answered after ` +
    `${Math.round(performance.now() - start)} ms`);
  await page.close();
});

test('a serial number of 10,000 is found within a second', async (t) => {
  const page = await openPage(context, 'big/report.html');
  const units = readUnits('big'), times = [];
  for (const unit of [units[0], units[9999], units[5000], units[2500], units[7777]]) {
    const start = performance.now();
    await scan(page, unit.serial);
    await page.waitForFunction((serial) =>
      document.getElementById('found').textContent.startsWith(`${serial} `), unit.serial);
    times.push(performance.now() - start);
    assert.equal((await foundOf(page)).split(' ')[2], unit.verdict);
  }
  t.diagnostic(`search, first key to answer: ${inWords(times)}`);
  assert.ok(Math.min(...times) < 1000);
  await page.close();
});

// What the script and the layout behind it take, up to the next frame.
const timeOf = (page, act) => page.evaluate(async (words) => {
  const frame = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
  await frame();
  const start = performance.now();
  if (words.click) document.querySelector(words.click).click();
  else {
    const chosen = document.getElementById(words.select);
    chosen.value = words.value;
    chosen.dispatchEvent(new Event('change'));
  }
  await frame();
  return performance.now() - start;
}, act);

test('the times of sorting and filtering 10,000 units', async (t) => {
  const page = await openPage(context, 'big/report.html');
  const actions = {
    'sort by serial': { click: '#units-table th:nth-child(1) button' },
    'sort by worst limit': { click: '#units-table th:nth-child(3) button' },
    'sort by margin': { click: '#units-table th:nth-child(4) button' },
    'filter FAIL': { select: 'by-verdict', value: 'fail' },
    'filter FAIL of a limit': { select: 'by-limit', value: '0' },
    'no filter of a verdict': { select: 'by-verdict', value: '' },
    'no filter': { select: 'by-limit', value: '' },
    'show all': { click: '#more' },
    'sort all that are shown': { click: '#units-table th:nth-child(4) button' },
  };
  const allShown = () => page.waitForFunction(() =>
    /^10000 of 10000/.test(document.getElementById('shown').textContent), null, { timeout: 120000 });
  for (const [name, act] of Object.entries(actions)) {
    const time = await timeOf(page, act), start = performance.now();
    if (/all/.test(name)) await allShown();
    t.diagnostic(`${name}: ${Math.round(time)} ms` +
      (/all/.test(name) ? `, the last row ${Math.round(performance.now() - start)} ms later` : ''));
  }
  assert.equal((await rowsOf(page)).length, 10000);
  await page.close();
});
