/** The wiring sheet: what is soldered to what, as drawings and as lists. */

import { get, getText } from './api.js';
import { make } from './make.js';
import { trying } from './say.js';

const DARK = matchMedia('(prefers-color-scheme: dark)');
const DRAWN = { wiring: 'Diagram of the wiring; all that it says is in the lists below', board: 'Pins of the board, seen from above; they are in the lists below' };

export class Wiring {
  constructor() {
    this.sheet = make('div', { class: 'sheet', id: 'wiring-sheet' });
    DARK.addEventListener('change', () => this.sheet.isConnected && this.fill());
  }

  /** Its place on the page, which is filled anew where the prop is another one. */
  drawn(revision) {
    if (revision !== this.revision) this.fill();
    this.revision = revision;
    return [make('h2', { tabIndex: -1 }, 'Wiring sheet'),
      make('p', { class: 'small' }, 'What is soldered to what, worked out from all parts of the prop. It follows every change.'), this.sheet];
  }

  fill() {
    this.sheet.setAttribute('aria-busy', 'true');
    this.asked = trying(() => this.ask().catch((error) => {
      this.revision = undefined;
      throw error;
    }));
  }

  async ask() {
    const view = await get('/api/wiring'), theme = DARK.matches ? 'dark' : 'light';
    if (this.shown > view.revision) return;
    this.shown = view.revision;
    const figures = view.drawings.map((name) => make('div', { class: 'wide', tabIndex: 0, role: 'group', 'aria-label': DRAWN[name], id: `drawing-${name}` }));
    this.sheet.replaceChildren(...(view.remark ? [make('p', {}, view.remark)] : []), ...figures, ...view.tables.map(table), ...view.lists.map(list));
    await Promise.all(view.drawings.map(async (name, at) => figures[at].replaceChildren(drawing(await getText(`/api/wiring/${name}/${theme}`), DRAWN[name]))));
    this.sheet.setAttribute('aria-busy', 'false');
  }
}

/** Styles within a drawing are forbidden by the page's policy unless a script sets them. */
function drawing(text, label) {
  const { documentElement: svg } = new DOMParser().parseFromString(text, 'image/svg+xml');
  /** @type {NodeListOf<SVGElement>} */
  const parts = svg.querySelectorAll('[data-style]');
  for (const part of parts) part.style.cssText = part.dataset.style ?? '';
  svg.setAttribute('role', 'img');
  svg.setAttribute('aria-label', label);
  return document.importNode(svg, true);
}

function table({ title, head, rows }) {
  const cells = (row) => row.map((cell, at) => make(at ? 'td' : 'th', at ? {} : { scope: 'row' }, cell.replaceAll('_', ' ')));
  const top = head.length ? [make('thead', {}, make('tr', {}, ...head.map((cell) => make('th', { scope: 'col' }, cell))))] : [];
  return make('div', { class: 'wide', tabIndex: 0, role: 'group', 'aria-label': title },
    make('table', {}, make('caption', {}, title), ...top, make('tbody', {}, ...rows.map((row) => make('tr', {}, ...cells(row))))));
}

function list({ title, items }) {
  return make('div', {}, make('h3', {}, title), make('ul', {}, ...items.map((item) => make('li', {}, item))));
}
