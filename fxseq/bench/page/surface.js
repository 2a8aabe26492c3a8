/** Drawings that a hand works on. */

import { draw, number } from './make.js';
import { niceStep } from './curve.js';

const NARROW_PX = 560;
const TIMES = 6;

/** A drawing as wide as its place, drawn anew where that changes; what has the focus in it keeps it. */
export class Surface {
  /** label: of the drawing. paint(): its elements, once `width` is known. */
  constructor(label, paint) {
    this.paint = paint;
    this.width = 0;
    this.element = draw('svg', { class: 'surface', role: 'group', 'aria-label': label });
    new ResizeObserver(() => this.fit()).observe(this.element);
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
    const focused = this.element.contains(document.activeElement) ? document.activeElement.id : '';
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
