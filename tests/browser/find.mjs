// Finding a unit by its serial number, typed or scanned.
import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { countOf, foundOf, inTableOrder, newContext, onPage, readUnits, scan, serialsOf, startBrowser }
  from './browser.mjs';

let browser, context;
before(async () => {
  browser = await startBrowser();
  context = await newContext(browser);
});
after(() => browser.close());
const on = (page, act) => onPage(() => context, page, act);

// The answer names the unit and its verdict, and its row, the only one marked, stands in sight.
async function assertFound(page, unit) {
  const said = (await foundOf(page)).split(' ');
  assert.deepEqual([said[0], said[2]], [unit.serial, unit.verdict]);
  assert.match(await page.getAttribute('#found b', 'class'), /^word (pass|fail|open)$/);
  const marked = page.locator('#units-table tr[aria-current="true"]');
  assert.equal(await marked.count(), 1);
  assert.equal(await marked.locator('th').textContent(), unit.serial);
  const seen = await marked.evaluate((row) => {
    const box = row.getBoundingClientRect();
    const frame = row.closest('.scroll').getBoundingClientRect();
    const head = row.closest('table').tHead.getBoundingClientRect();
    return row.checkVisibility() && box.height > 0 && box.top >= head.bottom - 1 &&
      box.bottom <= frame.bottom + 1 && getComputedStyle(row).outlineStyle !== 'none';
  });
  assert.ok(seen, `the row of ${unit.serial} is not in sight`);
}

async function assertUnknown(page, serial, more = '') {
  assert.equal(await foundOf(page), `No unit ${serial} in this batch${more}`);
  assert.equal(await page.locator('[aria-current]').count(), 0);
}

describe('a scanner', () => {
  test('scan after scan, without clearing by hand', on('middle/report.html', async (page) => {
    const units = readUnits('middle');
    const fails = units.filter((unit) => unit.verdict === 'FAIL');
    for (const unit of [units[0], units[1999], fails[5], units[777], units[777], fails.at(-1)]) {
      await scan(page, unit.serial);
      await assertFound(page, unit);
    }
    await scan(page, 'KW999999');
    await assertUnknown(page, 'KW999999');
    await scan(page, units[3].serial);
    await assertFound(page, units[3]);
  }));

  // An eye that looks from board to screen wants the answer in one place.
  test('nothing moves when an answer comes', on('mixed/report.html', async (page) => {
    const places = () => page.evaluate(() => ['#find', '#found', '.counts', '#units-table thead'].map(
      (part) => {
        const { x, y } = document.querySelector(part).getBoundingClientRect();
        return [part, x, y];
      }));
    const before = await places();
    for (const serial of ['KW1', 'KW10', 'none']) {
      await scan(page, serial);
      assert.deepEqual(await places(), before, serial);
    }
  }));

  test('a batch of three verdicts', on('mixed/report.html', async (page) => {
    for (const unit of readUnits('mixed')) {
      await scan(page, unit.serial);
      await assertFound(page, unit);
    }
  }));

  test('hostile serial numbers', on('hostile/report.html', async (page) => {
    for (const unit of readUnits('hostile').filter((unit) => !/ /.test(unit.serial))) {
      await scan(page, unit.serial);
      await assertFound(page, unit);
    }
    await scan(page, '<img src=x onerror=alert(1)>');
    await scan(page, '<b>none</b>');
    await assertUnknown(page, '<b>none</b>');
  }));

  test('unseen keys of a scanner: Enter alone, blanks around', on('demo/report.html', async (page) => {
    await page.keyboard.press('Enter');
    assert.equal(await foundOf(page), '');
    await scan(page, '  KW000118 ');
    await assertFound(page, readUnits('demo').find((unit) => unit.serial === 'KW000118'));
  }));
});

// Keys that come when a part of the page is there and its end is not.
describe('a scan while the page is still being read', () => {
  async function typedEarly(part, keys, act) {
    const slow = await newContext(browser);
    await slow.addInitScript(([wanted, typed]) => {
      const seen = new MutationObserver(() => {
        if (!document.body || !document.querySelector(wanted)) return;
        seen.disconnect();
        window.typedWhile = document.readyState;
        for (const key of typed)
          document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
      });
      seen.observe(document, { childList: true, subtree: true });
    }, [part, keys]);
    await onPage(() => slow, 'middle/report.html', async (page) => {
      assert.equal(await page.evaluate(() => window.typedWhile), 'loading');
      await act(page, readUnits('middle'));
    })();
    await slow.close();
  }

  for (const part of ['body', '#find', '#units-table'])
    test(`the unit is found: ${part}`, () => typedEarly(part, [...'KW001999', 'Enter'], async (page, units) => {
      await assertFound(page, units.find(({ serial }) => serial === 'KW001999'));
      await scan(page, units[3].serial);
      await assertFound(page, units[3]);
    }));

  test('of two scans the last one is answered', () => typedEarly('#find',
    [...'KW000101', 'Enter', ...'KW000777', 'Enter'], async (page, units) =>
      assertFound(page, units.find(({ serial }) => serial === 'KW000777'))));

  // The words of another board may not stand beside the verdict of the one before.
  test('a number that has begun gets no verdict of the one before', () => typedEarly('#find',
    [...'KW000101', 'Enter', ...'KW0007'], async (page) => {
      assert.equal(await foundOf(page), '');
      assert.equal(await page.inputValue('#find'), 'KW0007');
      await page.keyboard.type('77');
      await page.keyboard.press('Enter');
      assert.match(await foundOf(page), /^KW000777 /);
    }));
});

describe('names that begin alike', () => {
  test('the whole name wins over a longer one', on('mixed/report.html', async (page) => {
    await scan(page, 'KW1');
    assert.match(await foundOf(page), /^KW1 . PASS/);
    await scan(page, 'KW10');
    assert.match(await foundOf(page), /^KW10 . FAIL/);
  }));

  test('a whole name in other letters wins too', on('mixed/report.html', async (page) => {
    await scan(page, 'kw10');
    assert.match(await foundOf(page), /^KW10 . FAIL/);
  }));

  // KW2 and kw2 are two boards: neither answers for the other, nor for kW2.
  test('names that differ in case only', on('mixed/report.html', async (page) => {
    await scan(page, 'kw2');
    assert.match(await foundOf(page), /^kw2 . PASS/);
    await scan(page, 'KW2');
    assert.match(await foundOf(page), /^KW2 . INCOMPLETE/);
    await scan(page, 'kW2');
    await assertUnknown(page, 'kW2', ', but 3 have it in their serial number');
  }));

  // A part may be all that was read of a board that is not in the batch: no verdict for it.
  test('a part of a number gets no verdict', on('mixed/report.html', async (page) => {
    await scan(page, '-10');
    await assertUnknown(page, '-10', ', but one has it in its serial number');
    await scan(page, 'KW');
    await assertUnknown(page, 'KW', ', but 7 have it in their serial number');
  }));
});

// The box has lost the focus and the next board is scanned: the answer of the last one may not stand.
describe('a scan that lands elsewhere', () => {
  test('from the page it goes to the box', on('demo/report.html', async (page) => {
    await scan(page, 'KW000101');
    await page.click('#units-table th:nth-child(2) button');
    assert.equal(await foundOf(page), '');
    await page.keyboard.type('KW000110');
    await page.keyboard.press('Enter');
    assert.match(await foundOf(page), /^KW000110 . FAIL/);
  }));

  test('in a filter it leaves no answer', on('demo/report.html', async (page) => {
    await scan(page, 'KW000101');
    await page.focus('#by-limit');
    await page.keyboard.type('KW000110');
    assert.equal(await foundOf(page), '');
  }));

  test('the link of an answer can be followed', on('demo/report.html', async (page) => {
    await scan(page, 'KW000101');
    await page.click('#found a');
    assert.match(page.url(), /units\/KW000101\.html$/);
  }));
});

describe('finding and filters', () => {
  test('filters that were set do not hide the unit', on('demo/report.html', async (page) => {
    await page.selectOption('#by-verdict', { label: 'FAIL' });
    await page.selectOption('#by-limit', { label: 'match' });
    await page.focus('#find');
    await scan(page, 'KW000101');
    await assertFound(page, readUnits('demo')[0]);
    assert.deepEqual(await serialsOf(page), ['KW000101']);
    assert.equal(await page.inputValue('#by-verdict'), '');
  }));

  test('what is typed filters at once', on('demo/report.html', async (page) => {
    await page.keyboard.type('kw00012');
    const expected = inTableOrder(readUnits('demo')).map((unit) => unit.serial).filter((serial) => /12\d$/.test(serial));
    await page.waitForFunction((n) => document.getElementById('shown').textContent.startsWith(`${n} `),
      expected.length);
    assert.deepEqual(await serialsOf(page), expected);
  }));

  // What stands beside the box is read as the verdict of the board in hand.
  test('an answer goes when the next serial number begins', on('demo/report.html', async (page) => {
    await scan(page, 'KW000101');
    await page.keyboard.type('K');
    assert.equal(await foundOf(page), '');
    assert.equal(await page.locator('[aria-current]').count(), 0);
  }));

  test('an emptied box shows every unit', on('demo/report.html', async (page) => {
    await scan(page, 'KW000101');
    await page.keyboard.press('Delete');
    await page.waitForFunction(() => document.getElementById('shown').textContent.startsWith('24 '));
    assert.equal((await serialsOf(page)).length, 24);
    assert.equal(await countOf(page), '24 of 24 units');
  }));

  test('the answer leads to the unit', on('demo/report.html', async (page) => {
    await scan(page, 'KW000121');
    await page.click('#found a');
    await page.waitForURL('**/units/KW000121.html');
    assert.equal(await page.textContent('h1'), 'KW000121');
  }));
});
