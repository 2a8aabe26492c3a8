/** A fade on a strip of time, whose points are dragged, added and taken out. */

import { SHAPES, curve, lengthOf, levelOf, pathOf, split, startOf, whole } from './curve.js';
import { drag, mayDrag, nearest } from './drag.js';
import { act } from './form.js';
import { byId, draw, focusedIn, make, number, spoken } from './make.js';
import { renew } from './renew.js';
import { Surface, asSlider, text, timeMarks } from './surface.js';
import { keysGesture, newGesture } from './turn.js';

const HEIGHT = 190, TOP = 14, BOTTOM = 26, LEFT = 48, RIGHT = 20, POINT_PX = 8;
const STEP_MS = 5, COARSE = 10, SHORTEST_MS = 100;
/** Room behind the last point, into which it can be dragged. */
const ROOM = 1.2;
const AMBIENT = 'ambient', START = -1;
const ARROWS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const HELP = 'Drag a point for time and level, or use the arrow keys (Shift: large steps, Delete: take out). Double-click the curve for a new point.';

export class FadeStrip {
  /**
   * usesOf(fade): where effects use it, as build.js says it. id: that of its controls begins so.
   * @param {any} orders @param {{ usesOf?: (fade: string) => any[] }} around
   */
  constructor(orders, { usesOf = () => [] } = {}, id = 'fade') {
    this.usesOf = usesOf;
    this.id = id;
    this.name = '';
    /** @type {any} */
    this.fade = null;
    this.place = null;
    this.span_ms = SHORTEST_MS;
    this.chosen = 0;
    this.surface = new Surface('Curve of the fade', () => this.paint());
    this.orders = this.surface.through(orders);
    this.surface.element.classList.add('both-ways');
    this.surface.element.addEventListener('pointerdown', (event) => this.grab(event));
    this.surface.element.addEventListener('dblclick', (event) => this.splitUnder(event));
    this.note = make('div', { class: 'shared' });
    this.tools = make('div', { class: 'strip-tools' });
    this.element = make('div', { class: 'strip-box' }, this.note, this.surface.element, this.surface.fault, make('p', { class: 'small' }, HELP), this.tools);
  }

  get isHeld() {
    return this.held !== undefined;
  }

  /** place: path of the name of the fade in an effect, where it is looked at there. @param {any} place */
  show(name, fade, place = null) {
    if (name !== this.name) {
      this.chosen = 0;
      this.surface.fault.textContent = '';
    }
    this.name = name;
    this.place = place;
    this.fade = whole(fade);
    this.chosen = Math.min(this.chosen, this.fade.segments.length - 1);
    this.surface.element.setAttribute('aria-label', `Curve of the fade ${spoken(name)}`);
    this.showNote();
    this.showTools();
    this.surface.draw();
  }

  get path() {
    return ['fades', this.name];
  }

  /** Where else it is used, before anything changes there. */
  showNote() {
    const others = this.usesOf(this.name).filter(({ effect, at }) => !this.place || effect !== this.place[1] || at !== this.place[3]);
    const words = [...new Set(others.map(({ effect, group }) => `${spoken(effect)} (${spoken(group).toLowerCase()})`))].join(', ');
    this.note.replaceChildren();
    if (others.length && !this.place) this.note.append(make('p', { class: 'small' }, `Used in: ${words}.`));
    if (!others.length || !this.place) return;
    const own = () => this.orders.carryOut({ do: 'own', path: this.place });
    this.note.append(make('p', { class: 'notice' }, `The fade ${spoken(this.name)} is used in other places, too: ${words}. A change here changes them all.`),
      act('A fade of its own for this place', own, `${this.id}-own`));
  }

  showTools() {
    const segment = this.fade.segments[this.chosen], turn = (key, value) => this.set([...this.path, 'segments', this.chosen, key], value);
    const tick = (id, label, checked, changed) => {
      const box = make('input', { type: 'checkbox', id: `${this.id}-${id}`, checked });
      box.addEventListener('change', () => changed(box.checked));
      return make('label', { class: 'tick' }, box, make('span', {}, label));
    };
    const menu = make('select', { id: `${this.id}-shape`, 'aria-label': `Shape of segment ${this.chosen + 1}` },
      ...SHAPES.map((shape) => make('option', { value: shape, selected: shape === segment.shape }, spoken(shape))));
    menu.addEventListener('change', () => turn('shape', menu.value));
    const focused = focusedIn(this.tools)?.id;
    renew(this.tools,
      make('div', { class: 'row' }, make('strong', {}, `Segment ${this.chosen + 1}`), menu,
        tick('ambient', 'Back to the ambient light', segment.to_percent === AMBIENT, (is) => turn('to_percent', is ? AMBIENT : 0)),
        act('Split', () => this.split(this.chosen, segment.length_ms / 2), `${this.id}-split`),
        ...(this.fade.segments.length > 1 ? [act(`Take out segment ${this.chosen + 1}`, () => this.takeOut(this.chosen), `${this.id}-out`, 'Take out')] : [])),
      make('div', { class: 'row' },
        tick('loop', 'Goes round and round', this.fade.loop, (is) => this.set([...this.path, 'loop'], is || null)),
        tick('start', 'Begins at a level of its own', this.fade.from_percent !== null, (is) => this.set([...this.path, 'from_percent'], is ? 0 : null))));
    if (focused) byId(focused)?.focus({ preventScroll: true });
  }

  split(at, after_ms) {
    const [first, second] = split(this.fade.segments[at], this.levelBefore(at), Math.round(after_ms));
    const path = [...this.path, 'segments', at];
    const changed = Object.entries(first).filter(([key, value]) => value !== this.fade.segments[at][key]);
    const changes = changed.map(([key, value]) => ({ path: [...path, key], value }));
    this.orders.carryOut({ do: 'insert', path: [...path.slice(0, -1), at + 1], value: second, changes });
    Object.assign(this.fade.segments[at], first);
    this.lay(at + 1, 0, { ...second });
  }

  takeOut(at) {
    if (this.fade.segments.length === 1) return;
    this.set([...this.path, 'segments', at], null);
    this.lay(at, 1);
  }

  /** At once: what is done to those behind it, before there is an answer, is meant for them. */
  lay(at, gone, ...come) {
    this.fade.segments.splice(at, gone, ...come);
    this.chosen = Math.min(this.chosen, this.fade.segments.length - 1);
    this.showTools();
    this.surface.draw();
  }

  set(path, value) {
    this.orders.setAll([{ path, value }], newGesture());
  }

  levelBefore(at) {
    return at === 0 ? startOf(this.fade) : levelOf(this.fade.segments[at - 1]);
  }

  x(at_ms) {
    return LEFT + at_ms / this.span_ms * (this.surface.width - LEFT - RIGHT);
  }

  y(percent) {
    return TOP + (1 - percent / 100) * (HEIGHT - TOP - BOTTOM);
  }

  /** What can be taken hold of: the ends of all segments, and the start where it has a level of its own. */
  get points() {
    let at_ms = 0;
    const start = this.fade.from_percent === null ? [] : [{ at: START, at_ms: 0, percent: this.fade.from_percent }];
    return [...start, ...this.fade.segments.map((segment, at) => ({ at, at_ms: at_ms += segment.length_ms, percent: levelOf(segment), segment }))];
  }

  paint() {
    this.surface.setHeight(HEIGHT);
    if (!this.fade) return [];
    if (!this.isHeld) this.span_ms = Math.max(lengthOf(this.fade) * ROOM, SHORTEST_MS);
    const levels = [0, 50, 100].flatMap((percent) => [
      draw('line', { class: 'grid', x1: LEFT, x2: this.surface.width - RIGHT, y1: this.y(percent), y2: this.y(percent) }),
      text(LEFT - 6, this.y(percent) + 4, `${percent} %`, { 'text-anchor': 'end' })]);
    const again = this.fade.loop ? [this.line(this.fade, 'line again')] : [];
    return [...levels, ...timeMarks(this.span_ms, (at_ms) => this.x(at_ms), HEIGHT - BOTTOM, HEIGHT - BOTTOM, this.surface.isNarrow),
      ...again, this.line({ ...this.fade, loop: false }, 'line'), ...this.points.map((point) => this.point(point))];
  }

  line(fade, kind) {
    const points = curve(fade, this.span_ms).filter(([at_ms]) => at_ms <= this.span_ms);
    return draw('path', { class: kind, d: pathOf(points.map(([at_ms, percent]) => [this.x(at_ms), this.y(percent)])) });
  }

  point({ at, at_ms, percent, segment }) {
    const label = segment ? `End of segment ${at + 1}` : 'Start';
    const inWords = `${segment?.to_percent === AMBIENT ? 'back to the ambient light' : `${number(percent)} percent`} at ${number(at_ms, 5)} ms`;
    const circle = draw('circle', { class: at === this.chosen ? 'point chosen' : 'point', cx: this.x(at_ms), cy: this.y(percent), r: POINT_PX });
    const point = asSlider(circle, { id: `${this.id}-point-${at}`, label, least: 0, most: 100, value: percent, words: inWords, orientation: 'vertical' });
    point.addEventListener('keydown', (event) => this.key(event, at));
    point.addEventListener('focus', () => this.choose(at));
    return point;
  }

  choose(at) {
    if (at === START || at === this.chosen) return;
    this.chosen = at;
    this.showTools();
    this.surface.draw();
  }

  grab(event) {
    const { element } = this.surface, { points } = this;
    const near = nearest(event, element, points.map(({ at_ms, percent }) => [this.x(at_ms), this.y(percent)]));
    if (near < 0 || !mayDrag(event, element)) return;
    const { at, percent, segment } = points[near], gesture = newGesture(), length_ms = segment?.length_ms ?? 0;
    this.choose(at);
    byId(`${this.id}-point-${at}`).focus({ preventScroll: true, focusVisible: false });
    this.held = at;
    drag(event, element, {
      move: (_, across_px, down_px) => this.move(at, rounded(length_ms + across_px / (this.surface.width - LEFT - RIGHT) * this.span_ms, STEP_MS),
        Math.round(percent - 100 * down_px / (HEIGHT - TOP - BOTTOM)), gesture),
      end: ({ hasMoved, isGivenUp }) => {
        this.held = undefined;
        if (hasMoved && isGivenUp) this.move(at, length_ms, percent, gesture);
        this.surface.draw();
      },
    });
  }

  key(event, at) {
    if (event.key === 'Delete' && at !== START) {
      event.preventDefault();
      return this.takeOut(at);
    }
    const way = ARROWS[event.key], by = event.shiftKey ? COARSE : 1;
    if (!way) return undefined;
    event.preventDefault();
    const segment = this.fade.segments[at], percent = segment ? levelOf(segment) : this.fade.from_percent;
    return this.move(at, (segment?.length_ms ?? 0) + way[0] * by * STEP_MS, percent + way[1] * by, keysGesture(`${this.name} ${at}`));
  }

  /** Shown at once, and has it compiled. What goes back to the ambient light has no level of its own. */
  move(at, wanted_ms, wanted_percent, gesture) {
    const length_ms = Math.max(wanted_ms, 0), percent = Math.max(0, Math.min(100, wanted_percent)), segment = this.fade.segments[at];
    const wanted = !segment ? { from_percent: percent } : segment.to_percent === AMBIENT ? { length_ms } : { length_ms, to_percent: percent };
    const part = segment || this.fade, path = segment ? [...this.path, 'segments', at] : this.path;
    for (const [key, value] of Object.entries(wanted)) {
      if (part[key] === value) continue;
      part[key] = value;
      this.orders.set([...path, key], value, gesture);
    }
    this.surface.draw();
  }

  /** A new point where it was double-clicked: on the curve, or behind it. */
  splitUnder(event) {
    const [x, y] = this.surface.at(event), at_ms = (x - LEFT) / (this.surface.width - LEFT - RIGHT) * this.span_ms;
    let from_ms = 0;
    for (const [at, { length_ms }] of this.fade.segments.entries()) {
      if (at_ms > from_ms && at_ms < from_ms + length_ms) return this.split(at, at_ms - from_ms);
      from_ms += length_ms;
    }
    const percent = Math.round(100 * (1 - (y - TOP) / (HEIGHT - TOP - BOTTOM))), after_ms = rounded(at_ms - from_ms, STEP_MS);
    return after_ms > 0 && this.set([...this.path, 'segments', this.fade.segments.length],
      { to_percent: Math.max(0, Math.min(100, percent)), length_ms: after_ms });
  }
}

function rounded(value, step) {
  return Math.round(value / step) * step;
}
