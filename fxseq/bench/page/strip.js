/** The last seconds as lanes, written from left to right and over again, like ink on a drum: nothing scrolls, so nothing flickers. */

import { number, spoken } from './make.js';

export const SPAN_S = 8;
const LANE_PX = { sound: 48, current: 48, level: 48, light: 20, press: 14, events: 20, time: 14 };
const GAP_PX = 6;
/** Room for labels: of a wide strip, and of one on a telephone. */
const LABEL_PX = 196, NARROW_LABEL_PX = 112, NARROW_PX = 560;
const LINE_PX = 15;
/** How much wider than its place a text may be: that much closer it can be written and still be read. */
const SQUEEZED = 1.2;
/** Ground wiped ahead of the pen, so that it is seen where now is. */
const AHEAD_PX = 14;
const LONGEST_JUMP_S = 0.5;
const FONT = '12px system-ui, sans-serif', SMALL_FONT = '11px system-ui, sans-serif';
/** Levels that the lane shows, below the highest that it has room for. */
const LEVELS_DB = 60;
/** How often what is written out in numbers follows. */
const SAY_EVERY_S = 0.25;
/** Kinds of trace events (SPEC 7) by number. */
export const KINDS = ['', 'press', 'release', 'select', 'volume', 'start', 'stop', 'shot', 'empty', 'effect', 'sound', 'cut', 'released', 'fade',
  'count', 'refused'];
/** What is marked, as a tick so high: what went wrong, shots, and what else was started. */
const MARKED = new Map([['cut', 1], ['empty', 1], ['refused', 1], ['shot', 0.75], ['effect', 0.35]]);
const ALARMING = new Set(['cut', 'empty', 'refused']);

export class Strip {
  constructor(canvas) {
    this.canvas = canvas;
    this.pen = canvas.getContext('2d', { alpha: false });
    this.at_s = 0;
    this.said_s = 0;
    this.left = this.width = 0;
    this.lanes = [];
    this.down = new Set();
    this.highs = []; // {at_s, ma, db} of the reports of the last seconds
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => this.clear());
    new ResizeObserver(() => this.clear()).observe(canvas.parentElement);
  }

  /** Lanes for a prop: sound, current and level, light of each group, each input, what was traced. */
  show(prop) {
    const lanes = lanesOf(prop);
    const laid = JSON.stringify(lanes);
    if (laid === this.laid) return;
    this.laid = laid;
    let top = GAP_PX;
    this.lanes = lanes.map((lane) => {
      const placed = { ...lane, top, height: LANE_PX[lane.kind] };
      top += placed.height + GAP_PX;
      return placed;
    });
    this.height = top;
    this.clear();
  }

  clear() {
    const style = getComputedStyle(this.canvas);
    const colour = (name) => [name, style.getPropertyValue(`--strip-${name}`).trim()];
    this.colours = Object.fromEntries(['ground', 'lane', 'rule', 'ink', 'first', 'second', 'third', 'fourth', 'alarm'].map(colour));
    const ratio = window.devicePixelRatio || 1;
    const room = this.canvas.parentElement.clientWidth;
    this.isNarrow = room < NARROW_PX;
    this.left = this.isNarrow ? NARROW_LABEL_PX : LABEL_PX;
    this.width = Math.max(room, this.left + 60);
    this.canvas.width = Math.round(this.width * ratio);
    this.canvas.height = Math.round((this.height || 1) * ratio);
    this.canvas.style.height = `${this.height || 1}px`;
    this.pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.pen.fillStyle = this.colours.ground;
    this.pen.fillRect(0, 0, this.width, this.height || 1);
    this.pen.textBaseline = 'middle';
    for (const lane of this.lanes) {
      if (lane.kind === 'time') this.seconds(lane);
      else this.wipe(lane, this.left, this.width);
      this.label(lane);
    }
  }

  /** Name and scale: below each other where there is room, else side by side, the scale shorter where the name is long. */
  label({ name, scale: whole, brief = whole, kind, top, height }) {
    const isTall = height >= 3 * LINE_PX, nameFont = kind === 'time' ? SMALL_FONT : FONT;
    const middle = top + (isTall ? LINE_PX / 2 + 1 : height / 2), room = this.left - 8;
    const beside = (text) => (isTall || !text ? 0 : this.wide(text, SMALL_FONT) + 8);
    const isShort = this.isNarrow || this.wide(name, nameFont) > room - beside(whole), scale = isShort ? brief : whole;
    this.pen.fillStyle = this.colours.ink;
    this.pen.font = SMALL_FONT;
    if (isTall) this.pen.fillText(scale, 0, middle + LINE_PX, room);
    else if (scale) this.pen.fillText(scale, this.left - beside(scale), middle);
    this.pen.font = nameFont;
    this.pen.fillText(this.cut(name, nameFont, SQUEEZED * (room - beside(scale))), 0, middle, room - beside(scale));
  }

  wide(text, font) {
    this.pen.font = font;
    return this.pen.measureText(text).width;
  }

  /** As much of a text as there is room for. */
  cut(text, font, room) {
    if (this.wide(text, font) <= room) return text;
    let length = text.length;
    while (length > 1 && this.wide(`${text.slice(0, length)}…`, font) > room) length -= 1;
    return `${text.slice(0, length).trimEnd()}…`;
  }

  /** Below a lane's name and scale: the highest of the last seconds. */
  sayHighest({ top }, text) {
    this.pen.fillStyle = this.colours.ground;
    this.pen.fillRect(0, top + 2 * LINE_PX + 1, this.left - 2, LINE_PX);
    this.pen.fillStyle = this.colours.ink;
    this.pen.font = SMALL_FONT;
    this.pen.fillText(text, 0, top + 2.5 * LINE_PX + 1, this.left - 8);
  }

  /** A mark for each second, below all lanes. */
  seconds({ top }) {
    this.pen.fillStyle = this.colours.ink;
    for (let second = 0; second <= SPAN_S; second++) {
      this.pen.fillRect(Math.min(this.left + (this.width - this.left) * second / SPAN_S, this.width - 1), top, 1, 6);
    }
  }

  wipe({ top, height, rules = [] }, from, to) {
    this.pen.fillStyle = this.colours.lane;
    this.pen.fillRect(from, top, to - from, height);
    this.pen.fillStyle = this.colours.rule;
    for (const share of rules) this.pen.fillRect(from, Math.round(top + height * (1 - share)), to - from, 1);
  }

  /** Writes on: what a report of the worklet holds, over the seconds that it covers. */
  write(report, seconds) {
    const passed_s = Math.min(seconds, LONGEST_JUMP_S);
    const span = this.width - this.left;
    // Whole dots, so that what is written in pieces has no seams.
    const ratio = window.devicePixelRatio || 1;
    const whole = (at_px) => Math.round(at_px * ratio) / ratio;
    const start = this.left + this.at_s % SPAN_S / SPAN_S * span;
    const from = whole(start), to = whole(start + passed_s / SPAN_S * span);
    this.at_s += passed_s;
    for (const lane of this.lanes) {
      if (lane.kind === 'time') continue;
      this.wipe(lane, from, Math.min(to + AHEAD_PX, this.width));
      if (to + AHEAD_PX > this.width) this.wipe(lane, this.left, this.left + to + AHEAD_PX - this.width);
    }
    this.pens(report, from, to);
    this.keepHighest(report);
  }

  pens(report, from, to) {
    const before = new Set(this.down);
    const struck = new Set();
    for (const event of report.trace) this.heed(event, struck);
    for (const lane of this.lanes) {
      const bar = (low, high, colour) => {
        this.pen.fillStyle = this.colours[colour];
        this.pen.fillRect(from, lane.top + lane.height * (1 - high), Math.max(to - from, 1), Math.max(lane.height * (high - low), 1));
      };
      if (lane.kind === 'sound') bar(0.5 + report.low / 2, 0.5 + report.high / 2, 'first');
      else if (lane.kind === 'current') this.currents(report, lane, bar);
      else if (lane.kind === 'level') report.level_db > lane.least && bar(0, (report.level_db - lane.least) / LEVELS_DB, 'first');
      else if (lane.kind === 'press') (before.has(lane.index) || struck.has(lane.index)) && bar(0.15, 0.85, 'ink');
      else if (lane.kind === 'events') this.marks(lane, report.trace, from);
      else if (lane.kind === 'light') bar(0, meanLightness(report.shares, lane), 'second');
    }
  }

  /** Up to the mean in full colour, on to the highest in a paler one. */
  currents({ mean_ma, highest_ma }, { most }, bar) {
    bar(0, highest_ma / most, 'fourth');
    bar(0, mean_ma / most, 'third');
  }

  heed({ kind, index }, struck) {
    if (KINDS[kind] === 'press') {
      this.down.add(index);
      struck.add(index);
    } else if (KINDS[kind] === 'release') {
      this.down.delete(index);
    }
  }

  marks({ top, height }, trace, x) {
    for (const { kind } of trace) {
      const tall = MARKED.get(KINDS[kind]);
      if (tall === undefined) continue;
      this.pen.fillStyle = ALARMING.has(KINDS[kind]) ? this.colours.alarm : this.colours.ink;
      this.pen.fillRect(x, top + height * (1 - tall), 2, height * tall);
    }
  }

  keepHighest({ highest_ma, level_db }) {
    this.highs.push({ at_s: this.at_s, ma: highest_ma, db: level_db ?? -Infinity });
    while (this.highs[0].at_s < this.at_s - SPAN_S) this.highs.shift();
    if (this.at_s < this.said_s + SAY_EVERY_S) return;
    this.said_s = this.at_s;
    const { current, level } = this.highest;
    for (const lane of this.lanes) {
      if (lane.kind === 'current') this.sayHighest(lane, `highest ${current}`);
      else if (lane.kind === 'level') this.sayHighest(lane, level ? `highest ${level}` : '');
    }
  }

  /** Of the last seconds, with their units; the level is null where nothing is heard. */
  get highest() {
    const most_db = Math.max(...this.highs.map(({ db }) => db));
    return { current: `${number(Math.max(0, ...this.highs.map(({ ma }) => ma)))} mA`, level: most_db > 0 ? `${Math.round(most_db)} dB(A)` : null };
  }

  /** A table that starts anew has nothing pressed. */
  startAnew() {
    this.down.clear();
  }
}

/** What each lane shows, in which unit, from what to what. */
function lanesOf({ groups, names, meters }) {
  const most = roundedUp(meters.most_ma);
  /** @type {any[]} */
  const lanes = [
    { kind: 'sound', name: 'Sound', scale: '−1 to 1 of full scale', brief: '−1 to 1, full scale', rules: [0.5] },
    { kind: 'current', name: 'Current, no sag', scale: `0–${number(most)} mA`, most, rules: [0.5] },
  ];
  if (meters.sound) {
    const highest = 10 * Math.ceil(meters.sound.most_db / 10);
    const least = highest - LEVELS_DB;
    lanes.push({ kind: 'level', name: 'Level at the hand', scale: `${least}–${highest} dB(A)`, least, rules: [1 / 3, 2 / 3] });
  }
  return [
    ...lanes,
    ...groups.map(({ name, first, channels }) => ({ kind: 'light', name: spoken(name), scale: 'lightness, 0–100 %', brief: '0–100 %', first, channels })),
    ...names.inputs.map((name, index) => ({ kind: 'press', name: spoken(name), scale: 'pressed', index })),
    { kind: 'events', name: 'Events' }, { kind: 'time', name: 'Time, 1 s a mark' },
  ];
}

/** The next of 1, 2, 5, 10 and so on. */
function roundedUp(value) {
  const power = 10 ** Math.floor(Math.log10(Math.max(value, 1)));
  return power * ([1, 2, 5].find((times) => times * power >= value) ?? 10);
}

/** Of a group, 0..1: CIE 1976 lightness of its mean light, so that what is drawn is even to the eye. */
export function meanLightness(shares, { first, channels }) {
  let sum = 0;
  for (let channel = first; channel < first + channels; channel++) sum += shares[channel] || 0;
  const light = channels ? sum / channels : 0;
  return light > 216 / 24389 ? 1.16 * Math.cbrt(light) - 0.16 : light * 24389 / 2700;
}
