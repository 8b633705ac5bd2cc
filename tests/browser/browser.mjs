// What the tests share: the browser, the pages of a report, the tables that they are held against.
// REPORTS is the folder of make_reports.mjs, BROWSER_HOME that of the packages and pictures.
import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';

const reports = resolve(process.env.REPORTS);
const home = resolve(process.env.BROWSER_HOME);
const packages = createRequire(join(home, 'package.json'));
const { chromium } = packages('playwright-core');

export const SCREENS = join(home, 'screens');
export const packageFile = (name) => packages.resolve(name);
export const pathOf = (page) => join(reports, page);
export const urlOf = (page) => pathToFileURL(pathOf(page)).href;
export const pagesOf = (report) => [
  `${report}/report.html`,
  ...readdirSync(pathOf(`${report}/units`)).sort().map((name) => `${report}/units/${name}`),
];

export function startBrowser() {
  return chromium.launch({
    executablePath: '/usr/bin/chromium',
    headless: true,
    chromiumSandbox: process.getuid() !== 0,
    args: ['--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
      '--disable-component-update', '--disable-sync'],
  });
}

// Windows that are set up alike.
export async function newContext(browser, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...options });
  context.setDefaultTimeout(20000);
  await context.addInitScript(() => {
    document.addEventListener('securitypolicyviolation', (event) => {
      (window.breaches ||= []).push(`${event.effectiveDirective}: ${event.blockedURI}`);
    });
  });
  return context;
}

// A page and what goes wrong on it: words on the console, errors, breaches of the policy, and
// requests that leave the disk.
export async function openPage(context, page) {
  const opened = await context.newPage();
  opened.faults = [];
  opened.on('console', (message) => opened.faults.push(`console: ${message.text()}`));
  opened.on('pageerror', (error) => opened.faults.push(`error: ${error.message}`));
  opened.on('request', (request) => {
    if (!request.url().startsWith('file:')) opened.faults.push(`request: ${request.url()}`);
  });
  await opened.goto(urlOf(page));
  return opened;
}

export async function assertFaultless(page) {
  const breaches = await page.evaluate(() => window.breaches || []);
  assert.deepEqual([...page.faults, ...breaches], [], page.url());
}

// For a test: does it on a page of its own, which must end without a fault.
export function onPage(context, page, act) {
  return async (t) => {
    const opened = await openPage(context(), page);
    try {
      await act(opened, t);
      await assertFaultless(opened);
    } finally {
      await opened.close();
    }
  };
}

// RFC 4180: rows as objects by the names of the head.
export function readTable(path) {
  const text = readFileSync(pathOf(path), 'utf8');
  const rows = [[]];
  for (const [, quoted, bare, end] of text.matchAll(/(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n)/g)) {
    rows.at(-1).push(quoted === undefined ? bare : quoted.replaceAll('""', '"'));
    if (end !== ',') rows.push([]);
  }
  const head = rows.shift();
  return rows.filter((row) => row.length > 0)
    .map((row) => Object.fromEntries(row.map((cell, i) => [head[i], cell])));
}

// The last attempt of each unit from units.csv and results.csv, in the order of the file.
export function readUnits(report) {
  const units = new Map();
  for (const row of readTable(`${report}/units.csv`))
    units.set(row.serial, { ...row, attempts: (units.get(row.serial)?.attempts || 0) + 1 });
  for (const row of readTable(`${report}/results.csv`)) {
    const unit = units.get(row.serial);
    if (unit.attempt === row.attempt) (unit.results ||= []).push(row);
  }
  return [...units.values()];
}

// As the table is written: what failed first, what passed last, each in the order of the file.
export function inTableOrder(units) {
  const place = { FAIL: 0, INCOMPLETE: 1, PASS: 2 };
  return [...units].sort((a, b) => place[a.verdict] - place[b.verdict]);
}

// Every row that can be seen, in the order of the table.
export function rowsOf(page) {
  return page.evaluate(() => Array.from(document.querySelectorAll('#units-table tbody tr'))
    .filter((row) => row.checkVisibility())
    .map((row) => Array.from(row.cells, (cell) => cell.textContent.trim())));
}

export const serialsOf = async (page) => (await rowsOf(page)).map((row) => row[0]);
export const countOf = (page) => page.textContent('#shown');
export const foundOf = async (page) => (await page.textContent('#found')).trim();

// As a scanner types: a key every millisecond, then Enter.
export async function scan(page, serial) {
  await page.keyboard.type(serial, { delay: 1 });
  await page.keyboard.press('Enter');
}
