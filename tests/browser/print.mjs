// Printed pages: a unit is one sheet of A4 and of Letter, the report prints every row.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { after, before, test } from 'node:test';
import { inTableOrder, newContext, openPage, pagesOf, readUnits, startBrowser } from './browser.mjs';

let browser, context, folder;
before(async () => {
  browser = await startBrowser();
  context = await newContext(browser);
  folder = mkdtempSync(join(tmpdir(), 'gainsieve-print-'));
});
after(async () => {
  rmSync(folder, { recursive: true });
  await browser.close();
});

// The words of each printed page.
async function print(page, format) {
  const path = join(folder, 'print.pdf');
  await page.pdf({ path, format });
  const words = execFileSync('pdftotext', ['-layout', path, '-'], { encoding: 'utf8' });
  return words.split('\f').slice(0, -1);
}

test('every unit of the demo is one sheet of A4 and of Letter', async () => {
  const verdicts = new Map(readUnits('demo').map((unit) => [unit.serial, unit.verdict]));
  for (const name of pagesOf('demo').slice(1)) {
    const page = await openPage(context, name);
    for (const format of ['A4', 'Letter']) {
      const sheets = await print(page, format), serial = basename(name, '.html');
      assert.equal(sheets.length, 1, `${name} takes ${sheets.length} sheets of ${format}`);
      assert.ok(sheets[0].includes(serial), name);
      assert.ok(sheets[0].includes(verdicts.get(serial)), name);
      assert.match(sheets[0], /Signature/);
      assert.doesNotMatch(sheets[0], /The whole batch/);
    }
    await page.close();
  }
});

test('page one of the report on A4 and on Letter', async () => {
  const page = await openPage(context, 'demo/report.html');
  for (const format of ['A4', 'Letter']) {
    const [first] = await print(page, format);
    assert.match(first, /Kittiwake KW-170 driver board/);
    assert.match(first, /PASS[^]*FAIL[^]*INCOMPLETE/);
    assert.match(first, /\b19\b[^]*\b5\b[^]*\b0\b/);
    assert.match(first, /79\.2 %/);
    assert.doesNotMatch(first, /Find a serial number/);
  }
  await page.close();
});

// Serial numbers that begin a line and have a verdict behind: those in pictures do not count.
const printedSerials = (sheets) => (sheets.join('\n')
  .match(/^ *KW\d{6}(?= +[^A-Za-z\d\s] +(PASS|FAIL))/gm) || []).map((serial) => serial.trim());

test('the report prints every row, also those that the screen leaves out', async () => {
  const page = await openPage(context, 'middle/report.html');
  const sheets = await print(page, 'A4');
  await page.close();
  assert.deepEqual(printedSerials(sheets), inTableOrder(readUnits('middle')).map((unit) => unit.serial));
  for (const sheet of sheets.filter((words) => printedSerials([words]).length > 1))
    assert.match(sheet, /Serial +Verdict ↑ +Worst limit +Margin +Attempts/);
});

test('a filter does not shorten what is printed', async () => {
  const page = await openPage(context, 'demo/report.html');
  await page.selectOption('#by-verdict', { label: 'FAIL' });
  const sheets = await print(page, 'A4');
  await page.close();
  assert.deepEqual(printedSerials(sheets), inTableOrder(readUnits('demo')).map((unit) => unit.serial));
});

// Dark colours of a screen would be dark ink on paper.
test('a dark screen prints black on white', async () => {
  const dark = await newContext(browser, { colorScheme: 'dark' });
  const page = await openPage(dark, 'demo/units/KW000110.html');
  await print(page, 'A4');
  const picture = join(folder, 'dark');
  execFileSync('pdftoppm', ['-r', '20', '-gray', join(folder, 'print.pdf'), picture]);
  const file = readFileSync(`${picture}-1.pgm`);
  const grey = file.subarray(file.length - 8000);
  assert.ok(grey.reduce((sum, shade) => sum + shade, 0) / grey.length > 220);
  await dark.close();
});
