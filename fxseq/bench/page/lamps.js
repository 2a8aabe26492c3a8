/** Lamps on the picture: moved and chosen by hand or by keys, one group at a time. What is done with chosen ones is in chosen.js. */

import { get, post } from './api.js';
import { Chosen } from './chosen.js';
import { drag, mayDrag, nearest } from './drag.js';
import { draw, focusedIn, make, spoken } from './make.js';
import { trying } from './say.js';
import { keysGesture, newGesture } from './turn.js';
import { Width } from './width.js';

const STEP_MM = 0.5, COARSE = 10;
const HELP = 'Drag a lamp. Or focus it and use the arrow keys, with Shift for large steps. Click lamps, or press Enter on them, to choose them; '
  + 'drag across the picture to choose several. Chosen lamps move together.';

export class Lamps {
  /** overlay: an svg over the canvas. took(prop): after a change. take(files): files that were chosen. */
  constructor(place, overlay, { took, take }) {
    this.place = place;
    this.overlay = overlay;
    this.took = took;
    this.orders = [];
    this.sent = Promise.resolve();
    this.group = make('select', { id: 'lamp-group' });
    this.group.addEventListener('change', () => this.chosen.clear());
    this.on = make('input', { type: 'checkbox', id: 'move-lamps' });
    this.on.addEventListener('change', () => this.draw());
    this.chosen = new Chosen((order) => this.post(order), () => this.draw());
    this.width = new Width((order) => this.post(order));
    place.replaceChildren(
      make('div', { class: 'row' }, make('label', { class: 'tick' }, this.on, make('span', {}, 'Arrange lamps of')),
        make('label', { htmlFor: 'lamp-group', class: 'unseen' }, 'Group to arrange'), this.group),
      make('p', { class: 'small' }, HELP), this.chosen.element,
      fileRow('lamp-list', 'Places from a CSV (group, number, x_mm, y_mm)', '.csv,text/csv', take),
      fileRow('photo', 'Photo under the lamps (PNG, JPEG, WebP)', '.png,.jpg,.jpeg,.webp', take), this.width.element);
    overlay.addEventListener('pointerdown', (event) => this.down(event));
    overlay.addEventListener('keydown', (event) => this.key(event));
  }

  show(prop) {
    this.carry(prop);
    this.prop = prop;
    const names = prop.groups.map(({ name }) => name), before = this.group.value;
    if (names.join() !== this.names) this.group.replaceChildren(...names.map((name) => make('option', { value: name }, spoken(name))));
    if (names.includes(before)) this.group.value = before;
    this.names = names.join();
    this.width.show(prop);
    if (!this.held) this.draw();
  }

  /** Lamps that have been moved further than the server knows by now stay where they are. */
  carry(prop) {
    for (const { group, numbers } of [this.flight, ...this.orders, this.held].filter(Boolean)) {
      const [before, now] = [this.prop, prop].map(({ lamps }) => lamps.filter((lamp) => lamp.group === group));
      for (const at of numbers.map((number) => number - 1).filter((held) => before[held] && now[held])) {
        Object.assign(now[at], { x_mm: before[at].x_mm, y_mm: before[at].y_mm });
      }
    }
  }

  get lamps() {
    return this.prop.lamps.filter(({ group }) => group === this.group.value);
  }

  draw() {
    this.overlay.toggleAttribute('hidden', !this.on.checked);
    this.chosen.show(this.prop, this.group.value, this.on.checked);
    if (!this.on.checked) return;
    const focused = focusedIn(this.overlay)?.dataset.at;
    const { width_mm, height_mm } = this.prop.picture;
    this.overlay.setAttribute('viewBox', `0 0 ${width_mm} ${height_mm}`);
    this.overlay.replaceChildren(...this.lamps.map((lamp, at) => this.handle(lamp, at, Math.max(width_mm, height_mm))));
    if (this.frame) this.overlay.append(draw('rect', { class: 'frame', ...this.frame }));
    if (focused !== undefined) this.overlay.querySelector(`[data-at="${focused}"]`)?.focus();
  }

  handle({ x_mm, y_mm, size_mm }, at, extent_mm) {
    const radius_mm = Math.max(size_mm * 0.8, extent_mm / 50), turn = this.chosen.turnOf(at + 1);
    const label = draw('text', { 'text-anchor': 'middle', y: radius_mm * 0.45, 'font-size': radius_mm * 1.3 });
    label.textContent = at + 1;
    const chosen = turn ? `, chosen as number ${turn}` : '';
    return draw('g', {
      transform: `translate(${x_mm} ${y_mm})`, tabindex: 0, role: 'button', 'data-at': at, 'aria-pressed': Boolean(turn),
      'aria-label': `Lamp ${at + 1} at ${x_mm.toFixed(1)}, ${y_mm.toFixed(1)} mm${chosen}: arrow keys move it, Enter chooses it`,
    }, draw('circle', { r: radius_mm }), label);
  }

  /** Numbers of the lamps that move with this one. */
  together(at) {
    return this.chosen.turnOf(at + 1) ? this.chosen.numbers : [at + 1];
  }

  key(event) {
    if (event.key === 'Escape') return this.chosen.clear();
    const at = Number(event.target.closest('[data-at]')?.dataset.at ?? -1);
    if (at < 0) return undefined;
    const by_mm = STEP_MM * (event.shiftKey ? COARSE : 1);
    const step = { ArrowRight: [by_mm, 0], ArrowLeft: [-by_mm, 0], ArrowUp: [0, -by_mm], ArrowDown: [0, by_mm] }[event.key];
    if (!step && event.key !== 'Enter' && event.key !== ' ') return undefined;
    event.preventDefault();
    event.stopPropagation();
    if (!step) return event.repeat ? undefined : this.chosen.toggle(at + 1);
    const numbers = this.together(at);
    this.put(this.from(numbers), step);
    return this.send(numbers, keysGesture(`lamp ${this.group.value} ${numbers.join()}`));
  }

  /** Where the pointer is on the picture, and how many millimetres a pixel of the screen is. */
  spot(event) {
    const box = this.overlay.getBoundingClientRect(), per_px = this.prop.picture.width_mm / box.width;
    return { x_mm: (event.clientX - box.left) * per_px, y_mm: (event.clientY - box.top) * per_px, per_px };
  }

  /** The lamp under a pointer, or -1. */
  at(event) {
    const { width: width_px } = this.overlay.getBoundingClientRect(), per_mm = width_px / this.prop.picture.width_mm;
    return nearest(event, this.overlay, this.lamps.map(({ x_mm, y_mm }) => [x_mm * per_mm, y_mm * per_mm]));
  }

  down(event) {
    if (!mayDrag(event, this.overlay)) return;
    const start = this.spot(event), at = this.at(event);
    const numbers = at < 0 ? [] : this.together(at), from = this.from(numbers);
    this.held = { group: this.group.value, numbers };
    if (at >= 0) this.overlay.querySelector(`[data-at="${at}"]`).focus({ focusVisible: false });
    drag(event, this.overlay, {
      move: (moved, across_px, down_px) => {
        if (at < 0) this.span(start, this.spot(moved));
        else this.put(from, [across_px * start.per_px, down_px * start.per_px]);
      },
      end: (how) => this.up(how, at, from),
    });
  }

  up({ hasMoved, isGivenUp }, at, from) {
    this.held = undefined;
    const frame = this.frame, numbers = from.map(({ number }) => number);
    this.frame = undefined;
    if (isGivenUp) this.put(from, [0, 0]);
    else if (hasMoved && at >= 0) this.send(numbers, newGesture());
    else if (at >= 0) this.chosen.toggle(at + 1);
    else if (frame) this.chosen.add(this.within(frame));
    else this.chosen.clear();
  }

  /** Draws a frame between two spots. */
  span(start, now) {
    const [x, y] = [Math.min(start.x_mm, now.x_mm), Math.min(start.y_mm, now.y_mm)];
    this.frame = { x, y, width: Math.abs(now.x_mm - start.x_mm), height: Math.abs(now.y_mm - start.y_mm) };
    this.draw();
  }

  within({ x, y, width, height }) {
    const isIn = ({ x_mm, y_mm }) => x_mm >= x && x_mm <= x + width && y_mm >= y && y_mm <= y + height;
    return this.lamps.flatMap((lamp, at) => (isIn(lamp) ? [at + 1] : []));
  }

  from(numbers) {
    const { lamps } = this;
    return numbers.map((number) => ({ number, x_mm: lamps[number - 1].x_mm, y_mm: lamps[number - 1].y_mm }));
  }

  /** Lamps as far from where they were, within the picture and without losing their order, in tenths of a millimetre. */
  put(from, way) {
    const { lamps } = this, { width_mm, height_mm } = this.prop.picture;
    [['x_mm', width_mm], ['y_mm', height_mm]].forEach(([key, most], axis) => {
      const places = from.map((place) => place[key]);
      const by = Math.max(-Math.min(...places), Math.min(most - Math.max(...places), way[axis]));
      from.forEach((place) => { lamps[place.number - 1][key] = Math.round(10 * (place[key] + by)) / 10; });
    });
    this.draw();
  }

  /** One order at a time; what is moved meanwhile goes with the next. Only lamps that were moved are sent: another tab may move others. */
  send(numbers, gesture) {
    const waiting = this.orders.find(({ group }) => group === this.group.value);
    if (waiting) Object.assign(waiting, { gesture, numbers: [...new Set([...waiting.numbers, ...numbers])] });
    else this.orders.push({ group: this.group.value, numbers, gesture });
    if (!this.isBusy) this.sent = this.sendAll();
  }

  /** Once all that was moved has been answered. */
  settled() {
    return this.sent;
  }

  async sendAll() {
    this.isBusy = true;
    while (this.orders.length) {
      this.flight = this.orders.shift();
      const prop = await trying(() => this.tell(this.flight)) || await trying(() => get('/api/prop'));
      this.flight = undefined;
      if (prop && !this.orders.length) await trying(() => this.took(prop));
    }
    this.isBusy = false;
  }

  /** Where these lamps are now; another tab may have taken some out of the group. */
  tell({ group, numbers, gesture }) {
    const places = this.prop.lamps.filter((lamp) => lamp.group === group);
    const there = numbers.filter((number) => places[number - 1]);
    const moved_mm = Object.fromEntries(there.map((number) => [number, [places[number - 1].x_mm, places[number - 1].y_mm]]));
    return post('/api/lamps', { group, moved_mm, gesture });
  }

  /** Places from a list. */
  async placed(csv) {
    await this.post({ csv });
  }

  async post(order) {
    const prop = await post('/api/lamps', order);
    await this.took(prop);
    return prop;
  }
}

function fileRow(id, label, accept, take) {
  const file = make('input', { type: 'file', accept, id });
  file.addEventListener('change', async () => {
    await take([...file.files]);
    file.value = '';
  });
  return make('div', { class: 'row' }, make('label', { htmlFor: id }, label), file);
}
