// What every page keeps: the content policy, silence on the console, the rules of HTML, and access
// for people who see or handle it differently.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { after, before, describe, test } from 'node:test';
import { assertFaultless, newContext, openPage, packageFile, pagesOf, pathOf, readUnits,
  startBrowser } from './browser.mjs';

let browser, context;
before(async () => {
  browser = await startBrowser();
  context = await newContext(browser);
});
after(() => browser.close());

const reports = ['demo', 'mixed', 'hostile'];
const allPages = () => reports.flatMap(pagesOf);

// Names that look like markup are text on the page, and marks that turn text are not there.
async function assertOnlyText(page, name) {
  const isReport = name === 'hostile/report.html';
  assert.equal(await page.locator('img, iframe, [onerror], [onmouseover], [onfocus]').count(), 0);
  const own = isReport ? ['TITLE', 'STYLE', 'SCRIPT'] : ['TITLE', 'STYLE'];
  assert.deepEqual(await page.evaluate(() => Array.from(document.querySelectorAll(
    'head > :not(meta), script, style'), (element) => element.tagName)), own, name);
  const words = await page.evaluate(() => document.documentElement.textContent);
  assert.ok(words.includes('<script>alert(1)</script>'), name);
  assert.doesNotMatch(words, /[\u202a-\u202e\u2066-\u2069\u200e\u200f]/, name);
  const known = readUnits('hostile').map((unit) => unit.serial);
  if (!isReport) assert.ok(known.includes(await page.textContent('h1')), name);
}

describe('content policy', () => {
  test('no page breaks it, says a word on the console, asks for anything, or takes names for markup', async () => {
    for (const name of allPages()) {
      const page = await openPage(context, name);
      await assertFaultless(page);
      if (name.startsWith('hostile/')) await assertOnlyText(page, name);
      await page.close();
    }
  });

  // Only the page's own script and style may count, and only as they were written.
  test('it stops what gets into a page all the same', async () => {
    for (const name of ['demo/report.html', 'demo/units/KW000101.html']) {
      const page = await openPage(context, name);
      const ran = await page.evaluate(async () => {
        document.body.insertAdjacentHTML('beforeend',
          '<img src="data:," onerror="window.ran = 1"><p style="color: rgb(1, 2, 3)" id="styled">' +
          '<style>#styled { margin-left: 77px }</style><a href="javascript:window.ran = 2">a</a>' +
          '<iframe srcdoc="<script>parent.ran = 3</script>"></iframe>');
        const script = document.createElement('script');
        script.textContent = 'window.ran = 4';
        document.body.append(script);
        document.querySelector('a[href^=javascript]').click();
        await new Promise((done) => setTimeout(done, 300));
        const style = getComputedStyle(document.getElementById('styled'));
        return [window.ran ?? 0, style.color === 'rgb(1, 2, 3)', style.marginLeft];
      });
      assert.deepEqual(ran, [0, false, '0px'], name);
      const breaches = (await page.evaluate(() => window.breaches || [])).join('\n');
      for (const directive of ['img-src', 'style-src-attr', 'style-src-elem', 'script-src-elem'])
        assert.ok(breaches.includes(directive), `${directive}: ${breaches}`);
      await page.close();
    }
  });
});

// The Nu checker knows no `paint-order`, which SVG 2 has.
test('the rules of HTML', () => {
  const checker = packageFile('vnu-jar/build/dist/vnu.jar');
  const pages = allPages().map(pathOf);
  execFileSync('java', ['-jar', checker, '--errors-only', '--filterpattern', '.*paint-order.*', ...pages],
    { stdio: 'pipe', encoding: 'utf8' });
});

describe('access', () => {
  const source = readFileSync(packageFile('axe-core/axe.min.js'), 'utf8');
  const incomplete = readUnits('mixed').find((unit) => unit.verdict === 'INCOMPLETE').serial;
  const names = ['demo/report.html', 'demo/units/KW000101.html',
    'demo/units/KW000110.html', `mixed/units/${incomplete}.html`];

  for (const colorScheme of ['light', 'dark'])
    test(`no grave fault in ${colorScheme} colours`, async () => {
      const open = await newContext(browser, { bypassCSP: true, colorScheme });
      for (const name of names) {
        const page = await openPage(open, name);
        await page.evaluate(source);
        const { violations, passes } = await page.evaluate(() => window.axe.run());
        const grave = violations.filter(({ impact }) => impact === 'critical' || impact === 'serious');
        assert.deepEqual(grave.map(({ id, nodes }) => `${id}: ${nodes[0].failureSummary} ${nodes[0].html}`),
          [], name);
        assert.ok(passes.some(({ id }) => id === 'color-contrast'), 'contrast was looked at');
        await page.close();
      }
      await open.close();
    });
});
