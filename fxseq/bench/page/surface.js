/** Drawings that a hand works on. */

import { draw, focusedIn, make, number } from './make.js';
import { niceStep } from './curve.js';

const NARROW_PX = 560;
const TIMES = 6;
const LETTER_PX = 7.5;
export const GRIP_PX = 7;
/** Where a line is that is not to be seen. */
const OUT_PX = -9;

/** A drawing as wide as its place, drawn anew where that changes; what has the focus in it keeps it. fault: an element for what was refused. */
export class Surface {
  /** label: of the drawing. paint(): its elements, once `width` is known. */
  constructor(label, paint) {
    this.paint = paint;
    this.width = 0;
    this.element = draw('svg', { class: 'surface', role: 'group', 'aria-label': label });
    this.fault = make('p', { class: 'fault', role: 'alert' });
    new ResizeObserver(() => this.fit()).observe(this.element);
  }

  /** The line of orders, for what is done here: what is refused stands beside the drawing until something else is done. */
  through(orders) {
    const told = ({ message }) => { this.fault.textContent = `${message} Nothing was changed.`; };
    const begun = () => { this.fault.textContent = ''; };
    return {
      set: (path, value, gesture) => { begun(); orders.set(path, value, gesture, told); },
      setAll: (changes, gesture) => { begun(); orders.setAll(changes, gesture, told); },
      carryOut: (order) => { begun(); orders.ask('/api/parts', order).catch(told); },
    };
  }

  fit() {
    const { width } = this.element.getBoundingClientRect();
    if (width === 0 || width === this.width) return;
    this.width = width;
    this.draw();
  }

  get isNarrow() {
    return this.width < NARROW_PX;
  }

  draw() {
    if (!this.width) return;
    const focused = focusedIn(this.element)?.id;
    this.element.replaceChildren(...this.paint());
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }

  /** How high it is, in its own units, which are those of the page. */
  setHeight(height) {
    this.element.setAttribute('viewBox', `0 0 ${this.width} ${height}`);
    this.element.style.height = `${height}px`;
  }

  /** Where a pointer is, from the upper left corner. */
  at({ clientX, clientY }) {
    const { left, top } = this.element.getBoundingClientRect();
    return [clientX - left, clientY - top];
  }
}

export function text(x, y, words, more = {}) {
  const element = draw('text', { x, y, class: 'tick-text', ...more });
  element.textContent = words;
  return element;
}

/** Marks of a time axis. x(ms): where a time is. top, bottom: of the lines. */
export function timeMarks(span_ms, x, top, bottom, isNarrow = false) {
  const step_ms = niceStep(span_ms / (isNarrow ? TIMES / 2 : TIMES)), inSeconds = step_ms >= 500;
  const marks = [];
  for (let at_ms = 0; at_ms <= span_ms; at_ms += step_ms) {
    const words = inSeconds ? `${number(at_ms / 1000)} s` : `${number(at_ms, 4)} ms`;
    marks.push(draw('line', { class: 'grid', x1: x(at_ms), x2: x(at_ms), y1: top, y2: bottom }),
      text(x(at_ms), bottom + 14, words, { 'text-anchor': at_ms ? 'middle' : 'start' }));
  }
  return marks;
}

/** Makes something drawn a slider: by keyboard, and for screen readers. label: what it is; words: where it stands, also shown under the pointer. */
export function asSlider(shape, { id, label, least, most, value, words, orientation = 'horizontal' }) {
  const title = draw('title');
  title.textContent = `${label}: ${words}`;
  for (const [name, held] of Object.entries({ id, tabindex: 0, role: 'slider', 'aria-label': label, 'aria-valuemin': least, 'aria-valuemax': most,
    'aria-valuenow': value, 'aria-valuetext': words, 'aria-orientation': orientation })) shape.setAttribute(name, held);
  shape.append(title);
  return shape;
}

/** What an end is taken hold of by. @param {number[]} spot */
export function squareGrip([x, y]) {
  return draw('rect', { class: 'grip across', x: x - GRIP_PX, y: y - GRIP_PX, width: 2 * GRIP_PX, height: 2 * GRIP_PX, rx: 2 });
}

/** As much of a text as there is room for. */
export function shortened(words, room_px) {
  const most = Math.floor(room_px / LETTER_PX);
  return words.length > most ? `${words.slice(0, most - 1)}…` : words;
}

/** A line that runs over a drawing while what it shows is played. */
export class Head {
  /** The line, to be drawn. */
  line(bottom) {
    this.element = draw('line', { class: 'head', x1: OUT_PX, x2: OUT_PX, y1: 0, y2: bottom });
    return this.element;
  }

  /** From now on. x(ms): where a time is. */
  run(x, span_ms) {
    const run = this.running = Symbol('one run'), begun_ms = performance.now();
    if (matchMedia('(prefers-reduced-motion: reduce)').matches) return;
    const go = () => {
      if (run !== this.running) return;
      const at_ms = performance.now() - begun_ms, isOver = at_ms > span_ms || !this.element.isConnected;
      for (const key of ['x1', 'x2']) this.element.setAttribute(key, isOver ? OUT_PX : x(at_ms));
      if (!isOver) requestAnimationFrame(go);
    };
    requestAnimationFrame(go);
  }
}
