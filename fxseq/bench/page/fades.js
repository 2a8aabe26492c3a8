/** A fade curve with points that are dragged, by hand or by arrow keys. */

import { SHAPES, curve, lengthOf, levelOf, niceStep, pathOf } from './curve.js';
import { drag, mayDrag } from './drag.js';
import { draw, focusedIn, make, number, spoken } from './make.js';
import { keysGesture, newGesture, settingField } from './turn.js';

const WIDTH = 480, HEIGHT = 190, LEFT = 44, RIGHT = 12, TOP = 10, BOTTOM = 26;
const STEP_MS = 5, STEP_PERCENT = 1, COARSE = 10;
const HELP = 'Drag a point: left and right for time, up and down for level. Or focus it and use the arrow keys, with Shift for large steps.';
const FLICKER_EVERY_MS = 50;

export class Fades {
  constructor(place, orders) {
    this.place = place;
    this.orders = orders;
    this.choice = make('select', { id: 'fade' });
    this.choice.addEventListener('change', () => this.draw());
    this.drawing = draw('svg', { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: 'curve', role: 'group' });
    this.rows = make('div', {});
    place.replaceChildren(make('div', { class: 'field' }, make('label', { htmlFor: 'fade' }, 'Fade'), this.choice), this.drawing,
      make('p', { class: 'small' }, HELP), this.rows);
  }

  show(prop) {
    this.prop = prop;
    const names = prop.fades.map(({ name }) => name);
    if (names.join() !== this.names) {
      const before = this.choice.value;
      this.choice.replaceChildren(...names.map((name) => make('option', { value: name }, spoken(name))));
      if (names.includes(before)) this.choice.value = before;
      this.names = names.join();
    }
    if (!this.dragging) this.draw();
  }

  get fade() {
    return this.prop.fades.find(({ name }) => name === this.choice.value);
  }

  draw() {
    const { fade } = this;
    this.place.hidden = !fade;
    if (!fade) return;
    const focused = focusedIn(this.drawing)?.dataset.at;
    this.span_ms = this.dragging?.span_ms || Math.max(lengthOf(fade) * 1.15, 100);
    this.drawing.setAttribute('aria-label', `Points of the fade ${spoken(fade.name)}`);
    const path = pathOf(curve({ segments: fade.segments }).map(([at_ms, percent]) => [this.x(at_ms), this.y(percent)]));
    this.drawing.replaceChildren(...this.axes(), draw('path', { class: 'line', d: path }), ...this.points(fade.segments));
    if (focused !== undefined) this.drawing.querySelector(`[data-at="${focused}"]`)?.focus({ preventScroll: true });
    this.showRows(fade);
  }

  x(time_ms) {
    return LEFT + time_ms / this.span_ms * (WIDTH - LEFT - RIGHT);
  }

  y(percent) {
    return TOP + (1 - percent / 100) * (HEIGHT - TOP - BOTTOM);
  }

  axes() {
    const levels = [0, 50, 100].flatMap((percent) => [
      draw('line', { class: 'grid', x1: LEFT, x2: WIDTH - RIGHT, y1: this.y(percent), y2: this.y(percent) }),
      text(LEFT - 4, this.y(percent) + 4, `${percent} %`, 'end')]);
    const step_ms = niceStep(this.span_ms / 5);
    const times = [];
    for (let time_ms = 0; time_ms <= this.span_ms; time_ms += step_ms) {
      times.push(text(this.x(time_ms), HEIGHT - 8, `${number(time_ms)} ms`, time_ms ? 'middle' : 'start'));
    }
    return [...levels, ...times];
  }

  points(segments) {
    let at_ms = 0;
    return segments.map((segment, at) => {
      at_ms += segment.length_ms;
      const point = draw('circle', {
        class: 'point', cx: this.x(at_ms), cy: this.y(levelOf(segment)), r: 9, tabindex: 0, role: 'slider', 'data-at': at,
        'aria-label': `Segment ${at + 1}, ${segment.shape}`, 'aria-valuemin': 0, 'aria-valuemax': 100, 'aria-valuenow': levelOf(segment),
        'aria-valuetext': `${inWords(segment)} after ${number(segment.length_ms)} ms`,
      });
      point.addEventListener('pointerdown', (event) => this.grab(event, at));
      point.addEventListener('keydown', (event) => this.key(event, at));
      return point;
    });
  }

  grab(event, at) {
    if (!mayDrag(event, this.drawing)) return;
    const { length_ms } = this.fade.segments[at], percent = levelOf(this.fade.segments[at]), gesture = newGesture();
    this.dragging = { span_ms: this.span_ms };
    drag(event, this.drawing, {
      move: (_, across_px, down_px) => {
        const box = this.drawing.getBoundingClientRect();
        const across_ms = across_px * WIDTH / box.width / (WIDTH - LEFT - RIGHT) * this.span_ms;
        const up_percent = -100 * down_px * HEIGHT / box.height / (HEIGHT - TOP - BOTTOM);
        this.move(at, rounded(length_ms + across_ms, STEP_MS), rounded(percent + up_percent, STEP_PERCENT), gesture);
      },
      end: ({ hasMoved, isGivenUp }) => {
        if (hasMoved && isGivenUp) this.move(at, length_ms, percent, gesture);
        this.drop(at);
      },
    });
  }

  drop(at) {
    this.dragging = null;
    this.draw();
    this.drawing.querySelector(`[data-at="${at}"]`)?.focus({ preventScroll: true });
  }

  key(event, at) {
    const by = event.shiftKey ? COARSE : 1;
    const [across, up] = { ArrowRight: [by, 0], ArrowLeft: [-by, 0], ArrowUp: [0, by], ArrowDown: [0, -by] }[event.key] || [0, 0];
    if (!across && !up) return;
    event.preventDefault();
    const segment = this.fade.segments[at];
    this.move(at, segment.length_ms + across * STEP_MS, levelOf(segment) + up * STEP_PERCENT, keysGesture(`${this.fade.name} ${at}`));
  }

  /** Shows it at once, and has it compiled. A segment to the ambient light has no level of its own. */
  move(at, length_ms, percent, gesture) {
    const segment = this.fade.segments[at];
    const path = ['fades', this.fade.name, 'segments', at];
    const length = Math.max(length_ms, 0), level = Math.max(0, Math.min(100, percent));
    if (length !== segment.length_ms) this.orders.set([...path, 'length_ms'], segment.length_ms = length, gesture);
    if (segment.to_percent !== 'ambient' && level !== segment.to_percent) {
      this.orders.set([...path, 'to_percent'], segment.to_percent = level, gesture);
    }
    this.draw();
  }

  /** A flicker has two values more than the other shapes, so the segment is given as a whole where one comes or goes. */
  reshape(path, { shape: before, to_percent, length_ms, low_percent, every_ms }, shape) {
    if (shape !== 'flicker' && before !== 'flicker') return this.orders.set([...path, 'shape'], shape, newGesture());
    const more = shape === 'flicker' ? { low_percent: low_percent ?? 0, every_ms: every_ms ?? FLICKER_EVERY_MS } : {};
    return this.orders.set(path, { shape, to_percent, length_ms, ...more }, newGesture());
  }

  /** The same in numbers, with the shape of each segment. */
  showRows(fade) {
    const settings = this.prop.settings.filter(({ path }) => path[0] === 'fades' && path[1] === fade.name);
    const shape = JSON.stringify([fade.name, fade.segments.map(({ shape }) => shape), settings.map(({ path }) => path)]);
    if (shape !== this.shape) this.buildRows(fade, settings);
    this.shape = shape;
    fade.segments.forEach((segment, at) => { this.shapes[at].value = segment.shape; });
    for (const setting of settings) {
      const [, , , at, key] = setting.path;
      this.fields.get(JSON.stringify(setting.path)).show(fade.segments[at][key] ?? setting.value);
    }
  }

  buildRows(fade, settings) {
    this.fields = new Map();
    this.shapes = [];
    this.rows.replaceChildren(...fade.segments.map((segment, at) => {
      const path = ['fades', fade.name, 'segments', at];
      const options = SHAPES.map((shape) => make('option', { value: shape, selected: shape === segment.shape }, spoken(shape)));
      const choice = make('select', { id: `shape-${at}` }, ...options);
      choice.addEventListener('change', () => this.reshape(path, this.fade.segments[at], choice.value));
      this.shapes.push(choice);
      return make('fieldset', {}, make('legend', {}, `Segment ${at + 1}`),
        make('div', { class: 'field' }, make('label', { htmlFor: `shape-${at}` }, 'Shape'), choice),
        ...settings.filter((setting) => setting.path[3] === at).map((setting) => {
          const field = settingField(setting, (value, gesture) => this.orders.set(setting.path, value, gesture));
          this.fields.set(JSON.stringify(setting.path), field);
          return field.element;
        }));
    }));
  }
}

function inWords({ to_percent }) {
  return to_percent === 'ambient' ? 'to the ambient light' : `to ${number(to_percent)} percent`;
}

function rounded(value, step) {
  return Math.round(value / step) * step;
}

function text(x, y, content, anchor) {
  const element = draw('text', { x, y, 'text-anchor': anchor, class: 'tick-text' });
  element.textContent = content;
  return element;
}
