/**
 * A recording as a curve, with grips for its cut, fades, loop and level: dragged by mouse or finger, or moved by arrow keys.
 * Below it what the board makes of it, at the same times. Both are looked at from afar or sample by sample.
 */

import { drag, mayDrag, nearest } from './drag.js';
import { draw, focusedIn, make, number } from './make.js';
import { SoundCurve } from './sound_curve.js';
import { keysGesture, newGesture } from './turn.js';

const HEIGHT_PX = 112, LOOP_PX = 28, TOP_PX = 10, LOW_PX = 84, GRIP_PX = 7, MADE_PX = 72;
/** What a finger has to meet. */
const TARGET_PX = 12;
const STEP_DB = 0.5, COARSE = 10, MOST_DIGITS = 7;
/** Steps of a grip that is moved in time: no more than so many pixels, so the nearer one looks, the finer. */
const STEP_PX = 4, COARSEST_MS = 1, FINEST_MS = 0.001;
const SHORTEST_MS = 1;
const MOST_DB = 18, LEAST_DB = -40;
/** Samples that are seen at least. */
const NEAREST = 24;
const CLOSER = 4, WHEEL = 1.25;

/** Grips of a clip: where each is in time, its value and range, and which way it is turned. @returns {any[]} */
function grips({ length_ms, start_ms, end_ms, fade_in_ms = 0, fade_out_ms = 0, gain_db = 0, loop }, view) {
  const kept_ms = end_ms - start_ms, needed_ms = Math.max(fade_in_ms + fade_out_ms, SHORTEST_MS);
  const time = (key, label, at_ms, value, least, most, sign = 1) => ({ key, label, at_ms, value, least, most, sign, unit: 'ms' });
  const from_ms = Math.max(start_ms + fade_in_ms, view.from_ms), to_ms = Math.min(end_ms - fade_out_ms, view.to_ms);
  return [
    time('start_ms', 'Start of the cut', start_ms, start_ms, 0, end_ms - needed_ms),
    time('end_ms', 'End of the cut', end_ms, end_ms, start_ms + needed_ms, length_ms),
    time('fade_in_ms', 'Fade in', start_ms + fade_in_ms, fade_in_ms, 0, kept_ms - fade_out_ms),
    time('fade_out_ms', 'Fade out', end_ms - fade_out_ms, fade_out_ms, 0, kept_ms - fade_in_ms, -1),
    { key: 'gain_db', label: 'Level', at_ms: (from_ms + to_ms) / 2, value: gain_db, least: LEAST_DB, most: MOST_DB, sign: 1, unit: 'dB' },
    ...(loop ? [
      time('loop.start_ms', 'Start of the loop', start_ms + loop.start_ms, loop.start_ms, 0, loop.end_ms - SHORTEST_MS),
      time('loop.end_ms', 'End of the loop', start_ms + loop.end_ms, loop.end_ms, loop.start_ms + SHORTEST_MS, kept_ms)] : []),
  ];
}

/** A clip in which one grip has come to a value. A loop stays where it is in the recording, as far as the cut goes. */
function turnedTo(clip, key, value) {
  const { loop } = clip;
  if (key.startsWith('loop.')) return { ...clip, loop: { ...loop, [key.slice(5)]: value, isOpen: loop.isOpen && key !== 'loop.end_ms' } };
  const now = { ...clip, [key]: value };
  if (!loop || !isCut(key)) return now;
  const by_ms = clip.start_ms - now.start_ms, kept_ms = now.end_ms - now.start_ms;
  const within = (at_ms, least, most) => fine(Math.max(least, Math.min(most, at_ms + by_ms)));
  const start_ms = within(loop.start_ms, 0, kept_ms - SHORTEST_MS);
  const end_ms = loop.isOpen ? kept_ms : within(loop.end_ms, start_ms + SHORTEST_MS, kept_ms);
  return { ...now, loop: { ...loop, start_ms, end_ms } };
}

export class Wave {
  /** turned(changes, gesture): a grip was moved, [{key, value}]; value null where the key is not needed. */
  constructor(turned) {
    this.turned = turned;
    this.width = 0;
    this.view = { from_ms: 0, to_ms: 0 };
    this.curve = new SoundCurve();
    this.madeCurve = new SoundCurve();
    this.canvas = make('canvas', { class: 'wave', role: 'img' });
    this.overlay = draw('svg', { class: 'grips', role: 'group', 'aria-label': 'Cut, fades, level and loop' });
    this.box = make('div', { class: 'wave-box' }, this.canvas, this.overlay);
    this.made = make('canvas', { class: 'made', role: 'img', 'aria-label': 'What the board makes of it, at the same times' });
    this.where = make('input', { type: 'range', id: 'wave-where', min: 0, step: 'any', 'aria-label': 'Where in the recording' });
    this.where.addEventListener('input', () => this.look(Number(this.where.value), this.span_ms));
    this.seen = make('span', { class: 'small', id: 'wave-seen', role: 'status' });
    this.element = make('div', { class: 'wave-all' }, this.box, make('p', { class: 'small' }, 'As the board plays it'), this.made, this.tools());
    this.overlay.addEventListener('pointerdown', (event) => this.down(event));
    this.overlay.addEventListener('keydown', (event) => this.key(event));
    this.overlay.addEventListener('wheel', (event) => this.wheel(event), { passive: false });
  }

  tools() {
    const button = (id, label, act) => {
      const made = make('button', { type: 'button', id }, label);
      made.addEventListener('click', act);
      return made;
    };
    this.closer = button('wave-closer', 'Closer', () => this.zoom(CLOSER));
    this.wider = button('wave-wider', 'Wider', () => this.zoom(1 / CLOSER));
    this.all = button('wave-all', 'All of it', () => this.look(0, this.clip.length_ms));
    return make('div', { class: 'row view' }, this.closer, this.wider, this.all, this.where, this.seen);
  }

  /** recording: {samples, rate_hz}. clip: {name, length_ms, start_ms, end_ms, fade_in_ms, fade_out_ms, gain_db, loop}; keys: those that can be turned. */
  show(recording, clip, keys) {
    if (this.isHeld) return;
    if (clip.name !== this.clip?.name || clip.length_ms !== this.clip.length_ms) {
      this.view = { from_ms: 0, to_ms: clip.length_ms };
      this.sound = null;
    }
    const isOther = recording.samples !== this.recording?.samples;
    this.recording = { ...recording, at_ms: 0 };
    this.clip = clip;
    this.keys = keys;
    if (isOther || this.looks !== this.drawn) this.draw();
  }

  /** All that its drawing hangs on besides the recording: most changes of a prop leave that as it is. */
  get looks() {
    return JSON.stringify([this.clip, [...this.keys], this.view, this.box.clientWidth, this.colour('--strip-first')]);
  }

  /** sound: {samples, rate_hz, at_ms} as the board has it, or null while that is not known. */
  showMade(sound) {
    this.sound = sound;
    if (this.clip) this.paintMade();
  }

  get span_ms() {
    return this.view.to_ms - this.view.from_ms;
  }

  /** A step of a grip in time. */
  get step_ms() {
    const step_ms = 10 ** Math.floor(Math.log10(STEP_PX * this.span_ms / this.width));
    return Math.max(FINEST_MS, Math.min(COARSEST_MS, step_ms));
  }

  /** Grips that are in sight. */
  get grips() {
    const { from_ms, to_ms } = this.view;
    return grips(this.clip, this.view).filter(({ key, at_ms }) => this.keys.has(key) && at_ms >= from_ms && at_ms <= to_ms);
  }

  x(at_ms) {
    return (at_ms - this.view.from_ms) / this.span_ms * this.width;
  }

  y(gain_db) {
    return TOP_PX + (MOST_DB - gain_db) / (MOST_DB - LEAST_DB) * (LOW_PX - TOP_PX);
  }

  /** Looks at so much of the recording, from there on. */
  look(from_ms, span_ms) {
    const { length_ms } = this.clip, least_ms = Math.min(NEAREST * 1000 / this.recording.rate_hz, length_ms);
    const span = Math.max(least_ms, Math.min(length_ms, span_ms)), from = Math.max(0, Math.min(length_ms - span, from_ms));
    this.view = { from_ms: from, to_ms: from + span };
    this.draw();
  }

  /** Closer or wider, about the grip that was moved last, or about a time. */
  zoom(times, at_ms) {
    const last = grips(this.clip, this.view).find(({ key }) => key === this.last);
    const about_ms = at_ms ?? (last?.unit === 'ms' ? last.at_ms : (this.view.from_ms + this.view.to_ms) / 2);
    const isFar = about_ms < this.view.from_ms || about_ms > this.view.to_ms;
    const share = isFar ? 0.5 : (about_ms - this.view.from_ms) / this.span_ms;
    this.look(about_ms - share * this.span_ms / times, this.span_ms / times);
  }

  /** With Ctrl closer and wider, with Shift or sideways along; else the page scrolls. */
  wheel(event) {
    const { left } = this.overlay.getBoundingClientRect(), at_ms = this.view.from_ms + (event.clientX - left) / this.width * this.span_ms;
    const along_px = event.shiftKey && !event.deltaX ? event.deltaY : event.deltaX;
    if (!event.ctrlKey && !along_px) return;
    event.preventDefault();
    if (event.ctrlKey) this.zoom(event.deltaY < 0 ? WHEEL : 1 / WHEEL, at_ms);
    else this.look(this.view.from_ms + along_px / this.width * this.span_ms, this.span_ms);
  }

  draw() {
    this.drawn = this.looks;
    this.width = Math.max(this.box.clientWidth, 60);
    this.height = HEIGHT_PX + (this.clip.loop ? LOOP_PX : 0);
    this.paint();
    this.paintMade();
    const focused = focusedIn(this.overlay)?.dataset.key;
    this.overlay.setAttribute('viewBox', `0 0 ${this.width} ${this.height}`);
    this.overlay.style.height = `${this.height}px`;
    this.overlay.replaceChildren(...this.lines(), ...this.grips.map((grip) => this.grip(grip)));
    if (focused) this.overlay.querySelector(`[data-key="${focused}"]`)?.focus();
    this.showView();
  }

  showView() {
    const { length_ms } = this.clip, isAll = this.span_ms >= length_ms;
    this.where.max = length_ms - this.span_ms;
    this.where.value = this.view.from_ms;
    this.where.hidden = isAll;
    this.wider.disabled = this.all.disabled = isAll;
    this.closer.disabled = this.span_ms <= 1.001 * NEAREST * 1000 / this.recording.rate_hz;
    const [from, to] = [this.view.from_ms, this.view.to_ms].map((at_ms) => number(fine(at_ms), MOST_DIGITS));
    this.seen.textContent = isAll ? '' : `${from} to ${to} ms`;
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
    return [...lines, draw('rect', { class: 'loop', x: from, y: HEIGHT_PX + 4, width: Math.max(to - from, 1), height: LOOP_PX - 8 }),
      ...[from, to].map((x) => draw('line', { class: 'loop-edge', x1: x, x2: x, y1: 0, y2: this.height }))];
  }

  /** Where a grip is on the screen: cuts at the bottom, fades and level at the level, loops below. */
  spot({ key, at_ms }) {
    const x = Math.max(TARGET_PX, Math.min(this.width - TARGET_PX, this.x(at_ms)));
    if (key.startsWith('loop')) return [x, HEIGHT_PX + LOOP_PX / 2];
    return [x, isCut(key) ? HEIGHT_PX - TARGET_PX : this.y(this.clip.gain_db ?? 0)];
  }

  grip(grip) {
    const [x, y] = this.spot(grip), { key, label, value, least, most, unit } = grip;
    const isRound = !key.endsWith('start_ms') && !key.endsWith('end_ms');
    const mark = isRound ? draw('circle', { cx: x, cy: y, r: GRIP_PX })
      : draw('rect', { x: x - GRIP_PX, y: y - GRIP_PX, width: 2 * GRIP_PX, height: 2 * GRIP_PX, rx: 2 });
    const title = draw('title'), said = `${number(value, MOST_DIGITS)} ${unit}`;
    title.textContent = `${label}: ${said}`;
    return draw('g', {
      class: `grip ${key === 'gain_db' ? 'up' : 'across'}`, tabindex: 0, role: 'slider', 'data-key': key, 'aria-label': label, 'aria-valuemin': least,
      'aria-valuemax': most, 'aria-valuenow': value, 'aria-valuetext': said, 'aria-orientation': key === 'gain_db' ? 'vertical' : 'horizontal',
    }, title, draw('circle', { class: 'target', cx: x, cy: y, r: TARGET_PX }), mark);
  }

  down(event) {
    const at = nearest(event, this.overlay, this.grips.map((grip) => this.spot(grip)));
    if (at < 0 || !mayDrag(event, this.overlay)) return;
    const grip = this.grips[at], gesture = newGesture(), from = this.clip;
    this.isHeld = true;
    this.last = grip.key;
    this.overlay.querySelector(`[data-key="${grip.key}"]`).focus({ focusVisible: false });
    drag(event, this.overlay, {
      move: (_, across_px, down_px) => {
        const across_ms = across_px / this.width * this.span_ms, up_db = -down_px / (LOW_PX - TOP_PX) * (MOST_DB - LEAST_DB);
        this.turn(grip, grip.value + (grip.unit === 'ms' ? grip.sign * across_ms : up_db), gesture, from);
      },
      end: ({ hasMoved, isGivenUp }) => {
        if (hasMoved && isGivenUp) this.put(from, grip.key, gesture);
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
    this.last = grip.key;
    const by = way * (event.shiftKey ? COARSE : 1) * (grip.unit === 'ms' ? this.step_ms : STEP_DB);
    this.turn(grip, grip.value + grip.sign * by, keysGesture(`${this.clip.name} ${grip.key}`));
    this.follow(grip.key);
  }

  /** What was moved out of sight by keys is followed. */
  follow(moved) {
    const { at_ms } = grips(this.clip, this.view).find(({ key }) => key === moved);
    if (at_ms >= this.view.from_ms && at_ms <= this.view.to_ms) return;
    this.look(at_ms - this.span_ms / 2, this.span_ms);
    this.overlay.querySelector(`[data-key="${moved}"]`)?.focus();
  }

  /** Shown at once, in whole steps. from: the clip before this movement. An end at that of the recording needs no key. */
  turn({ key, least, most, unit }, wanted, gesture, from = this.clip) {
    const step = unit === 'ms' ? this.step_ms : STEP_DB;
    const within = Math.max(Math.ceil(least / step - 1e-6), Math.min(Math.floor(most / step + 1e-6), Math.round(wanted / step)));
    const isWhole = key === 'end_ms' && within * step > most - step;
    const now = turnedTo(from, key, isWhole ? most : fine(within * step));
    if (valueOf(now, key) === valueOf(this.clip, key) && !this.isHeld) return;
    this.put(now, key, gesture);
  }

  put(clip, key, gesture) {
    this.clip = clip;
    this.draw();
    const loop = isCut(key) && clip.loop ? ['loop.start_ms', ...(clip.loop.isOpen ? [] : ['loop.end_ms'])] : [];
    const isWhole = (one) => one === 'end_ms' && clip.end_ms === clip.length_ms;
    this.turned([key, ...loop].map((one) => ({ key: one, value: isWhole(one) ? null : valueOf(clip, one) })), gesture);
  }

  /** The canvas at the screen's own pixels, with an empty lane. */
  lane(canvas, height) {
    const ratio = window.devicePixelRatio || 1;
    canvas.width = Math.round(this.width * ratio);
    canvas.height = Math.round(height * ratio);
    const pen = canvas.getContext('2d', { alpha: false });
    pen.scale(ratio, ratio);
    pen.fillStyle = this.colour('--strip-lane');
    pen.fillRect(0, 0, this.width, height);
    return pen;
  }

  colour(name) {
    return getComputedStyle(this.canvas).getPropertyValue(name).trim();
  }

  paint() {
    const { start_ms, end_ms } = this.clip, [kept, left] = [this.colour('--strip-first'), this.colour('--edge')];
    const colourAt = (at_ms) => (at_ms >= start_ms && at_ms <= end_ms ? kept : left);
    this.curve.paint(this.lane(this.canvas, HEIGHT_PX), this.recording, this.view, { width: this.width, height: HEIGHT_PX }, colourAt);
  }

  paintMade() {
    const pen = this.lane(this.made, MADE_PX), colour = this.colour('--strip-second');
    if (this.sound) this.madeCurve.paint(pen, this.sound, this.view, { width: this.width, height: MADE_PX }, () => colour);
  }
}

function isCut(key) {
  return key === 'start_ms' || key === 'end_ms';
}

function valueOf(clip, key) {
  return key.startsWith('loop.') ? clip.loop[key.slice(5)] : clip[key];
}

/** Without what a binary fraction has too much. */
function fine(value) {
  return Number(value.toFixed(3));
}
