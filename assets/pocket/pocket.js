'use strict';
(function () {
  const byId = (id) => document.getElementById(id);
  const data = JSON.parse(byId('data').textContent);
  const words = data.words;
  const most = 1000;
  const kept = 'homehook-pocket-' + data.page;
  // Which purchase of this page it is, and the skeins of each row that is ticked.
  let purchase = 1;
  let skeins = new Map();
  // The dye lot of each, where one was written down.
  let lots = new Map();

  const plain = (text) => text.normalize('NFKD').replace(/[\u0300-\u036f]/g, '').toLowerCase();
  const rows = Array.from(document.querySelectorAll('li')).map((item, at) => ({
    item,
    at,
    said: data.rows[at],
    found: plain([data.rows[at].number, data.rows[at].name, data.rows[at].range].join(' ')),
    tick: item.querySelector('input'),
    count: item.querySelector('.count'),
    output: item.querySelector('output'),
    lot: item.querySelector('.lot'),
  }));

  function load() {
    try {
      const was = JSON.parse(localStorage.getItem(kept));
      if (!was) return;
      if (Number.isInteger(was.purchase) && was.purchase > 0) purchase = was.purchase;
      skeins = new Map(was.skeins.filter(([at, count]) =>
        at in rows && Number.isInteger(count) && count > 0 && count <= most));
      lots = new Map(was.lots.filter(([at, lot]) => skeins.has(at) && typeof lot === 'string'));
    } catch (e) {
      // Without a memory the ticks last as long as the page is open.
    }
  }

  function store() {
    try {
      localStorage.setItem(kept, JSON.stringify({
        purchase, skeins: Array.from(skeins), lots: Array.from(lots),
      }));
    } catch (e) {
      // As above.
    }
  }

  const ticked = () => rows.filter((row) => skeins.has(row.at));
  const total = () => Array.from(skeins.values()).reduce((sum, count) => sum + count, 0);
  const id = () => 'p' + purchase.toString(16).padStart(8, '0') + data.page;

  // A field of the file. What a spreadsheet would take for a formula gets the apostrophe that an import takes off.
  function cell(text) {
    const kept = /^'*[=+\-@\uff0b\uff0d\uff1d\uff20]/.test(text) ? "'" + text : text;
    return /[",;\t]/.test(kept) ? '"' + kept.replace(/"/g, '""') + '"' : kept;
  }

  // A new colour comes with its first skein to be cut onto a card; all others stay uncut.
  function csv() {
    const line = (row) => {
      const count = skeins.get(row.at);
      const cut = row.said.owned ? 0 : 1;
      const lot = cell(lots.get(row.at) || '');
      return row.said.cells + ',' + lot + ',' + cut + ',' + (count - cut) + ',' + id() + '\r\n';
    };
    return data.titles + '\r\n' + ticked().map(line).join('');
  }

  function typed() {
    const word = (row) => {
      const lot = lots.has(row.at) ? ':' + lots.get(row.at) : '';
      const text = row.said.range + ':' + row.said.number + '=' + skeins.get(row.at) + lot;
      return /^[A-Za-z0-9:.=-]+$/.test(text) ? text : "'" + text.replace(/'/g, "'\\''") + "'";
    };
    return ['homehook bought'].concat(ticked().map(word)).join(' ');
  }

  const number = (count, one, many) => count + ' ' + (count === 1 ? one : many);

  function show() {
    for (const row of rows) {
      const count = skeins.get(row.at) || 0;
      row.tick.checked = count > 0;
      row.item.classList.toggle('bought', count > 0);
      row.count.hidden = count === 0;
      row.output.textContent = String(count);
      const lot = lots.get(row.at) || '';
      if (row.lot.value.trim() !== lot) row.lot.value = lot;
    }
    const none = skeins.size === 0;
    byId('sum').textContent = none
      ? words.none
      : number(skeins.size, words.colour, words.colours) + ', ' + number(total(), words.skein, words.skeins);
    for (const button of ['save', 'text', 'next']) byId(button).disabled = none;
    byId('typed').value = none ? '' : typed();
    byId('csv').value = none ? '' : csv();
    filter();
  }

  function filter() {
    const asked = plain(byId('search').value).split(/\s+/).filter((word) => word);
    const view = document.querySelector('input[name="view"]:checked').value;
    const isShown = (row) => asked.length > 0
      ? asked.every((word) => row.found.includes(word))
      : view === 'all' || (view === 'buy' ? row.said.buy > 0 : skeins.has(row.at));
    let shown = 0;
    for (const row of rows) {
      row.item.hidden = !isShown(row);
      shown += row.item.hidden ? 0 : 1;
    }
    for (const list of document.querySelectorAll('section')) {
      list.hidden = !list.querySelector('li:not([hidden])');
    }
    byId('nothing').hidden = shown > 0;
  }

  function set(row, count) {
    if (count > 0) skeins.set(row.at, Math.min(count, most));
    else {
      skeins.delete(row.at);
      lots.delete(row.at);
    }
    changed();
  }

  function setLot(row) {
    const lot = row.lot.value.trim();
    if (lot) lots.set(row.at, lot);
    else lots.delete(row.at);
    changed();
  }

  function changed() {
    say('');
    store();
    show();
  }

  const say = (text) => { byId('said').textContent = text; };

  function save() {
    try {
      const url = URL.createObjectURL(new Blob([csv()], { type: 'text/csv' }));
      const link = document.createElement('a');
      link.href = url;
      link.download = 'purchase-' + id() + '.csv';
      document.body.append(link);
      link.click();
      link.remove();
      setTimeout(() => URL.revokeObjectURL(url), 60000);
      say(words.saved);
    } catch (e) {
      byId('texts').hidden = false;
      say(words.unsaved);
    }
  }

  function copy(area) {
    area.select();
    try {
      say(document.execCommand('copy') ? words.copied : words.select);
    } catch (e) {
      say(words.select);
    }
  }

  for (const row of rows) {
    const [less, more] = row.count.querySelectorAll('button');
    row.tick.addEventListener('change', () => set(row, row.tick.checked ? Math.max(row.said.buy, 1) : 0));
    less.addEventListener('click', () => set(row, (skeins.get(row.at) || 0) - 1));
    more.addEventListener('click', () => set(row, (skeins.get(row.at) || 0) + 1));
    row.lot.addEventListener('input', () => setLot(row));
  }
  byId('search').addEventListener('input', filter);
  for (const view of document.querySelectorAll('input[name="view"]')) view.addEventListener('change', filter);
  byId('save').addEventListener('click', save);
  byId('text').addEventListener('click', () => { byId('texts').hidden = !byId('texts').hidden; });
  byId('copy-typed').addEventListener('click', () => copy(byId('typed')));
  byId('copy-csv').addEventListener('click', () => copy(byId('csv')));
  byId('next').addEventListener('click', () => {
    if (!window.confirm(words.next)) return;
    purchase += 1;
    skeins = new Map();
    lots = new Map();
    byId('texts').hidden = true;
    changed();
  });
  load();
  if (!data.rows.some((row) => row.buy > 0)) document.querySelector('input[value="all"]').checked = true;
  byId('tools').hidden = false;
  byId('foot').hidden = false;
  show();
}());
