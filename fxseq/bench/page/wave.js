/** A recording as a curve, with grips for its cut, fades, loop and level: dragged by mouse or finger, or moved by arrow keys. */

import { drag, mayDrag, nearest } from './drag.js';
import { draw, focusedIn, make, number } from './make.js';
import { keysGesture, newGesture } from './turn.js';

const HEIGHT_PX = 112, LOOP_PX = 22, TOP_PX = 10, LOW_PX = 84, GRIP_PX = 7;
const STEP_MS = 1, STEP_DB = 0.5, COARSE = 10;
const MOST_DB = 18, LEAST_DB = -40;

/** Grips of a clip: where each is in time, its value and range, and which way it is turned. */
function grips({ length_ms, start_ms, end_ms, fade_in_ms = 0, fade_out_ms = 0, gain_db = 0, loop }) {
  const kept_ms = end_ms - start_ms, needed_ms = Math.max(fade_in_ms + fade_out_ms, loop?.end_ms ?? 0, STEP_MS);
  const time = (key, label, at_ms, value, least, most, sign = 1) => ({ key, label, at_ms, value, least, most, sign, unit: 'ms' });
  return [
    time('start_ms', 'Start of the cut', start_ms, start_ms, 0, end_ms - needed_ms),
    time('end_ms', 'End of the cut', end_ms, end_ms, start_ms + needed_ms, length_ms),
    time('fade_in_ms', 'Fade in', start_ms + fade_in_ms, fade_in_ms, 0, kept_ms - fade_out_ms),
    time('fade_out_ms', 'Fade out', end_ms - fade_out_ms, fade_out_ms, 0, kept_ms - fade_in_ms, -1),
    {
      key: 'gain_db', label: 'Level', at_ms: (start_ms + fade_in_ms + end_ms - fade_out_ms) / 2, value: gain_db,
      least: LEAST_DB, most: MOST_DB, sign: 1, unit: 'dB',
    },
    ...(loop ? [
      time('loop.start_ms', 'Start of the loop', start_ms + loop.start_ms, loop.start_ms, 0, loop.end_ms - STEP_MS),
      time('loop.end_ms', 'End of the loop', start_ms + loop.end_ms, loop.end_ms, loop.start_ms + STEP_MS, kept_ms)] : []),
  ];
}

export class Wave {
  /** turned(key, value, gesture): a grip was moved; value null where the key is not needed. */
  constructor(turned) {
    this.turned = turned;
    this.canvas = make('canvas', { class: 'wave', role: 'img' });
    this.overlay = draw('svg', { class: 'grips', role: 'group', 'aria-label': 'Cut, fades, level and loop' });
    this.element = make('div', { class: 'wave-box' }, this.canvas, this.overlay);
    this.overlay.addEventListener('pointerdown', (event) => this.down(event));
    this.overlay.addEventListener('keydown', (event) => this.key(event));
  }

  /** clip: {name, length_ms, start_ms, end_ms, fade_in_ms, fade_out_ms, gain_db, loop}; keys: those that can be turned. */
  show(buffer, clip, keys) {
    if (this.isHeld) return;
    this.buffer = buffer;
    this.clip = clip;
    this.keys = keys;
    this.draw();
  }

  get grips() {
    return grips(this.clip).filter(({ key }) => this.keys.has(key));
  }

  x(at_ms) {
    return at_ms / this.clip.length_ms * this.width;
  }

  y(gain_db) {
    return TOP_PX + (MOST_DB - gain_db) / (MOST_DB - LEAST_DB) * (LOW_PX - TOP_PX);
  }

  draw() {
    this.width = Math.max(this.element.clientWidth, 60);
    this.height = HEIGHT_PX + (this.clip.loop ? LOOP_PX : 0);
    this.paint();
    const focused = focusedIn(this.overlay)?.dataset.key;
    this.overlay.setAttribute('viewBox', `0 0 ${this.width} ${this.height}`);
    this.overlay.style.height = `${this.height}px`;
    this.overlay.replaceChildren(...this.lines(), ...this.grips.map((grip) => this.grip(grip)));
    if (focused) this.overlay.querySelector(`[data-key="${focused}"]`)?.focus();
  }

  /** The cut, and over it the level with its fades; below it the loop. */
  lines() {
    const { start_ms, end_ms, fade_in_ms = 0, fade_out_ms = 0, gain_db = 0, loop } = this.clip;
    const [start, end] = [this.x(start_ms), this.x(end_ms)], level = this.y(gain_db);
    const edges = [start, end].map((x) => draw('line', { class: 'cut', x1: x, x2: x, y1: 0, y2: HEIGHT_PX }));
    const corners = [[start, HEIGHT_PX], [this.x(start_ms + fade_in_ms), level], [this.x(end_ms - fade_out_ms), level], [end, HEIGHT_PX]];
    const lines = [
      draw('line', { class: 'unity', x1: 0, x2: this.width, y1: this.y(0), y2: this.y(0) }), ...edges,
      draw('polyline', { class: 'level', points: corners.map((corner) => corner.join()).join(' ') })];
    if (!loop) return lines;
    const [from, to] = [this.x(start_ms + loop.start_ms), this.x(start_ms + loop.end_ms)];
    return [...lines, draw('rect', { class: 'loop', x: from, y: HEIGHT_PX + 4, width: Math.max(to - from, 1), height: LOOP_PX - 4 }),
      ...[from, to].map((x) => draw('line', { class: 'loop-edge', x1: x, x2: x, y1: 0, y2: this.height }))];
  }

  /** Where a grip is on the screen: cuts at the bottom, fades and level at the level, loops below. */
  spot({ key, at_ms }) {
    const x = Math.max(GRIP_PX + 1, Math.min(this.width - GRIP_PX - 1, this.x(at_ms)));
    if (key.startsWith('loop')) return [x, HEIGHT_PX + 4 + (LOOP_PX - 4) / 2];
    return [x, key === 'start_ms' || key === 'end_ms' ? HEIGHT_PX - GRIP_PX - 1 : this.y(this.clip.gain_db ?? 0)];
  }

  grip(grip) {
    const [x, y] = this.spot(grip), { key, label, value, least, most, unit } = grip;
    const isRound = !key.endsWith('start_ms') && !key.endsWith('end_ms');
    const shape = isRound ? draw('circle', { cx: x, cy: y, r: GRIP_PX })
      : draw('rect', { x: x - GRIP_PX, y: y - GRIP_PX, width: 2 * GRIP_PX, height: 2 * GRIP_PX, rx: 2 });
    for (const [name, held] of Object.entries({
      class: `grip ${key === 'gain_db' ? 'up' : 'across'}`, tabindex: 0, role: 'slider', 'data-key': key, 'aria-label': label, 'aria-valuemin': least,
      'aria-valuemax': most, 'aria-valuenow': value, 'aria-valuetext': `${number(value, 4)} ${unit}`,
      'aria-orientation': key === 'gain_db' ? 'vertical' : 'horizontal' })) shape.setAttribute(name, held);
    const title = draw('title');
    title.textContent = `${label}: ${number(value, 4)} ${unit}`;
    shape.append(title);
    return shape;
  }

  down(event) {
    const at = nearest(event, this.overlay, this.grips.map((grip) => this.spot(grip)));
    if (at < 0 || !mayDrag(event, this.overlay)) return;
    const grip = this.grips[at], gesture = newGesture();
    this.isHeld = true;
    this.overlay.querySelector(`[data-key="${grip.key}"]`).focus({ focusVisible: false });
    drag(event, this.overlay, {
      move: (_, across_px, down_px) => {
        const across_ms = across_px / this.width * this.clip.length_ms, up_db = -down_px / (LOW_PX - TOP_PX) * (MOST_DB - LEAST_DB);
        this.turn(grip, grip.value + (grip.unit === 'ms' ? grip.sign * across_ms : up_db), gesture);
      },
      end: ({ hasMoved, isGivenUp }) => {
        if (hasMoved && isGivenUp) this.turn(grip, grip.value, gesture);
        this.isHeld = false;
      },
    });
  }

  key(event) {
    const grip = this.grips.find(({ key }) => key === event.target.dataset.key);
    const way = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
    if (!grip || !way) return;
    event.preventDefault();
    event.stopPropagation();
    const by = way * (event.shiftKey ? COARSE : 1) * (grip.unit === 'ms' ? STEP_MS : STEP_DB);
    this.turn(grip, grip.value + grip.sign * by, keysGesture(`${this.clip.name} ${grip.key}`));
  }

  /** Shown at once, in whole steps. An end at that of the recording needs no key. */
  turn({ key, least, most, unit, value: before }, wanted, gesture) {
    const step = unit === 'ms' ? STEP_MS : STEP_DB, within = Math.max(Math.ceil(least / step), Math.min(Math.floor(most / step), Math.round(wanted / step)));
    const isWhole = key === 'end_ms' && within * step > most - step, value = isWhole ? most : within * step;
    if (value === before && !this.isHeld) return;
    if (key.startsWith('loop.')) this.clip.loop = { ...this.clip.loop, [key.slice(5)]: value };
    else this.clip[key] = value;
    this.draw();
    this.turned(key, isWhole ? null : value, gesture);
  }

  /** Lowest and highest sample of each column, found once for a width. */
  peaks() {
    if (this.peaksOf?.buffer === this.buffer && this.peaksOf.width === this.width) return this.peaksOf.columns;
    const samples = this.buffer.getChannelData(0);
    const columns = Array.from({ length: this.width }, (_, x) => {
      const first = Math.floor(x * samples.length / this.width), next = Math.floor((x + 1) * samples.length / this.width);
      let low = 0, high = 0;
      for (let at = first; at < Math.max(next, first + 1); at++) {
        low = Math.min(low, samples[at]);
        high = Math.max(high, samples[at]);
      }
      return [low, high];
    });
    this.peaksOf = { buffer: this.buffer, width: this.width, columns };
    return columns;
  }

  paint() {
    const ratio = window.devicePixelRatio || 1, { length_ms, start_ms, end_ms } = this.clip;
    this.canvas.width = Math.round(this.width * ratio);
    this.canvas.height = Math.round(HEIGHT_PX * ratio);
    const pen = this.canvas.getContext('2d', { alpha: false });
    pen.scale(ratio, ratio);
    const style = getComputedStyle(this.canvas), colour = (name) => style.getPropertyValue(name).trim();
    const [kept, left] = [colour('--strip-first'), colour('--edge')];
    pen.fillStyle = colour('--strip-lane');
    pen.fillRect(0, 0, this.width, HEIGHT_PX);
    this.peaks().forEach(([low, high], x) => {
      const at_ms = (x + 0.5) / this.width * length_ms;
      pen.fillStyle = at_ms >= start_ms && at_ms <= end_ms ? kept : left;
      pen.fillRect(x, HEIGHT_PX / 2 * (1 - high), 1, Math.max(HEIGHT_PX / 2 * (high - low), 1));
    });
  }
}
