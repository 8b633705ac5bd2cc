// The table of units: sorted by every column, filtered by verdict and limit, held against the CSV
// tables of the same report.
import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { countOf, inTableOrder, newContext, onPage, readUnits, rowsOf, scan, serialsOf,
  startBrowser } from './browser.mjs';

let browser, context;
before(async () => {
  browser = await startBrowser();
  context = await newContext(browser);
});
after(() => browser.close());
const on = (page, act) => onPage(() => context, page, act);

const heads = ['Serial', 'Verdict', 'Worst limit', 'Margin', 'Attempts'];
const ranks = { FAIL: 0, INCOMPLETE: 1, PASS: 2 };

// Numbers within names by their size: KW2 stands before KW10. Names alike but for case may stand
// in either order.
function inNaturalOrder(a, b) {
  const parts = (name) => name.toLowerCase().match(/\d+|\D+/g);
  const left = parts(a), right = parts(b);
  for (let i = 0; i < Math.min(left.length, right.length); i++) {
    if (left[i] === right[i]) continue;
    const difference = Number(left[i]) - Number(right[i]);
    if (!Number.isNaN(difference) && difference !== 0) return difference;
    return left[i] < right[i] ? -1 : 1;
  }
  return left.length - right.length;
}

// A margin in guard bands, as the demo's limits have them; of a reflection in linear abs(S). A unit
// that is INCOMPLETE has none and stands behind those that have.
function guardBands(unit) {
  if (unit.verdict === 'INCOMPLETE') return Number.MAX_VALUE;
  const worst = unit.results.find((row) => row.limit === unit.worst_limit);
  const linear = (db) => 10 ** (Number(db) / 20);
  const margin = /^(input|output)-reflection$/.test(worst.quantity)
    ? linear(worst.bound) - linear(worst.value) : Number(worst.margin);
  return margin / Number(worst.uncertainty);
}

// The shape and word of a verdict: only the word counts.
const wordOf = (cell) => cell.split(' ').pop();

// The order of two rows by each column, from the tables.
function orders(units) {
  const unitOf = new Map(units.map((unit) => [unit.serial, unit]));
  // Results stand in the order of the limits file. A unit that is INCOMPLETE tells a reason instead.
  const placeOf = (serial) => {
    const { verdict, worst_limit: worst, results } = unitOf.get(serial);
    return verdict === 'INCOMPLETE' ? results.length : results.findIndex((row) => row.limit === worst);
  };
  return {
    'Serial': (a, b) => inNaturalOrder(a[0], b[0]),
    'Verdict': (a, b) => ranks[unitOf.get(a[0]).verdict] - ranks[unitOf.get(b[0]).verdict],
    'Worst limit': (a, b) => placeOf(a[0]) - placeOf(b[0]),
    'Margin': (a, b) => {
      const difference = guardBands(unitOf.get(a[0])) - guardBands(unitOf.get(b[0]));
      return Math.abs(difference) <= 0.001 ? 0 : difference; // the page ranks to three decimals
    },
    'Attempts': (a, b) => unitOf.get(a[0]).attempts - unitOf.get(b[0]).attempts,
  };
}

// Rows come in slices; the count is told with the last one.
const allShown = (page, n) => page.waitForFunction((words) =>
  document.getElementById('shown').textContent === words, `${n} of ${n} units`);
async function showAll(page, n) {
  await page.click('#more');
  await allShown(page, n);
}

async function sortByEveryColumn(page, units, columns) {
  for (const name of columns) {
    const compare = orders(units)[name];
    const button = page.getByRole('button', { name, exact: true });
    for (const [sign, word] of [[1, 'ascending'], [-1, 'descending'], [1, 'ascending']]) {
      await button.click();
      await allShown(page, units.length);
      const rows = await rowsOf(page);
      assert.deepEqual(new Set(rows.map((row) => row[0])),
        new Set(units.map((unit) => unit.serial)), `rows by ${name}`);
      assert.equal(rows.length, units.length, `rows by ${name}`);
      for (let i = 1; i < rows.length; i++)
        assert.ok(sign * compare(rows[i - 1], rows[i]) <= 0,
          `${name} ${word}: ${rows[i - 1]} before ${rows[i]}`);
      const sorted = page.locator('#units-table th[aria-sort]');
      assert.deepEqual(await sorted.evaluateAll((found) => found.map(
        (head) => [head.textContent, head.getAttribute('aria-sort')])), [[name, word]]);
    }
  }
}

describe('what the table says', () => {
  for (const report of ['demo', 'mixed'])
    test(`${report}: as units.csv`, on(`${report}/report.html`, async (page) => {
      const units = inTableOrder(readUnits(report)), rows = await rowsOf(page);
      assert.deepEqual(rows.map((row) => [row[0], wordOf(row[1]), row[4]]),
        units.map((unit) => [unit.serial, unit.verdict, String(unit.attempts)]));
      rows.forEach((row, i) => {
        const begin = units[i].verdict === 'INCOMPLETE' ? units[i].reason : units[i].worst_limit;
        assert.ok(row[2].startsWith(begin.slice(0, 190)), `${row[2]} | ${begin}`);
        assert.equal(row[3] === '', units[i].verdict === 'INCOMPLETE', `margin of ${row[0]}`);
      });
    }));
});

describe('sorting', () => {
  test('the demo by every column, both ways', on('demo/report.html', (page) =>
    sortByEveryColumn(page, readUnits('demo'), heads)));

  test('repeats, gaps and names that begin alike', on('mixed/report.html', (page) =>
    sortByEveryColumn(page, readUnits('mixed'), heads)));

  test('as written it is by verdict, and the head says so', on('demo/report.html', async (page) => {
    const head = page.locator('#units-table th[aria-sort]');
    assert.deepEqual(await head.evaluateAll((found) => found.map(
      (one) => [one.textContent, one.getAttribute('aria-sort')])), [['Verdict', 'ascending']]);
  }));

  test('2,000 units', on('middle/report.html', async (page) => {
    await showAll(page, 2000);
    await sortByEveryColumn(page, readUnits('middle'), ['Margin']);
  }));
});

// The serial numbers of the units that fit a verdict and a limit; '' fits all.
const fitting = (units, verdict, limit) => inTableOrder(units).filter((unit) =>
  (!verdict || unit.verdict === verdict) &&
  (!limit || unit.results.some((row) => row.limit === limit && row.accepted === 'no')))
  .map((unit) => unit.serial);

const limitsOf = (units) => [...new Set(units[0].results.map((row) => row.limit))];

describe('filters', () => {
  for (const report of ['demo', 'mixed'])
    test(`${report}: every verdict with every limit`, on(`${report}/report.html`, async (page) => {
      const units = readUnits(report);
      let n_some = 0;
      for (const verdict of ['', 'PASS', 'FAIL', 'INCOMPLETE']) {
        await page.selectOption('#by-verdict', { label: verdict || 'all' });
        for (const limit of ['', ...limitsOf(units)]) {
          await page.selectOption('#by-limit', { label: limit || 'any or none' });
          const expected = fitting(units, verdict, limit);
          assert.deepEqual(await serialsOf(page), expected, `${verdict} ${limit}`);
          assert.equal(await countOf(page), `${expected.length} of ${units.length} units`);
          n_some += expected.length > 0 && expected.length < units.length;
        }
      }
      assert.ok(n_some >= 8, `only ${n_some} filters told anything apart`);
    }));

  test('hold while the table is sorted', on('demo/report.html', async (page) => {
    await page.selectOption('#by-verdict', { label: 'FAIL' });
    await page.click('#units-table th:first-child button', { clickCount: 2, delay: 50 });
    assert.deepEqual(await serialsOf(page), fitting(readUnits('demo'), 'FAIL', '').reverse());
  }));

  // A browser puts back what was chosen, and tells the page nothing of it.
  test('agree with the rows after going to a unit and back', on('demo/report.html', async (page) => {
    const [first] = fitting(readUnits('demo'), 'FAIL', 'gain-high');
    await page.selectOption('#by-verdict', { label: 'FAIL' });
    await page.selectOption('#by-limit', { label: 'gain-high' });
    await page.click(`#units-table a:text-is("${first}")`);
    await page.waitForURL('**/units/*.html');
    await page.goBack();
    const chosen = await page.evaluate(() => ['by-verdict', 'by-limit'].map((id) =>
      document.getElementById(id).selectedOptions[0].textContent));
    const [verdict, limit] = chosen.map((word) => (/^(all|any or none)$/.test(word) ? '' : word));
    assert.deepEqual(await serialsOf(page), fitting(readUnits('demo'), verdict, limit), `${chosen}`);
  }));
});

describe('the way back from a unit', () => {
  const view = (page) => page.evaluate(() => ({
    sorted: Array.from(document.querySelectorAll('#units-table th[aria-sort]'),
      (head) => [head.textContent, head.getAttribute('aria-sort')]),
    chosen: ['by-verdict', 'by-limit', 'find'].map((id) => document.getElementById(id).value),
    top: document.querySelector('.scroll.units-table').scrollTop,
    count: document.getElementById('shown').textContent,
    page: Math.round(window.scrollY),
  }));
  async function thereAndBack(page, before) {
    const link = page.locator('#units-table tr:not(.later) a');
    await link.nth(await link.count() - 2).evaluate((one) => one.click());
    await page.waitForURL('**/units/*.html');
    await page.goBack();
    await page.waitForFunction((words) => document.getElementById('shown').textContent === words,
      before.count);
    await page.waitForTimeout(100);
  }

  test('the order, the filter and the place are as they were', on('middle/report.html', async (page) => {
    const margin = page.getByRole('button', { name: 'Margin', exact: true });
    await page.selectOption('#by-verdict', { label: 'FAIL' });
    await margin.click();
    await margin.click();
    await page.evaluate(() => {
      document.querySelector('.scroll.units-table').scrollTop = 777;
      window.scrollTo(0, 300);
    });
    await page.waitForTimeout(100);
    const before = await view(page), rows = await serialsOf(page);
    assert.deepEqual([before.sorted, before.top, before.page], [[['Margin', 'descending']], 777, 300]);
    await thereAndBack(page, before);
    assert.deepEqual(await view(page), before);
    assert.deepEqual(await serialsOf(page), rows);
  }));

  test('so are all rows that were wanted', on('middle/report.html', async (page) => {
    await showAll(page, 2000);
    await page.evaluate(() => { document.querySelector('.scroll.units-table').scrollTop = 30000; });
    const before = await view(page);
    assert.equal(before.top, 30000);
    await thereAndBack(page, before);
    assert.deepEqual(await view(page), before);
  }));

  // Words that stay must not be added to, nor a verdict stand that nobody asked for.
  test('a scan afterwards replaces the words', on('demo/report.html', async (page) => {
    await scan(page, 'KW000121');
    await page.click('#found a');
    await page.waitForURL('**/units/*.html');
    await page.goBack();
    assert.equal(await page.inputValue('#find'), 'KW000121');
    assert.deepEqual(await serialsOf(page), ['KW000121']);
    assert.equal((await page.textContent('#found')).trim(), '');
    await scan(page, 'KW000101');
    assert.match(await page.textContent('#found'), /^KW000101 . PASS/);
  }));

  // A browser may refuse to keep anything, or throw at too many calls.
  test('a history that refuses does no harm', async () => {
    const strict = await newContext(browser);
    await strict.addInitScript(() => {
      History.prototype.replaceState = () => { throw new DOMException('no', 'SecurityError'); };
      Object.defineProperty(History.prototype, 'state', { get() { throw new DOMException('no'); } });
    });
    await onPage(() => strict, 'demo/report.html', async (page) => {
      await page.selectOption('#by-verdict', { label: 'FAIL' });
      assert.deepEqual(await serialsOf(page), fitting(readUnits('demo'), 'FAIL', ''));
      await scan(page, 'KW000101');
      assert.match(await page.textContent('#found'), /^KW000101 . PASS/);
      await page.click('#found a');
      await page.waitForURL('**/units/*.html');
      await page.goBack();
      assert.equal((await serialsOf(page)).length, 24);
    })();
    await strict.close();
  });
});

describe('many units', () => {
  test('200 rows first, then all', on('middle/report.html', async (page) => {
    const serials = inTableOrder(readUnits('middle')).map((unit) => unit.serial);
    assert.deepEqual(await serialsOf(page), serials.slice(0, 200));
    assert.equal(await countOf(page), '200 of 2000 units shown');
    await showAll(page, 2000);
    assert.deepEqual(await serialsOf(page), serials);
    assert.equal(await countOf(page), '2000 of 2000 units');
    assert.ok(!await page.isVisible('#more'));
  }));

  // Rows that all come at once hold up every key for seconds.
  test('all come in slices, and a scan between them is answered', on('middle/report.html', async (page) => {
    const counts = await page.evaluate(async () => {
      const shown = () => document.querySelectorAll('#units-table tbody tr:not(.later)').length;
      document.getElementById('more').click();
      const found = [shown()];
      for (let n = 0; n < 3; n++) {
        await new Promise((done) => requestAnimationFrame(done));
        found.push(shown());
      }
      return found;
    });
    assert.equal(counts[0], 200);
    for (let i = 1; i < counts.length; i++)
      assert.ok(counts[i] > counts[i - 1] && counts[i] - counts[i - 1] <= 500, `${counts}`);
    await scan(page, 'KW000777');
    assert.match(await page.textContent('#found'), /^KW000777 /);
    assert.deepEqual(await serialsOf(page), ['KW000777']);
  }));

  test('a filter looks at all of them', on('middle/report.html', async (page) => {
    const units = readUnits('middle');
    const failed = fitting(units, 'FAIL', ''), few = fitting(units, 'FAIL', 'flatness');
    assert.ok(failed.length > 200 && few.length > 0 && few.length < 200);
    await page.selectOption('#by-verdict', { label: 'FAIL' });
    assert.deepEqual(await serialsOf(page), failed.slice(0, 200));
    assert.equal(await countOf(page), `200 of ${failed.length} units shown`);
    await page.selectOption('#by-limit', { label: 'flatness' });
    assert.deepEqual(await serialsOf(page), few);
    assert.ok(!await page.isVisible('#more'));
  }));
});
