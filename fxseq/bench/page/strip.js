/** The last seconds as lanes, written from left to right and over again, like ink on a drum: nothing scrolls, so nothing flickers. */

import { spoken } from './make.js';

const SPAN_S = 8;
const LANE_PX = { sound: 46, light: 20, press: 14 };
const GAP_PX = 6;
const LABEL_PX = 104;
/** Ground wiped ahead of the pen, so that it is seen where now is. */
const AHEAD_PX = 14;
const LONGEST_JUMP_S = 0.5;
const FONT = '12px system-ui, sans-serif';
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
    this.lanes = [];
    this.down = new Set();
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => this.clear());
    new ResizeObserver(() => this.clear()).observe(canvas.parentElement);
  }

  /** Lanes for a prop: sound, a lane for each group and each input, what was traced. */
  show(prop) {
    const groups = prop.groups.map(({ name, first, channels }) => ({ kind: 'light', name, first, channels }));
    const inputs = prop.names.inputs.map((name, index) => ({ kind: 'press', name, index }));
    const lanes = [{ kind: 'sound', name: 'sound' }, ...groups, ...inputs, { kind: 'light', name: 'events', isTrace: true }];
    if (JSON.stringify(lanes.map(({ name }) => name)) === this.names) return;
    this.names = JSON.stringify(lanes.map(({ name }) => name));
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
    this.colours = Object.fromEntries(['ground', 'lane', 'ink', 'first', 'second', 'alarm'].map(colour));
    const ratio = window.devicePixelRatio || 1;
    this.width = Math.max(this.canvas.parentElement.clientWidth, LABEL_PX + 60);
    this.canvas.width = Math.round(this.width * ratio);
    this.canvas.height = Math.round((this.height || 1) * ratio);
    this.canvas.style.height = `${this.height || 1}px`;
    this.pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.pen.fillStyle = this.colours.ground;
    this.pen.fillRect(0, 0, this.width, this.height || 1);
    this.pen.font = FONT;
    this.pen.textBaseline = 'middle';
    for (const lane of this.lanes) {
      this.wipe(lane, LABEL_PX, this.width);
      this.pen.fillStyle = this.colours.ink;
      this.pen.fillText(spoken(lane.name), 0, lane.top + lane.height / 2, LABEL_PX - 8);
    }
  }

  wipe({ top, height }, from, to) {
    this.pen.fillStyle = this.colours.lane;
    this.pen.fillRect(from, top, to - from, height);
  }

  /** Writes on: what a report of the worklet holds, over the seconds that it covers. */
  write(report, seconds) {
    const passed_s = Math.min(seconds, LONGEST_JUMP_S);
    const span = this.width - LABEL_PX;
    // Whole dots, so that what is written in pieces has no seams.
    const ratio = window.devicePixelRatio || 1;
    const whole = (at_px) => Math.round(at_px * ratio) / ratio;
    const start = LABEL_PX + this.at_s % SPAN_S / SPAN_S * span;
    const from = whole(start), to = whole(start + passed_s / SPAN_S * span);
    this.at_s += passed_s;
    for (const lane of this.lanes) {
      this.wipe(lane, from, Math.min(to + AHEAD_PX, this.width));
      if (to + AHEAD_PX > this.width) this.wipe(lane, LABEL_PX, LABEL_PX + to + AHEAD_PX - this.width);
    }
    this.pens(report, from, to);
  }

  pens(report, from, to) {
    const before = new Set(this.down);
    const struck = new Set();
    for (const event of report.trace) this.heed(event, struck);
    for (const lane of this.lanes) {
      const bar = (low, high, colour) => {
        this.pen.fillStyle = colour;
        this.pen.fillRect(from, lane.top + lane.height * (1 - high), Math.max(to - from, 1), Math.max(lane.height * (high - low), 1));
      };
      if (lane.kind === 'sound') bar(0.5 + report.low / 2, 0.5 + report.high / 2, this.colours.first);
      else if (lane.kind === 'press') (before.has(lane.index) || struck.has(lane.index)) && bar(0.15, 0.85, this.colours.ink);
      else if (lane.isTrace) this.marks(lane, report.trace, from);
      else bar(0, meanLightness(report.shares, lane), this.colours.second);
    }
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

  /** A table that starts anew has nothing pressed. */
  startAnew() {
    this.down.clear();
  }
}

/** Of a group, 0..1: CIE 1976 lightness of its mean light, so that what is drawn is even to the eye. */
export function meanLightness(shares, { first, channels }) {
  let sum = 0;
  for (let channel = first; channel < first + channels; channel++) sum += shares[channel] || 0;
  const light = channels ? sum / channels : 0;
  return light > 216 / 24389 ? 1.16 * Math.cbrt(light) - 0.16 : light * 24389 / 2700;
}
