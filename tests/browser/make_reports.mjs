// The reports that the tests look at, written to the folder REPORTS by the program GAINSIEVE:
//   demo     24 emulated boards against the demo's limits
//   mixed    the same sweeps under other serial numbers: repeats, gaps, names that begin alike
//   hostile  the same sweeps under names, notes and limits that try to be markup
//   big      10,000 boards; middle: the first 2,000 of them
import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';

const top = resolve(process.env.REPORTS);
const demo = join(top, 'archive');
const DEMO_LIMITS = 'docs/demo/kittiwake.xml';

function run(statuses, ...words) {
  const done = spawnSync(process.env.GAINSIEVE, words, { encoding: 'utf8' });
  if (!statuses.includes(done.status))
    throw new Error(`status ${done.status}: ${words.join(' ')}\n${done.stderr}`);
}

// The file of some words, under the folder of the reports.
function write(name, words) {
  writeFileSync(join(top, name), words);
  return join(top, name);
}

function check(report, limits, index) {
  run([0, 1], 'check', '--limits', limits, '--index', index, '--out', join(top, report));
}

const row = (cells) => cells.map((cell) => `"${cell.replaceAll('"', '""')}"`).join(',') + '\r\n';

// An index of the demo's sweeps under other names. A board says which of the demo's it is, and what
// stands in the columns; `without` is a bias step that is left out.
function indexOf(boards) {
  const files = readFileSync(join(demo, 'index.csv'), 'utf8').trim().split(/\r?\n/).slice(1)
    .map((line) => line.split(','));
  let index = row(['serial', 'attempt', 'bias', 'file', 'bias_current_ma', 'measured_at',
    'operator', 'bench']);
  for (const { board, serial, attempt = 1, without, at = '', operator = '', bench = '', file }
    of boards) {
    for (const [known, , bias, usual, current] of files) {
      if (known !== `KW000${board}` || bias === without) continue;
      index += row([serial, String(attempt), bias, join(demo, file && bias === 'low' ? file : usual),
        current, at, operator, bench]);
    }
  }
  return index;
}

// Boards 109, 110, 114, 118 and 121 of the demo fail.
function makeMixed() {
  const day = '2026-11-25T14:05:00Z';
  const boards = [
    { board: 109, serial: 'KW1', attempt: 1, at: day }, { board: 101, serial: 'KW1', attempt: 2 },
    { board: 110, serial: 'KW10' }, { board: 102, serial: 'KW100', at: day },
    { board: 103, serial: 'KW2', without: 'high' }, { board: 104, serial: 'kw2' },
    { board: 114, serial: 'KW20', attempt: 1 }, { board: 118, serial: 'KW20', attempt: 2 },
    { board: 105, serial: 'KW20', attempt: 3 }, { board: 106, serial: 'KW3', attempt: 1 },
    { board: 121, serial: 'KW3', attempt: 2, without: 'low' },
    { board: 107, serial: 'B-9', without: 'mid' }, { board: 108, serial: 'B-10' },
  ];
  const limits = readFileSync(DEMO_LIMITS, 'utf8').replace(/<serial-numbers[^>]*>/, '');
  check('mixed', write('mixed.xml', limits), write('mixed.csv', indexOf(boards)));
}

function makeHostile() {
  const script = '<script>alert(1)</script>', image = '"><img src=x onerror=alert(1)>';
  const turned = 'Anna \u202eelpoep\u2066 \u200f', long = 'Operator'.padEnd(5000, 'o');
  const comments = `! ${script}${image}\n! <!-- --!> ]]> &amp; \u202e\n`;
  const file = 'it\'s "><img src=x onerror=alert(1)>.s2p';
  const boards = [
    { serial: script, operator: script, bench: image }, { serial: image, operator: turned },
    { serial: '" onmouseover="alert(1)', operator: long, bench: long },
    { serial: "' autofocus onfocus='alert(1)", operator: 'x', bench: script },
    { serial: '</title></style><b>&amp;&lt;', operator: 'y' }, { serial: '%3Cb%3E%00' },
    { serial: '..%2F..%2Freport', bench: turned }, { serial: '../../report' },
    { serial: '\u0645\u0635\u0639\u062f 12 \u05d1\u05d3\u05d9\u05e7\u05d4' }, { serial: 'CON' },
    { serial: '#units?x=1', without: 'low' }, { serial: 'O'.repeat(64), operator: long },
    { serial: 'javascript:alert(1)', file, operator: long },
  ].map((board, i) => ({ board: 109 + i, ...board }));
  const sweep = readFileSync(join(demo, 'KW000121_low.s2p'), 'utf8');
  write(`archive/${file}`, comments + sweep);
  const told = (words) => words.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('"', '&quot;');
  const limits = readFileSync(DEMO_LIMITS, 'utf8')
    .replace(/product="[^"]*"/, `product="${told(script + image)}"`)
    .replace(/revision="[^"]*"/, `revision="${told(image)}"`)
    .replace(/<note>[^<]*/, `<note>${told(script + image)} ${'n'.repeat(3000)}`)
    .replace(/<when-failed>[^<]*/g, `<when-failed>${told(script + image)} ${'w'.repeat(500)}`);
  check('hostile', write('hostile <b>.xml', limits), write('hostile.csv', indexOf(boards)));
}

// A point a MHz is the widest step that the demo's limits allow.
function makeMany() {
  const archive = join(top, 'archive-big');
  run([0], 'emulate', '--archive', archive, '--units', '10000', '--points', '41');
  const lines = readFileSync(join(archive, 'index.csv'), 'utf8').split('\n');
  writeFileSync(join(archive, 'middle.csv'), lines.slice(0, 1 + 5 * 2000).join('\n') + '\n');
  check('big', DEMO_LIMITS, join(archive, 'index.csv'));
  check('middle', DEMO_LIMITS, join(archive, 'middle.csv'));
}

run([0], 'emulate', '--archive', demo, '--units', '24', '--seed', '1');
check('demo', DEMO_LIMITS, join(demo, 'index.csv'));
makeMixed();
makeHostile();
makeMany();
