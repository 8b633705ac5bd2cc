/* The batch page: sorts, filters and finds units, and walks pictures by keyboard. The page says the
   same without it. Only classes and order change; no text of a file ever becomes markup. */
'use strict';
document.documentElement.classList.add('scripted');

document.addEventListener('DOMContentLoaded', () => {
  const byId = (id) => document.getElementById(id);
  const table = byId('units-table');
  const body = table.tBodies[0];
  const find = byId('find');
  const found = byId('found');
  const byVerdict = byId('by-verdict');
  const byLimit = byId('by-limit');
  const FIRST_ROWS = 200;
  const ranks = { fail: 0, open: 1, pass: 2 };
  const natural = new Intl.Collator('en', { numeric: true });

  const units = Array.from(body.rows, (row, place) => ({
    row,
    place,
    serial: row.cells[0].textContent,
    verdict: row.cells[1].className.split(' ').pop(),
    limits: (row.dataset.l || '').split(' '),
    margin: row.dataset.m === undefined ? Infinity : Number(row.dataset.m),
  }));
  for (const unit of units) unit.folded = unit.serial.toLowerCase();
  const bySerial = new Map(units.map((unit) => [unit.serial, unit]));
  let order = units.slice();
  let showAll = false;

  /* Sorting: a button in every head; again for the other direction. */
  const compare = [
    (a, b) => natural.compare(a.serial, b.serial),
    (a, b) => ranks[a.verdict] - ranks[b.verdict],
    (a, b) => natural.compare(a.row.cells[2].textContent, b.row.cells[2].textContent),
    (a, b) => a.margin - b.margin || 0,
    (a, b) => Number(a.row.cells[4].textContent) - Number(b.row.cells[4].textContent),
  ];
  const heads = Array.from(table.tHead.rows[0].cells);

  function sortBy(column) {
    const descends = heads[column].getAttribute('aria-sort') === 'ascending';
    const sign = descends ? -1 : 1;
    for (const head of heads) head.removeAttribute('aria-sort');
    heads[column].setAttribute('aria-sort', descends ? 'descending' : 'ascending');
    order.sort((a, b) => sign * compare[column](a, b) || a.place - b.place);
    const sorted = document.createDocumentFragment();
    for (const unit of order) sorted.append(unit.row);
    body.append(sorted);
    show();
  }
  heads.forEach((head, column) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = head.textContent;
    head.replaceChildren(button);
    button.addEventListener('click', () => sortBy(column));
  });

  /* Filters: rows that do not match, and those beyond the first, are marked as later. */
  function matches(unit, words) {
    return (!byVerdict.value || unit.verdict === byVerdict.value) &&
      (!byLimit.value || unit.limits.includes(byLimit.value)) &&
      (!words || unit.folded.includes(words));
  }
  function show() {
    const words = find.value.trim().toLowerCase();
    let n = 0;
    for (const unit of order) {
      const later = !matches(unit, words) || (n++ >= FIRST_ROWS && !showAll);
      if (unit.row.classList.contains('later') !== later) unit.row.classList.toggle('later', later);
    }
    byId('shown').textContent = n > FIRST_ROWS && !showAll
      ? `${FIRST_ROWS} of ${n} units shown` : `${n} of ${units.length} units`;
    byId('more').hidden = showAll || n <= FIRST_ROWS;
  }
  let waiting = 0;
  function showSoon() {
    cancelAnimationFrame(waiting);
    waiting = requestAnimationFrame(show);
  }
  byVerdict.addEventListener('change', show);
  byLimit.addEventListener('change', show);
  byId('more').addEventListener('click', () => { showAll = true; show(); });

  /* Finding: a scanner types a serial number and ends with Enter. The answer goes with the next
     key, so that no verdict stands beside another unit's number. */
  let answered = null;
  function forget() {
    if (answered) answered.row.removeAttribute('aria-current');
    answered = null;
    found.replaceChildren();
  }
  function tell(unit) {
    const link = unit.row.cells[0].firstElementChild;
    const name = link ? link.cloneNode(true) : document.createElement('span');
    const verdict = document.createElement('b');
    name.textContent = unit.serial;
    verdict.className = unit.row.cells[1].className;
    verdict.textContent = unit.row.cells[1].textContent;
    found.append(name, ' ', verdict, ' ', unit.row.cells[2].textContent);
    unit.row.classList.remove('later');
    unit.row.setAttribute('aria-current', 'true');
    const frame = table.parentElement;
    frame.scrollTop = unit.row.offsetTop - frame.clientHeight / 2;
    answered = unit;
  }
  /* Only a whole serial number gets a verdict: a part of one may belong to a board that is not in
     the batch. Capitals do not count where nothing else fits. */
  function answer(words) {
    const folded = words.toLowerCase();
    const whole = units.filter((unit) => unit.folded === folded);
    const unit = bySerial.get(words) || (whole.length === 1 ? whole[0] : null);
    const n = units.filter((other) => other.folded.includes(folded)).length;
    forget();
    if (unit) tell(unit);
    else found.textContent = `No unit ${words} in this batch` + (n === 0 ? ''
      : n === 1 ? ', but one has it in its serial number' : `, but ${n} have it in their serial number`);
  }
  find.addEventListener('input', () => { forget(); showSoon(); });
  find.addEventListener('keydown', (event) => {
    if (event.key !== 'Enter') return;
    event.preventDefault();
    const words = find.value.trim();
    if (!words) return;
    byVerdict.value = byLimit.value = '';
    cancelAnimationFrame(waiting);
    show();
    answer(words);
    find.select();
  });

  /* An answer does not outlive the box: a scan that lands elsewhere would leave another board's verdict
     standing. Keys that belong to nothing else go to the box. */
  find.addEventListener('blur', (event) => {
    if (!found.contains(event.relatedTarget)) forget();
  });
  document.addEventListener('keydown', (event) => {
    const typed = event.key.length === 1 && event.key !== ' ' &&
      !event.ctrlKey && !event.altKey && !event.metaKey;
    if (!typed || event.target.closest('input, select')) return;
    forget();
    find.focus();
  });

  /* Arrow keys move from one link to the next: rows of the table, lines of a picture. */
  function walk(links, event) {
    const steps = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 };
    const from = links.indexOf(document.activeElement);
    const to = from + (steps[event.key] || 0);
    if (to === from || from < 0 || !links[to]) return null;
    event.preventDefault();
    links[to].focus();
    return links[to];
  }
  body.addEventListener('keydown', (event) => {
    if (event.key !== 'ArrowDown' && event.key !== 'ArrowUp') return;
    walk(Array.from(body.querySelectorAll('tr:not(.later) a')), event);
  });

  /* A line is thin and may be dashed: near it is good enough to point at it. Its corners stand in
     the path behind "M" from the edge, behind "l" from the corner before. */
  const REACH_PX = 8;
  function cornersOf(link) {
    const corners = [];
    const path = link.querySelector('path').getAttribute('d');
    for (const [, command, words] of path.matchAll(/([Ml])([^a-zA-Z]*)/g)) {
      const numbers = words.match(/-?\d*\.?\d+/g).map(Number);
      for (let i = 0; i < numbers.length; i += 2) {
        const pen = command === 'l' ? corners.at(-1) : { x: 0, y: 0 };
        corners.push({ x: pen.x + numbers[i], y: pen.y + numbers[i + 1], begins: command === 'M' });
      }
    }
    return corners;
  }
  function distance(from, to, at) {
    const dx = to.x - from.x, dy = to.y - from.y, square = dx * dx + dy * dy;
    const along = square ? ((at.x - from.x) * dx + (at.y - from.y) * dy) / square : 0;
    const part = Math.min(1, Math.max(0, along));
    return Math.hypot(from.x + part * dx - at.x, from.y + part * dy - at.y);
  }
  function lineNear(lines, event) {
    const hit = event.target.closest('a.unit');
    if (hit) return hit;
    const matrix = lines[0].link.querySelector('path').getScreenCTM();
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    let least = REACH_PX / matrix.a, best = null;
    for (const { link, corners } of lines) {
      corners.forEach((corner, i) => {
        const off = distance(corners[corner.begins ? i : i - 1], corner, at);
        if (off < least) [least, best] = [off, link];
      });
    }
    return best;
  }
  let pointed = null;
  function point(link) {
    if (link === pointed) return;
    if (pointed) pointed.classList.remove('near');
    if (link) link.classList.add('near');
    pointed = link;
  }

  for (const figure of document.querySelectorAll('figure')) {
    const links = Array.from(figure.querySelectorAll('a.unit'));
    const reach = (chosen) => {
      for (const link of links) link.setAttribute('tabindex', link === chosen ? '0' : '-1');
    };
    if (links.length > 0) reach(links[0]);
    figure.addEventListener('keydown', (event) => {
      const next = walk(links, event);
      if (next) reach(next);
    });
    if (links.length === 0) continue;
    let lines = null;
    const near = (event) => {
      lines = lines || links.map((link) => ({ link, corners: cornersOf(link) }));
      return lineNear(lines, event);
    };
    figure.addEventListener('pointermove', (event) => point(near(event)));
    figure.addEventListener('pointerleave', () => point(null));
    figure.addEventListener('click', (event) => {
      const link = event.target.closest('a') ? null : near(event);
      if (link) link.dispatchEvent(new MouseEvent('click', event));
    });
  }
  show();
  find.focus({ preventScroll: true });
  /* On the way back a browser chooses again what was chosen, and only then shows the page. */
  window.addEventListener('pageshow', show);
});
