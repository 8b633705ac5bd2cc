// The lines of units in the pictures: pointed at, focused, followed.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { after, before, test } from 'node:test';
import { fileURLToPath } from 'node:url';
import { newContext, onPage, readUnits, startBrowser } from './browser.mjs';

let browser, context;
before(async () => {
  browser = await startBrowser();
  context = await newContext(browser);
});
after(() => browser.close());
const on = (page, act) => onPage(() => context, page, act);

// Whether the name in a line's link can be seen, and is what its page is named after.
const nameSeen = (link) => link.evaluate((line) => {
  const name = line.querySelector('text');
  return name.textContent.length > 0 && name.checkVisibility({ visibilityProperty: true }) &&
    line.querySelector('title').textContent.startsWith(name.textContent);
});

// Places in the window along a line, `aside` CSS pixels off it, that lie within its drawing.
const placesOn = (link, aside) => link.evaluate((line, off) => {
  const path = line.querySelector('path'), matrix = path.getScreenCTM();
  const frame = path.closest('svg').getBoundingClientRect();
  const places = [];
  for (let k = 1; k < 40; k++) {
    const at = path.getPointAtLength(path.getTotalLength() * k / 40).matrixTransform(matrix);
    if (at.x > frame.left + 8 && at.x < frame.right - 8 && at.y > frame.top + 8 &&
      at.y < frame.bottom - 8) places.push({ x: at.x, y: at.y + off });
  }
  return places;
}, aside);

// Names that find no room are hidden until their line is asked.
test('a focused line shows its name', on('middle/report.html', async (page) => {
  const figure = page.locator('figure:has(a.unit text.later)').first();
  const links = await figure.locator('a.unit').all();
  let n_hidden = 0;
  for (const link of links.filter((_, i) => i % 4 === 0)) {
    n_hidden += !await nameSeen(link);
    await link.focus();
    assert.ok(await nameSeen(link));
  }
  assert.ok(n_hidden > 5 && n_hidden < links.length / 4, `${n_hidden} of ${links.length} hidden`);
}));

// A line is a pixel wide and dashed: pointing near it, or into a gap, must be enough.
for (const aside of [0, 3, -3])
  test(`pointing ${aside} pixels beside a line shows a name`, on('demo/report.html', async (page) => {
    let n = 0;
    for (const figure of (await page.locator('figure:has(a.unit)').all()).slice(0, 6)) {
      await figure.scrollIntoViewIfNeeded();
      const link = figure.locator('a.unit').first();
      for (const place of (await placesOn(link, aside)).filter((_, k) => k % 8 === 0)) {
        await page.mouse.move(place.x, place.y);
        const shown = await figure.locator('a.unit:is(:hover, .near)').all();
        assert.equal(shown.length, 1, JSON.stringify(place));
        assert.ok(await nameSeen(shown[0]));
        n++;
      }
    }
    assert.ok(n > 15, `only ${n} places`);
    await page.mouse.move(2, 2);
    assert.equal(await page.locator('a.unit:is(:hover, .near)').count(), 0);
  }));

test('a line leads to its unit', on('demo/report.html', async (page) => {
  const link = page.locator('figure a.unit').last();
  const serial = await link.locator('text').textContent();
  await link.focus();
  await page.keyboard.press('Enter');
  await page.waitForURL(`**/units/${serial}.html`);
  assert.equal(await page.textContent('h1'), serial);
}));

for (const aside of [0, 3])
  test(`a click ${aside} pixels beside a line leads to its unit`, on('demo/report.html', async (page) => {
    const figure = page.locator('figure:has(a.unit)').first();
    await figure.scrollIntoViewIfNeeded();
    const [place] = await placesOn(figure.locator('a.unit').first(), aside);
    await page.mouse.move(place.x, place.y);
    const shown = page.locator('a.unit:is(:hover, .near)');
    const serial = await shown.locator('text').textContent();
    await page.mouse.click(place.x, place.y);
    await page.waitForURL(`**/units/${serial}.html`);
  }));

// As the writer of pages escapes them.
const escaped = (words) => words.replaceAll('&', '&amp;').replaceAll('<', '&lt;')
  .replaceAll('>', '&gt;').replaceAll('"', '&quot;');

for (const report of ['demo', 'mixed', 'hostile'])
  test(`${report}: every link leads to the page of the unit it names`, on(`${report}/report.html`, async (page) => {
    const known = new Set(readUnits(report).map((unit) => unit.serial));
    const links = await page.locator('a.unit, #units-table a').evaluateAll((found) => found.map((link) =>
      [link.querySelector('text')?.textContent ?? link.textContent, link.href.baseVal ?? link.href]));
    assert.ok(links.length > known.size);
    for (const [serial, href] of links) {
      assert.ok(known.has(serial), serial);
      const unit = readFileSync(fileURLToPath(new URL(href, page.url())), 'utf8');
      assert.ok(unit.includes(`<h1 class="serial">${escaped(serial)}</h1>`), `${serial}: ${href}`);
    }
  }));
