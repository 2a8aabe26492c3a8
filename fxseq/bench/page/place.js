/** The mode in which lamps are placed: the picture large and bright, tools above it, groups of lamps beside it. */

import { Chosen } from './chosen.js';
import { drag, mayDrag, nearest } from './drag.js';
import { drawGround } from './ground.js';
import { Groups } from './groups.js';
import { Knobs } from './knobs.js';
import { Lamps } from './lamps.js';
import { make } from './make.js';
import { Moves } from './moves.js';
import { renew } from './renew.js';
import { lineOf, onLine, onRing, ringOf } from './shapes.js';
import { View } from './view.js';
import { Width } from './width.js';

const STEP = 1.4, WHEEL = 0.0016;
const GRID_MM = 5;
const HELP = 'Drag a lamp, or focus it and use the arrow keys, with Shift for large steps. Click lamps, or press Enter on them, to choose them; '
  + 'drag across the picture to choose several. The wheel, + and -, or two fingers, make the picture larger.';

export class Place {
  /** places: {tools, stage, canvas, overlay, side}. take(files): files that were chosen. edits: of the page. build: of the page. */
  constructor(places, { take, edits, build }) {
    const { tools, stage, canvas, overlay, side } = places;
    this.tools = tools;
    this.stage = stage;
    this.canvas = canvas;
    this.overlay = overlay;
    this.side = side;
    this.build = build;
    this.view = new View();
    const changed = () => this.draw();
    this.moves = new Moves((group) => this.lamps.of(group), edits);
    const order = this.order = (it) => edits.ask('/api/lamps', it);
    this.chosen = new Chosen(order, { changed, lay: (shape, numbers) => this.lay(shape, numbers) });
    this.lamps = new Lamps(this.overlay, this.view, { chosen: this.chosen, moves: this.moves, changed, look: (group) => build.look('groups', group) });
    this.knobs = new Knobs(this.overlay, this.view, this.lamps, { changed, set: (...edit) => edits.set(...edit) });
    this.groups = new Groups(build, this.lamps, order);
    this.width = new Width(order);
    this.fingers = new Map();
    this.tool();
    this.form = make('div', { id: 'lamp-form' });
    this.side.replaceChildren(this.form, this.chosen.element, make('details', { id: 'lamp-files' }, make('summary', {}, 'Photo, and places from a list'),
      fileRow('photo', 'Photo under the lamps (PNG, JPEG, WebP)', '.png,.jpg,.jpeg,.webp', take), this.width.element,
      fileRow('lamp-list', 'Places from a CSV (group, number, x_mm, y_mm)', '.csv,text/csv', take)));
    this.hear();
    new ResizeObserver(() => this.isOpen && this.draw()).observe(this.stage);
  }

  tool() {
    const button = (id, label, sign, act) => {
      const made = make('button', { type: 'button', id, 'aria-label': label }, sign);
      made.addEventListener('click', act);
      return made;
    };
    this.zoom = make('output', { id: 'zoom' });
    this.hand = button('hand', 'Move the picture by dragging', 'Move picture', () => {
      this.hand.setAttribute('aria-pressed', String(!this.isHand));
      this.stage.classList.toggle('hand', this.isHand);
    });
    this.hand.setAttribute('aria-pressed', 'false');
    this.grid = make('input', { type: 'checkbox', id: 'grid' });
    this.pitch = make('input', { type: 'number', id: 'grid-mm', min: 0.5, max: 1000, step: 'any', value: GRID_MM, 'aria-label': 'Width of the grid, in mm' });
    for (const control of [this.grid, this.pitch]) control.addEventListener('change', () => this.draw());
    this.tools.replaceChildren(
      button('zoom-out', 'Smaller', '−', () => this.zoomAt(this.middle(), 1 / STEP)), this.zoom, button('zoom-in', 'Larger', '+', () => this.zoomAt(this.middle(), STEP)),
      button('zoom-all', 'Show the whole picture', 'Whole', () => { this.view.whole(); this.draw(); }), this.hand,
      make('label', { class: 'tick' }, this.grid, make('span', {}, 'Grid, lamps snap to it')), make('span', { class: 'amount' }, this.pitch, make('span', { class: 'unit' }, 'mm')));
    this.stage.after(make('p', { class: 'small' }, HELP));
  }

  get isHand() {
    return this.hand.getAttribute('aria-pressed') === 'true';
  }

  get isOpen() {
    return document.body.classList.contains('placing');
  }

  hear() {
    const { overlay } = this;
    overlay.addEventListener('pointerdown', (event) => this.down(event));
    for (const type of ['pointerup', 'pointercancel']) overlay.addEventListener(type, ({ pointerId }) => this.fingers.delete(pointerId));
    overlay.addEventListener('pointermove', (event) => this.pinch(event));
    overlay.addEventListener('keydown', (event) => this.key(event));
    overlay.addEventListener('wheel', (event) => {
      if (this.zoomAt(this.at(event), Math.exp(-event.deltaY * WHEEL))) event.preventDefault();
    }, { passive: false });
  }

  /** + and - make the picture larger and smaller around the lamp that has the focus, 0 shows the whole of it. */
  key(event) {
    const factor = { '+': STEP, '=': STEP, '-': 1 / STEP, 0: 0 }[event.key];
    if (factor === undefined || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    const lamp = this.lamps.lamps[event.target.dataset.at];
    if (factor === 0) this.view.whole();
    else this.view.zoomAt(lamp ? this.lamps.px(lamp) : this.middle(), factor);
    this.draw();
  }

  middle() {
    return this.view.box_px.map((side) => side / 2);
  }

  at({ clientX, clientY }) {
    const { left, top } = this.overlay.getBoundingClientRect();
    return [clientX - left, clientY - top];
  }

  zoomAt(place_px, factor) {
    const hasChanged = this.view.zoomAt(place_px, factor);
    this.draw();
    return hasChanged;
  }

  down(event) {
    if (event.pointerType === 'touch') this.fingers.set(event.pointerId, this.at(event));
    if (this.fingers.size === 2) return this.beginPinch();
    if (!mayDrag(event, this.overlay)) return undefined;
    if (this.isHand) return this.scroll(event);
    return this.take(event);
  }

  /** A press on the picture: on what is nearest, lamp or handle, or beside all of them. */
  take(event) {
    const lamps = this.lamps.lamps.map((lamp) => this.lamps.px(lamp)), knobs = Object.entries(this.knobs.places());
    const at = nearest(event, this.overlay, [...lamps, ...knobs.map(([, place]) => place)]);
    if (at >= lamps.length) this.knobs.down(event, ...knobs[at - lamps.length]);
    else this.lamps.down(event, at);
  }

  scroll(event) {
    let last = [0, 0];
    drag(event, this.overlay, {
      move: (_, ...way_px) => {
        this.view.scroll(...way_px.map((way, axis) => way - last[axis]));
        last = way_px;
        this.draw();
      },
      end: () => {},
    });
  }

  /** What the first finger had begun is given up. */
  beginPinch() {
    const [first] = this.fingers.keys(), held = new Map(this.fingers);
    this.overlay.dispatchEvent(new PointerEvent('pointercancel', { pointerId: first }));
    this.fingers = held;
  }

  pinch(event) {
    if (this.fingers.size !== 2 || !this.fingers.has(event.pointerId)) return;
    const span = () => {
      const [[x1, y1], [x2, y2]] = this.fingers.values();
      return { far: Math.hypot(x1 - x2, y1 - y2), middle: [(x1 + x2) / 2, (y1 + y2) / 2] };
    };
    const before = span();
    this.fingers.set(event.pointerId, this.at(event));
    const now = span();
    this.view.scroll(...now.middle.map((way, axis) => way - before.middle[axis]));
    this.zoomAt(now.middle, now.far / Math.max(before.far, 1));
  }

  /** Chosen lamps, in the order in which they were, on a ring or a line that is theirs alone. */
  lay(shape, numbers) {
    const places = this.lamps.places(numbers), { size_mm } = this.view;
    this.lamps.lay(numbers, shape === 'ring' ? onRing(ringOf(places, size_mm), numbers.length) : onLine(lineOf(places, size_mm), numbers.length));
  }

  /** A prop as the server has it. */
  show(prop, photo) {
    this.moves.carry(prop);
    this.lamps.prop = prop;
    this.photo = photo;
    this.width.show(prop);
    if (this.isOpen) this.draw();
  }

  /** What the file says of the groups, in the mode's own form. */
  showForm(form, parts) {
    const { name } = this.build.chosen;
    if (name !== this.lamps.group) this.chosen.clear();
    this.lamps.group = name;
    this.knobs.show(parts.values.groups?.[name]);
    renew(this.form, ...this.groups.drawn(form, parts));
    this.draw();
  }

  clear() {
    this.form.replaceChildren();
  }

  async placed(csv) {
    await this.order({ csv });
  }

  draw() {
    const { prop } = this.lamps, { overlay, view } = this;
    if (!prop) return;
    const { width_mm, height_mm } = prop.picture, { clientWidth, clientHeight } = this.stage;
    view.lay([width_mm, height_mm], [clientWidth, clientHeight]);
    this.lamps.grid_mm = this.grid.checked && this.pitch.checkValidity() ? Number(this.pitch.value) : 0;
    this.zoom.textContent = `${Math.round(100 * view.zoom)} %`;
    this.chosen.show(prop, this.lamps.group);
    drawGround(this.canvas, view, { picture: prop.picture, photo: this.photo, grid_mm: this.lamps.grid_mm });
    /** @type {any} */
    const active = document.activeElement;
    const focused = overlay.contains(active) ? { ...active.dataset } : {};
    overlay.setAttribute('viewBox', `0 0 ${clientWidth} ${clientHeight}`);
    overlay.replaceChildren(...this.knobs.spoke(), ...this.lamps.drawn(), ...this.knobs.drawn());
    this.lamps.isDrawing = true;
    for (const [key, value] of Object.entries(focused)) overlay.querySelector(`[data-${key}="${value}"]`)?.focus({ preventScroll: true });
    this.lamps.isDrawing = false;
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
