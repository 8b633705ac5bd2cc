/* The batch page: sorts, filters and finds units, and walks pictures by keyboard. The page says the
   same without it. Only classes and order change; no text of a file ever becomes markup. */
'use strict';
document.documentElement.classList.add('scripted');

/* A scanner does not wait for a long page to be read. Its keys are kept from the first moment: `words`
   since the last Enter, and what was `asked` by it, until the next key belongs to another board. */
const early = { words: '', asked: '' };
function keepEarly(event) {
  const find = document.getElementById('find'), inside = event.target === find;
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
  if (!inside && event.target.closest('input, select')) return;
  if (event.key === 'Enter' && event.target.closest('a, button')) return;
  const before = inside ? find.value : early.words;
  if (event.key === 'Enter') {
    early.asked = before.trim() || early.asked;
    early.words = '';
    if (inside) find.select();
  } else if (event.key.length === 1 && (event.key !== ' ' || inside || before)) {
    early.asked = '';
    if (inside) { /* the box takes it */
      early.words = '';
      return;
    }
    early.words += event.key;
    if (find) find.value = early.words;
  } else {
    return;
  }
  event.preventDefault();
}
document.addEventListener('keydown', keepEarly);

document.addEventListener('DOMContentLoaded', () => {
  const byId = (id) => document.getElementById(id);
  const table = byId('units-table');
  const frame = table.parentElement;
  const body = table.tBodies[0];
  const find = byId('find');
  const found = byId('found');
  const byVerdict = byId('by-verdict');
  const byLimit = byId('by-limit');
  const FIRST_ROWS = 200;
  const SLICE_ROWS = 250; /* that a browser lays out in a blink */
  const SLICE_PART = 8; /* of what is shown: every slice makes it look at all rows again */
  const SAVE_MS = 200;
  const ranks = { fail: 0, open: 1, pass: 2 };
  const natural = new Intl.Collator('en', { numeric: true });
  const numberOf = (words) => (words === undefined ? Infinity : Number(words));

  /* The rows are read when something is asked of them: ten thousand take a while. */
  let units = null, order = null;
  let showAll = false;
  function readRows() {
    if (units) return;
    units = Array.from(body.rows, (row, place) => {
      const [serial, verdict] = row.cells;
      const words = serial.textContent;
      return {
        row,
        place,
        serial: words,
        folded: words.toLowerCase(),
        verdict: verdict.className.split(' ').pop(),
        limits: (row.dataset.l || '').split(' '),
        worst: numberOf(row.dataset.w),
        margin: numberOf(row.dataset.m),
      };
    });
    order = units.slice();
  }

  /* Sorting: a button in every head; again for the other direction. As written the rows stand by
     verdict. */
  const attempts = (unit) => Number(unit.row.cells[4].textContent);
  const compare = [
    (a, b) => natural.compare(a.serial, b.serial),
    (a, b) => ranks[a.verdict] - ranks[b.verdict],
    (a, b) => a.worst - b.worst || 0,
    (a, b) => a.margin - b.margin || 0,
    (a, b) => attempts(a) - attempts(b),
  ];
  const hints = { 2: 'Sorts by the order of the limits file',
    3: 'Sorts by the length of the bar, not by the number' };
  const heads = Array.from(table.tHead.rows[0].cells);
  let sorted = { column: 1, descends: false };

  function sortBy(column, descends) {
    const sign = descends ? -1 : 1;
    readRows();
    heads[sorted.column].removeAttribute('aria-sort');
    heads[column].setAttribute('aria-sort', descends ? 'descending' : 'ascending');
    sorted = { column, descends };
    order.sort((a, b) => sign * compare[column](a, b) || a.place - b.place);
    const rows = document.createDocumentFragment();
    for (const unit of order) rows.append(unit.row);
    body.append(rows);
  }
  heads.forEach((head, column) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = head.textContent;
    if (hints[column]) button.title = hints[column];
    head.replaceChildren(button);
    button.addEventListener('click', () => {
      sortBy(column, head.getAttribute('aria-sort') === 'ascending');
      show();
    });
  });
  heads[1].setAttribute('aria-sort', 'ascending');

  /* Filters: rows that do not match, and those beyond the first, are marked as later. When all are
     wanted the others follow in slices, and the page answers between them. */
  function matches(unit, words) {
    return (!byVerdict.value || unit.verdict === byVerdict.value) &&
      (!byLimit.value || unit.limits.includes(byLimit.value)) &&
      (!words || unit.folded.includes(words));
  }
  function tellCount(n, isPart) {
    byId('shown').textContent = isPart
      ? `${FIRST_ROWS} of ${n} units shown` : `${n} of ${body.rows.length} units`;
    byId('more').hidden = showAll || n <= FIRST_ROWS;
  }
  const choice = () => `${byVerdict.value} ${byLimit.value}`;
  let waiting = 0, slicing = 0, chosen = ' ';
  function show(whenDone) {
    const words = find.value.trim().toLowerCase();
    const fitting = [];
    readRows();
    cancelAnimationFrame(waiting);
    cancelAnimationFrame(slicing);
    chosen = choice();
    for (const unit of order) {
      const later = !matches(unit, words) || fitting.push(unit) > FIRST_ROWS;
      if (unit.row.classList.contains('later') !== later) unit.row.classList.toggle('later', later);
    }
    const n = fitting.length;
    let next = FIRST_ROWS;
    function showSlice() {
      const end = next + Math.max(SLICE_ROWS, Math.round(next / SLICE_PART));
      for (const unit of fitting.slice(next, end)) unit.row.classList.remove('later');
      next = end;
      if (next < n) slicing = requestAnimationFrame(showSlice);
      else finish();
    }
    function finish() {
      tellCount(n, n > FIRST_ROWS && !showAll);
      if (whenDone) whenDone();
    }
    saveSoon();
    if (!showAll || n <= FIRST_ROWS) finish();
    else {
      tellCount(n, true);
      slicing = requestAnimationFrame(showSlice);
    }
  }
  function showSoon() {
    cancelAnimationFrame(waiting);
    waiting = requestAnimationFrame(() => show());
  }
  byVerdict.addEventListener('change', () => show());
  byLimit.addEventListener('change', () => show());
  byId('more').addEventListener('click', () => { showAll = true; show(); });

  /* What was chosen is kept with this place of the history, for the way back from a unit's page. A
     browser may refuse; then the table is as it was written. */
  let saving = 0;
  function save() {
    clearTimeout(saving);
    try {
      history.replaceState({ ...sorted, showAll, verdict: byVerdict.value, limit: byLimit.value,
        words: find.value, top: frame.scrollTop }, '');
    } catch { /* nothing else depends on it */ }
  }
  function saveSoon() {
    clearTimeout(saving);
    saving = setTimeout(save, SAVE_MS);
  }
  function choose(select, value) {
    select.value = value;
    if (select.selectedIndex < 0) select.selectedIndex = 0;
  }
  function restore() {
    let kept = null;
    try { kept = history.state; } catch { /* as above */ }
    if (!kept || !heads[kept.column]) return;
    if (kept.column !== sorted.column || kept.descends) sortBy(kept.column, kept.descends);
    choose(byVerdict, kept.verdict);
    choose(byLimit, kept.limit);
    showAll = kept.showAll === true;
    find.value = kept.words || '';
    show(() => { frame.scrollTop = kept.top; });
  }
  frame.addEventListener('scroll', saveSoon, { passive: true });
  document.addEventListener('click', (event) => { if (event.target.closest('a')) save(); }, true);

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
    frame.scrollTop = unit.row.offsetTop - frame.clientHeight / 2;
    answered = unit;
  }
  /* Only a whole serial number gets a verdict: a part of one may belong to a board that is not in
     the batch. Capitals do not count where nothing else fits. */
  function answer(words) {
    const folded = words.toLowerCase();
    readRows();
    const whole = units.filter((unit) => unit.folded === folded);
    const unit = units.find((one) => one.serial === words) || (whole.length === 1 ? whole[0] : null);
    const n = units.filter((other) => other.folded.includes(folded)).length;
    forget();
    if (unit) tell(unit);
    else found.textContent = `No unit ${words} in this batch` + (n === 0 ? ''
      : n === 1 ? ', but one has it in its serial number' : `, but ${n} have it in their serial number`);
  }
  function ask(words) {
    byVerdict.value = byLimit.value = '';
    show();
    answer(words);
    find.select();
  }
  find.addEventListener('input', () => { forget(); showSoon(); });
  find.addEventListener('keydown', (event) => {
    if (event.key !== 'Enter') return;
    event.preventDefault();
    const words = find.value.trim();
    if (words) ask(words);
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

  /* What was typed while the page was read stands in the box and is answered now; what stood there on
     the way back is selected, or the next scan would be added to it. */
  document.removeEventListener('keydown', keepEarly);
  const typed = early.words || early.asked || find.value;
  tellCount(body.rows.length, body.rows.length > FIRST_ROWS);
  restore();
  find.focus({ preventScroll: true });
  if (typed) find.value = typed;
  if (early.asked) ask(early.asked);
  else if (typed) show();
  else find.select();
  /* On the way back a browser chooses again what was chosen, and only then shows the page. */
  window.addEventListener('pageshow', () => { if (choice() !== chosen) show(); });
});
