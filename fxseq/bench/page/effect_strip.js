/** An effect on a strip of time: a lane for each sound and each group of lamps, in which its steps are moved. */

import { get } from './api.js';
import { curve, lengthOf, pathOf, whole } from './curve.js';
import { drag, mayDrag, nearest } from './drag.js';
import { FadeStrip } from './fade_strip.js';
import { act, at as valueAt, idOf } from './form.js';
import { byId, draw, make, number, spoken } from './make.js';
import { renew } from './renew.js';
import { trying } from './say.js';
import { GRIP_PX, Head, Surface, asSlider, shortened, squareGrip, text, timeMarks } from './surface.js';
import { keysGesture, newGesture } from './turn.js';

const LANE_PX = { sounds: 58, lights: 46, counts: 26 }, GAP_PX = 6, AXIS_PX = 24, RIGHT = 18, LABEL_PX = 120, NARROW_LABEL_PX = 74;
const SHORTEST_MS = 300, ROOM = 1.15, COUNT_PX = 10;
/** What goes on by itself is drawn as if it were held for so long. */
const GOES_ON_MS = 1500;
const MOST_DB = 12, LEAST_DB = -40, STEP_DB = 0.5, COARSE = 10, STEP_MS = 5;
const RELEASE_STEP_MS = 10, MOST_RELEASE_MS = 10000, MOST_LENGTH_MS = 3600000;
const PEAK = 127;
/** What holds where a step does not say it. */
const LEFT_OUT = { at_ms: 0, gain_db: 0, loop: false, release_ms: 40, stagger_ms: 0 };
const ONE = { sounds: 'sound', lights: 'light', counts: 'counter change' };
const NAMES = { sounds: ['clip'], lights: ['group', 'fade'], counts: ['counter'] };
const ARROWS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const HELP = 'Drag a step to another time, the round grip of a sound for its level, a square one for how long. '
  + 'Or use the arrow keys (Shift: large steps, Delete: take out).';

export class EffectStrip {
  /** build: {form, edits}; usesOf() as for a fade; hear(effect): plays it. */
  constructor(build) {
    this.build = build;
    this.clips = {};
    this.frame_ms = 1;
    this.span_ms = SHORTEST_MS;
    /** @type {any} */
    this.effect = undefined;
    this.chosen = null; // {key, at}
    this.head = new Head();
    this.surface = new Surface('Steps of the effect', () => this.paint());
    this.surface.element.addEventListener('pointerdown', (event) => this.grab(event));
    this.tools = make('div', { class: 'strip-tools' });
    this.orders = this.surface.through(build.edits);
    this.fade = new FadeStrip(build.edits, build);
    this.adds = make('div', { class: 'row' });
    this.hear = act('Hear it', () => trying(() => build.hear(this.name)), 'effect-hear');
    this.hear.className = 'strong';
    const help = make('p', { class: 'small' }, HELP);
    this.element = make('div', { class: 'strip-box' }, this.surface.element, this.surface.fault, help, this.adds, this.tools, this.fade.element);
    const add = (key) => act(`+ ${spoken(ONE[key])}`, () => this.add(key), `effect-add-${key}`);
    this.adds.append(this.hear, ...Object.keys(ONE).map(add));
  }

  show(name) {
    if (name !== this.name) {
      this.chosen = null;
      this.clips = {};
      this.surface.fault.textContent = '';
    }
    this.name = name;
    const { sounds = [], lights = [], counts = [], length_ms = null } = this.build.form.values.effects[name];
    const filled = (steps) => steps.map((step) => ({ ...LEFT_OUT, ...step }));
    this.effect = { length_ms, sounds: filled(sounds), lights: filled(lights), counts: filled(counts) };
    if (!this.stepOf(this.chosen)) this.chosen = null;
    this.surface.element.setAttribute('aria-label', `Steps of the effect ${spoken(name)}`);
    this.showChosen();
    this.surface.draw();
    trying(() => this.load());
  }

  /** How its sounds are drawn, once for as long as nothing about sounds changes. */
  async load() {
    const { clips, board, speaker } = this.build.form.values, { name } = this;
    const wanted = JSON.stringify([name, this.effect.sounds.map(({ clip }) => clip), clips, board, speaker]);
    if (wanted === this.loaded) return;
    this.loaded = wanted;
    const answer = await get(`/api/effects/${encodeURIComponent(name)}`).catch((error) => {
      this.loaded = undefined;
      throw error;
    });
    if (wanted !== this.loaded) return;
    this.clips = answer.clips;
    this.frame_ms = answer.frame_ms;
    this.surface.draw();
  }

  pathTo({ key, at }) {
    return ['effects', this.name, key, at];
  }

  stepOf(chosen) {
    return chosen && this.effect[chosen.key][chosen.at];
  }

  add(key) {
    const { form } = this.build, values = form.values.effects[this.name][key] || [];
    const field = form.forms.tables.Effect.fields.find((one) => one.key === key);
    this.chosen = { key, at: values.length };
    form.addRow(['effects', this.name, key], field.takes[0].of, values);
  }

  /** Gone at once: what is done to those behind it, before there is an answer, is meant for them. */
  takeOut({ key, at }) {
    const path = this.pathTo({ key, at });
    this.build.form.takeOut(path, path.slice(0, -1), this.effect[key])();
    this.effect[key].splice(at, 1);
    if (!this.stepOf(this.chosen)) this.chosen = null;
    this.showChosen();
    this.surface.draw();
  }

  /** What the chosen step plays, and where it shines its fade. */
  showChosen() {
    const { chosen } = this, step = this.stepOf(chosen);
    const fade = chosen?.key === 'lights' && this.build.form.values.fades?.[step?.fade];
    this.fade.element.hidden = !fade;
    if (fade) this.fade.show(step.fade, fade, [...this.pathTo(chosen), 'fade']);
    const words = this.steps.length ? 'Choose a step to change or replace it.' : 'Nothing happens in this effect yet.';
    renew(this.tools, step ? this.toolsOf(chosen, step) : make('p', { class: 'small' }, words));
  }

  toolsOf(chosen, step) {
    const { form } = this.build, path = this.pathTo(chosen);
    const fields = form.forms.tables[{ sounds: 'Sound', lights: 'Light', counts: 'Count' }[chosen.key]].fields;
    const menus = NAMES[chosen.key].map((key) => {
      const field = fields.find((one) => one.key === key);
      const more = { id: `strip-${idOf([...path, key])}`, 'aria-label': `${field.label} of this ${ONE[chosen.key]}` };
      return form.things(field.takes[0].of, field, [...path, key], step[key], more);
    });
    const where = make('span', { class: 'small', id: 'strip-where' }, this.inWords(chosen, step));
    return make('div', { class: 'row' }, make('strong', {}, `${spoken(ONE[chosen.key])} ${chosen.at + 1}`), ...menus, where,
      act(`Take out ${ONE[chosen.key]} ${chosen.at + 1}`, () => this.takeOut(chosen), 'strip-out', 'Take out'));
  }

  inWords({ key }, step) {
    const at = `at ${number(step.at_ms, 5)} ms`;
    if (key === 'sounds') return `${at}, ${number(step.gain_db)} dB${step.loop ? `, on and on, let go over ${number(step.release_ms, 4)} ms` : ''}`;
    return key === 'counts' ? `${at}, ${signed(step.change)}` : at;
  }

  /** All steps: {key, at, step}, in the order of the file. */
  get steps() {
    return Object.keys(ONE).flatMap((key) => this.effect[key].map((step, at) => ({ key, at, step })));
  }

  /** Lanes from top to bottom: {key, label, steps, top}. */
  get lanes() {
    const lanes = this.effect.sounds.map((step, at) => ({ key: 'sounds', label: spoken(step.clip), steps: [{ key: 'sounds', at, step }] }));
    const of = (key, group) => this.steps.filter((one) => one.key === key && one.step.group === group);
    const lit = [...new Set(this.effect.lights.map(({ group }) => group))];
    lanes.push(...lit.map((group) => ({ key: 'lights', label: spoken(group), steps: of('lights', group) })));
    const counts = of('counts');
    if (counts.length) lanes.push({ key: 'counts', label: 'Counters', steps: counts });
    let top = 0;
    return lanes.map((lane) => {
      const placed = { ...lane, top };
      top += LANE_PX[lane.key] + GAP_PX;
      return placed;
    });
  }

  /** From its start to its end; what goes on by itself is let go meanwhile. */
  lasts_ms(one) {
    const { key, step } = one;
    if (key === 'counts') return 0;
    if (key === 'sounds') return step.loop ? this.letGo_ms - step.at_ms + step.release_ms : this.clips[step.clip]?.duration_ms ?? 0;
    const fade = this.build.form.values.fades?.[step.fade], group = this.build.form.values.groups?.[step.group];
    if (this.goesOn(one)) return this.letGo_ms - step.at_ms;
    return (fade ? lengthOf(whole(fade)) : 0) + Math.abs(step.stagger_ms) * ((group?.channels ?? 1) - 1);
  }

  goesOn({ key, step }) {
    return key === 'sounds' ? step.loop : key === 'lights' && Boolean(this.build.form.values.fades?.[step.fade]?.loop);
  }

  /** When what goes on by itself is let go, as it is drawn; null where nothing does. @returns {any} */
  get letGo_ms() {
    const on = this.steps.filter((one) => this.goesOn(one));
    return on.length ? GOES_ON_MS + Math.max(...on.map(({ step }) => step.at_ms)) : null;
  }

  get end_ms() {
    return Math.max(SHORTEST_MS, this.effect.length_ms ?? 0, ...this.steps.map((one) => one.step.at_ms + this.lasts_ms(one)));
  }

  get left() {
    return this.surface.isNarrow ? NARROW_LABEL_PX : LABEL_PX;
  }

  get pxPerMs() {
    return (this.surface.width - this.left - RIGHT) / this.span_ms;
  }

  x(at_ms) {
    return this.left + at_ms * this.pxPerMs;
  }

  y({ top }, gain_db) {
    return top + GRIP_PX + (MOST_DB - Math.max(LEAST_DB, Math.min(MOST_DB, gain_db))) / (MOST_DB - LEAST_DB) * (LANE_PX.sounds - 2 * GRIP_PX);
  }

  paint() {
    const { lanes } = this, bottom = lanes.length ? lanes.at(-1).top + LANE_PX[lanes.at(-1).key] : LANE_PX.counts;
    this.surface.setHeight(bottom + AXIS_PX);
    if (!this.held) this.span_ms = this.end_ms * ROOM;
    const far = this.surface.width - RIGHT;
    const line = (kind, at_ms) => draw('line', { class: kind, x1: this.x(at_ms), x2: this.x(at_ms), y1: 0, y2: bottom });
    const ends = this.effect.length_ms === null ? [] : [line('effect-end', this.effect.length_ms)];
    const letGo = this.letGo_ms === null ? [] : [line('let-go', this.letGo_ms), text(this.x(this.letGo_ms) + 4, 12, 'let go')];
    return [
      ...lanes.map(({ top, key }) => draw('rect', { class: 'lane', x: this.left, y: top, width: far - this.left, height: LANE_PX[key] })),
      ...timeMarks(this.span_ms, (at_ms) => this.x(at_ms), 0, bottom, this.surface.isNarrow),
      ...lanes.map(({ label, top, key }) => text(0, top + LANE_PX[key] / 2 + 4, shortened(label, this.left), { class: 'lane-name' })),
      ...lanes.flatMap((lane) => lane.steps.map((one) => this.block(lane, one))), ...ends, ...letGo, this.head.line(bottom),
      ...this.grips.map((grip) => this.grip(grip))];
  }

  isChosen({ key, at }) {
    return this.chosen?.key === key && this.chosen.at === at;
  }

  /** One step, from its start to its end. */
  block(lane, one) {
    const { key, at, step } = one, from = this.x(step.at_ms), height = LANE_PX[key];
    const far = this.surface.width - RIGHT;
    const to = Math.min(far, Math.max(this.x(step.at_ms + this.lasts_ms(one)), from + (key === 'counts' ? COUNT_PX : 4)));
    const label = `${spoken(ONE[key])} ${at + 1}: ${NAMES[key].map((name) => spoken(step[name])).join(', ')}`;
    const block = asSlider(draw('g', { class: this.isChosen(one) ? 'block chosen' : 'block' },
      draw('rect', { x: from, y: lane.top, width: Math.max(to - from, 1), height, rx: 3 }), ...this.inside(lane, one, from, to)),
    { id: `strip-${key}-${at}`, label, least: 0, most: Math.round(this.span_ms), value: Math.round(step.at_ms), words: this.inWords(one, step) });
    block.addEventListener('keydown', (event) => this.key(event, one));
    block.addEventListener('focus', () => this.choose(one));
    return block;
  }

  inside(lane, one, from, to) {
    if (one.key === 'sounds') return this.waves(lane, one, from, to);
    if (one.key === 'lights') return this.curves(lane, one, to);
    return [text(from + COUNT_PX + 4, lane.top + LANE_PX.counts / 2 + 4, `${spoken(one.step.counter)} ${signed(one.step.change)}`)];
  }

  /** The sound as the board plays it, at the level of this place; a loop goes round. */
  waves({ top }, { step }, from, to) {
    const clip = this.clips[step.clip];
    if (!clip) return [];
    const middle = top + LANE_PX.sounds / 2, scale = LANE_PX.sounds / 2 / PEAK * 10 ** (step.gain_db / 20), columns = clip.peaks.length / 2;
    const upper = [], lower = [];
    for (let x = from; x <= to; x += 1) {
      const after_ms = (x - from) / this.pxPerMs, share = this.shareLeft(step, step.at_ms + after_ms);
      const column = Math.min(columns - 1, Math.floor(this.heard_ms(clip, step, after_ms) / clip.duration_ms * columns));
      const bounded = (value) => Math.max(top + 1, Math.min(top + LANE_PX.sounds - 1, middle - value * scale * share));
      lower.push([x, bounded(clip.peaks[2 * column])]);
      upper.push([x, bounded(clip.peaks[2 * column + 1])]);
    }
    return upper.length ? [draw('path', { class: 'wave-shape', d: `${pathOf([...upper, ...lower.reverse()])} Z` })] : [];
  }

  /** Share of a sound's level at a time: what goes on by itself dies away once it is let go. */
  shareLeft({ loop, release_ms }, at_ms) {
    const late_ms = loop ? at_ms - this.letGo_ms : 0;
    return late_ms > 0 ? Math.max(0, 1 - late_ms / release_ms) : 1;
  }

  /** Which time of a clip is heard so long after its start. */
  heard_ms({ duration_ms, loop_ms }, { loop }, after_ms) {
    if (!loop || after_ms < duration_ms) return after_ms;
    const [start_ms, end_ms] = loop_ms || [0, duration_ms];
    return start_ms + (after_ms - start_ms) % (end_ms - start_ms);
  }

  /** The light of the first channel, and of the last one where they are lit one after the other. */
  curves({ top }, { step }, to) {
    const fade = this.build.form.values.fades?.[step.fade];
    if (!fade) return [];
    const channels = this.build.form.values.groups?.[step.group]?.channels ?? 1, last_ms = Math.abs(step.stagger_ms) * (channels - 1);
    const until_ms = (to - this.left) / this.pxPerMs - step.at_ms, height = LANE_PX.lights - 4;
    const points = curve(whole(fade), until_ms).filter(([at_ms]) => at_ms <= until_ms + 1);
    const spot = (at_ms, percent) => [Math.min(this.x(step.at_ms + at_ms), to), top + 2 + height * (1 - percent / 100)];
    const drawn = (late_ms, more) => draw('path', { class: 'light-shape', d: pathOf(points.map(([at_ms, percent]) => spot(late_ms + at_ms, percent))), ...more });
    return last_ms ? [drawn(last_ms, { class: 'light-shape last' }), drawn(0, {})] : [drawn(0, {})];
  }

  /** What is taken hold of besides steps: levels of sounds, how long those that go on die away, and the length of the effect. */
  get grips() {
    const { lanes } = this, perMs = 1 / this.pxPerMs, perDb = -(MOST_DB - LEAST_DB) / (LANE_PX.sounds - 2 * GRIP_PX);
    const ofSounds = lanes.filter(({ key }) => key === 'sounds').flatMap((lane) => {
      const [one] = lane.steps, { step, at } = one;
      const level = { id: `strip-gain-${at}`, one, key: 'gain_db', label: `Level of sound ${at + 1}`, unit: 'dB', least: LEAST_DB, most: MOST_DB,
        step: STEP_DB, per: [0, perDb], spot: [Math.min(this.x(step.at_ms) + 2 * GRIP_PX, this.surface.width - RIGHT), this.y(lane, step.gain_db)] };
      const release = { id: `strip-release-${at}`, one, key: 'release_ms', label: `How long sound ${at + 1} dies away`, unit: 'ms', least: 0,
        most: MOST_RELEASE_MS, step: RELEASE_STEP_MS, per: [perMs, 0], spot: [this.x(this.letGo_ms + step.release_ms), lane.top + LANE_PX.sounds - GRIP_PX] };
      return step.loop ? [level, release] : [level];
    });
    if (this.effect.length_ms === null) return ofSounds;
    return [...ofSounds, { id: 'strip-length', one: null, key: 'length_ms', label: 'Length of the effect', unit: 'ms', least: STEP_MS,
      most: MOST_LENGTH_MS, step: STEP_MS, per: [perMs, 0], spot: [this.x(this.effect.length_ms), GRIP_PX] }];
  }

  valueOf({ one, key }) {
    return (one ? one.step : this.effect)[key];
  }

  grip(grip) {
    const { unit, per: [across], spot } = grip, value = this.valueOf(grip);
    const shape = asSlider(across ? squareGrip(spot) : draw('circle', { class: 'grip up', cx: spot[0], cy: spot[1], r: GRIP_PX }),
      { ...grip, value, words: `${number(value, 5)} ${unit}`, orientation: across ? 'horizontal' : 'vertical' });
    shape.addEventListener('keydown', (event) => this.gripKey(event, grip));
    shape.addEventListener('focus', () => grip.one && this.choose(grip.one));
    return shape;
  }

  gripKey(event, grip) {
    const [across, up] = ARROWS[event.key] || [0, 0], by = (event.shiftKey ? COARSE : 1) * (across + up);
    if (!by) return;
    event.preventDefault();
    this.turn(grip, this.valueOf(grip) + by * grip.step, keysGesture(`${this.name} ${grip.id}`));
  }

  turn({ one, key, least, most, step }, wanted, gesture) {
    this.set(one, key, Math.max(least, Math.min(most, Math.round(wanted / step) * step)), gesture);
  }

  choose({ key, at }) {
    if (this.isChosen({ key, at })) return;
    this.chosen = { key, at };
    this.showChosen();
    this.surface.draw();
  }

  grab(event) {
    const { element } = this.surface, { grips } = this, near = nearest(event, element, grips.map(({ spot }) => spot));
    if (!mayDrag(event, element)) return undefined;
    if (near >= 0) return this.grabGrip(event, grips[near]);
    const [, y] = this.surface.at(event), lane = this.lanes.find(({ top, key }) => y >= top && y < top + LANE_PX[key]);
    const one = lane && this.under(lane, event);
    return one && this.grabStep(event, one);
  }

  grabStep(event, one) {
    const { at_ms } = one.step, { pxPerMs } = this, gesture = newGesture();
    this.choose(one);
    const move = (across_px) => this.move(one, at_ms + across_px / pxPerMs, gesture);
    this.follow(event, `strip-${one.key}-${one.at}`, move, () => this.set(one, 'at_ms', at_ms, gesture));
  }

  grabGrip(event, grip) {
    const value = this.valueOf(grip), { per: [across, down] } = grip, gesture = newGesture();
    if (grip.one) this.choose(grip.one);
    const move = (across_px, down_px) => this.turn(grip, value + across * across_px + down * down_px, gesture);
    this.follow(event, grip.id, move, () => this.set(grip.one, grip.key, value, gesture));
  }

  follow(event, id, move, giveUp) {
    byId(id).focus({ preventScroll: true, focusVisible: false });
    this.held = true;
    drag(event, this.surface.element, {
      move: (_, across_px, down_px) => move(across_px, down_px),
      end: ({ hasMoved, isGivenUp }) => {
        this.held = false;
        if (hasMoved && isGivenUp) giveUp();
        this.surface.draw();
      },
    });
  }

  /** The step of a lane that a pointer is on: of several, the one that starts last. */
  under(lane, event) {
    if (lane.key === 'sounds') return lane.steps[0];
    const [x] = this.surface.at(event), at_ms = (x - this.left) / this.pxPerMs;
    const begun = lane.steps.filter(({ step }) => step.at_ms <= at_ms + GRIP_PX / this.pxPerMs);
    return begun.sort((one, other) => one.step.at_ms - other.step.at_ms).at(-1);
  }

  key(event, one) {
    if (event.key === 'Delete') {
      event.preventDefault();
      return this.takeOut(one);
    }
    const [across, up] = ARROWS[event.key] || [0, 0], by = event.shiftKey ? COARSE : 1;
    if (!across && !up) return undefined;
    event.preventDefault();
    const gesture = keysGesture(`${this.name} ${one.key} ${one.at}`), step = this.effect[one.key][one.at];
    const level = this.grips.find(({ id }) => one.key === 'sounds' && id === `strip-gain-${one.at}`);
    if (level && up) return this.turn(level, step.gain_db + up * by * STEP_DB, gesture);
    return this.move(one, step.at_ms + (across || up) * by * Math.max(STEP_MS, this.frame_ms), gesture);
  }

  /** To a time of a whole frame of the board. */
  move(one, wanted_ms, gesture) {
    const frames = Math.max(0, Math.round(wanted_ms / this.frame_ms));
    this.set(one, 'at_ms', Number((frames * this.frame_ms).toFixed(this.frame_ms < 0.5 ? 2 : 1)), gesture);
  }

  /** Shown at once, and has it compiled. */
  set(one, key, value, gesture) {
    const part = one ? this.effect[one.key][one.at] : this.effect;
    if (part[key] === value) return;
    part[key] = value;
    if (one) one.step[key] = value;
    const path = [...(one ? this.pathTo(one) : ['effects', this.name]), key];
    // What the file did not say before, and need not say, stays unsaid.
    const isLeftOut = value === LEFT_OUT[key] && valueAt(this.build.form.values, path) === undefined;
    this.orders.set(path, isLeftOut ? null : value, gesture);
    this.surface.draw();
    const words = document.getElementById('strip-where');
    if (one && words) words.textContent = this.inWords(one, part);
  }

  /** It plays from now on. */
  run() {
    this.head.run((at_ms) => this.x(at_ms), this.span_ms);
  }
}

function signed(change) {
  return `${change > 0 ? '+' : '−'}${Math.abs(change)}`;
}
