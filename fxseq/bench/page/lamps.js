/** Lamps that are moved on the picture, by hand or by arrow keys, or placed from a list. */

import { post } from './api.js';
import { draw, make, spoken } from './make.js';
import { say, trying } from './say.js';
import { newGesture } from './turn.js';

const STEP_MM = 0.5, COARSE = 10;
const HELP = 'Drag a lamp, or focus it and use the arrow keys, with Shift in large steps. They are numbered in the order of the file.';

export class Lamps {
  /** overlay: an svg over the canvas. took(prop): after a move. */
  constructor(place, overlay, took) {
    Object.assign(this, { place, overlay, took });
    this.choice = make('select', { id: 'lamp-group' });
    this.choice.addEventListener('change', () => this.draw());
    this.on = make('input', { type: 'checkbox', id: 'move-lamps' });
    this.on.addEventListener('change', () => this.draw());
    const file = make('input', { type: 'file', accept: '.csv,text/csv', id: 'lamp-list' });
    file.addEventListener('change', () => trying(() => this.read(file)));
    place.replaceChildren(
      make('div', { class: 'row' }, make('label', { class: 'tick' }, this.on, make('span', {}, 'Move lamps of')),
        make('label', { htmlFor: 'lamp-group', class: 'unseen' }, 'Group to move'), this.choice),
      make('p', { class: 'small' }, HELP),
      make('div', { class: 'row' }, make('label', { htmlFor: 'lamp-list' }, 'Places from a CSV (group, number, x_mm, y_mm)'), file));
  }

  show(prop) {
    this.prop = prop;
    const names = prop.groups.map(({ name }) => name);
    if (names.join() !== this.names) this.choice.replaceChildren(...names.map((name) => make('option', { value: name }, spoken(name))));
    this.names = names.join();
    if (!this.dragging) this.draw();
  }

  get lamps() {
    return this.prop.lamps.filter(({ group }) => group === this.choice.value);
  }

  draw() {
    this.overlay.toggleAttribute('hidden', !this.on.checked);
    if (!this.on.checked) return;
    const focused = this.overlay.contains(document.activeElement) ? document.activeElement.dataset.at : undefined;
    const { width_mm, height_mm } = this.prop.picture;
    this.overlay.setAttribute('viewBox', `0 0 ${width_mm} ${height_mm}`);
    this.overlay.replaceChildren(...this.lamps.map((lamp, at) => this.handle(lamp, at, Math.max(width_mm, height_mm))));
    if (focused !== undefined) this.overlay.querySelector(`[data-at="${focused}"]`)?.focus();
  }

  handle({ x_mm, y_mm, size_mm }, at, extent_mm) {
    const radius_mm = Math.max(size_mm * 0.8, extent_mm / 70);
    const label = draw('text', { 'text-anchor': 'middle', y: radius_mm * 0.4, 'font-size': radius_mm * 1.1 });
    label.textContent = at + 1;
    const handle = draw('g', {
      transform: `translate(${x_mm} ${y_mm})`, tabindex: 0, role: 'button', 'data-at': at,
      'aria-label': `Lamp ${at + 1} at ${x_mm.toFixed(1)}, ${y_mm.toFixed(1)} mm: arrow keys move it`,
    }, draw('circle', { r: radius_mm }), label);
    handle.addEventListener('pointerdown', (event) => this.grab(event, at));
    handle.addEventListener('keydown', (event) => this.key(event, at));
    return handle;
  }

  key(event, at) {
    const by_mm = STEP_MM * (event.shiftKey ? COARSE : 1);
    const step = { ArrowRight: [by_mm, 0], ArrowLeft: [-by_mm, 0], ArrowUp: [0, -by_mm], ArrowDown: [0, by_mm] }[event.key];
    if (!step) return;
    event.preventDefault();
    const lamp = this.lamps[at];
    this.put(at, lamp.x_mm + step[0], lamp.y_mm + step[1]);
    this.send(`keys lamp ${this.choice.value} ${at}`);
  }

  grab(event, at) {
    event.preventDefault();
    this.dragging = true;
    this.overlay.setPointerCapture(event.pointerId);
    this.overlay.onpointermove = (moved) => {
      const box = this.overlay.getBoundingClientRect();
      const { width_mm, height_mm } = this.prop.picture;
      this.put(at, (moved.clientX - box.left) * width_mm / box.width, (moved.clientY - box.top) * height_mm / box.height);
    };
    this.overlay.onpointerup = this.overlay.onpointercancel = () => {
      this.overlay.onpointermove = this.overlay.onpointerup = this.overlay.onpointercancel = null;
      this.dragging = false;
      this.send(newGesture());
    };
  }

  /** Within the picture, in tenths of a millimetre. */
  put(at, x_mm, y_mm) {
    const lamp = this.lamps[at];
    const within = (value, most) => Math.round(10 * Math.max(0, Math.min(most, value))) / 10;
    lamp.x_mm = within(x_mm, this.prop.picture.width_mm);
    lamp.y_mm = within(y_mm, this.prop.picture.height_mm);
    this.draw();
  }

  /** One order at a time; what is moved meanwhile goes with the next. */
  async send(gesture) {
    this.waiting = gesture;
    if (this.isBusy) return;
    this.isBusy = true;
    while (this.waiting) {
      const order = { group: this.choice.value, places_mm: this.lamps.map(({ x_mm, y_mm }) => [x_mm, y_mm]), gesture: this.waiting };
      this.waiting = null;
      const prop = await trying(() => post('/api/lamps', order));
      if (prop && !this.waiting) await this.took(prop);
    }
    this.isBusy = false;
  }

  async read(file) {
    if (!file.files.length) return;
    await this.took(await post('/api/lamps', { csv: await file.files[0].text() }));
    file.value = '';
    say('The lamps are placed.');
  }
}
