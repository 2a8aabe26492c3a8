/** A press script on a strip of time: a lane for each button and selector, in which what a hand does is moved, made longer and taken out. */

import { get } from './api.js';
import { drag, mayDrag, nearest } from './drag.js';
import { act } from './form.js';
import { byId, draw, make, number, spoken } from './make.js';
import { renew } from './renew.js';
import { trying } from './say.js';
import { GRIP_PX, Head, Surface, asSlider, shortened, squareGrip, text, timeMarks } from './surface.js';

const LANE_PX = 34, GAP_PX = 5, AXIS_PX = 24, RIGHT = 18, LABEL_PX = 120, NARROW_LABEL_PX = 74, MARK_PX = 10;
const TAP_S = 0.06, STEP_S = 0.01, KEY_STEP_S = 0.05, COARSE = 10, SHORTEST_S = 2, ROOM = 1.1, NEXT_S = 0.5;
const SECOND_MS = 1000;
/** Below all lanes: until when it goes on. */
const END = 'end', VOLUME = 'volume';
const HELD = ['tap', 'hold'];
const HELP = 'Drag a press to another time, its end to make it longer. Or use the arrow keys (Shift: large steps, Alt: its end; Delete: take out).';

export class ScriptStrip {
  /** build: {form, edits, dropped()}; play(script): plays what /api/scripts says. */
  constructor(build) {
    this.build = build;
    this.items = [];
    this.chosen = -1;
    this.span_s = SHORTEST_S;
    this.surface = new Surface('Presses of the script', () => this.paint());
    this.head = new Head();
    this.surface.element.addEventListener('pointerdown', (event) => this.grab(event));
    this.choice = make('select', { id: 'script-add', 'aria-label': 'What to add' });
    this.tools = make('div', { class: 'strip-tools' });
    const play = act('Play it', () => trying(() => this.play()), 'script-play');
    play.className = 'strong';
    this.element = make('div', { class: 'strip-box' }, this.surface.element, make('p', { class: 'small' }, HELP),
      make('div', { class: 'row' }, play, this.choice, act('Add', () => this.add(), 'script-add')), this.tools);
  }

  show(name) {
    if (name !== this.name) {
      this.chosen = -1;
      this.take({ items: [] });
    }
    this.name = name;
    this.showChoice();
    trying(() => this.load());
  }

  /** What a hand does or has just done stays in sight until the answer to it is there; what was refused goes back. */
  async load() {
    const { name } = this, { inputs, selectors, scripts, triggers } = this.build.form.values;
    const wanted = JSON.stringify([name, scripts[name], inputs, selectors, triggers]);
    if (wanted !== this.wanted) {
      this.wanted = wanted;
      this.asked = this.asking();
    }
    try {
      const answer = await this.asked;
      if (wanted === this.wanted && !this.isHeld && !this.build.edits.areWaiting) this.take(answer);
    } catch (error) {
      if (wanted === this.wanted) this.wanted = undefined;
      throw error;
    }
  }

  asking() {
    return get(`/api/scripts/${encodeURIComponent(this.name)}`);
  }

  take(answer) {
    this.items = answer.items.map((item) => ({ ...item }));
    this.chosen = Math.min(this.chosen, this.items.length - 1);
    this.showTools();
    this.surface.draw();
  }

  showChoice() {
    const { inputs = {}, selectors = {} } = this.build.form.values;
    const pressed = Object.keys(inputs).map((input) => ({ words: `tap ${input}`, label: `a press of ${spoken(input)}` }));
    const turned = Object.entries(selectors).flatMap(([selector, { positions }]) =>
      positions.map((position) => ({ words: `set ${selector} ${position}`, label: `${spoken(selector)} to ${spoken(position).toLowerCase()}` })));
    const before = this.choice.value;
    this.choice.replaceChildren(...[...pressed, ...turned].map(({ words, label }) => make('option', { value: words, selected: words === before }, label)));
  }

  showTools() {
    const item = this.items[this.chosen];
    const none = this.items.length ? 'Choose a press to change it.' : 'Nothing is pressed yet.';
    if (!item) return renew(this.tools, make('p', { class: 'small' }, none));
    return renew(this.tools, make('div', { class: 'row' }, make('strong', { id: 'script-where' }, this.inWords(item)),
      act('Take out', () => this.takeOut(this.chosen), 'script-out')));
  }

  inWords({ words: [word, name, position], start_s, end_s }) {
    const at = `at ${number(start_s, 5)} s`;
    if (word === 'hold') return `${spoken(name)} held from ${number(start_s, 5)} to ${number(end_s, 5)} s`;
    if (word === END) return `Goes on until ${number(start_s, 5)} s`;
    return word === 'set' ? `${spoken(name)} to ${position.replaceAll('_', ' ')} ${at}` : `${spoken(name)}: ${word} ${at}`;
  }

  order(order) {
    return this.build.form.change(['scripts', this.name, 'presses'], [], { do: 'press', name: this.name, ...order });
  }

  /** What comes and goes does so at once: what is done to others, before there is an answer, is meant for them. */
  lay(at, gone, ...come) {
    this.items.splice(at, gone, ...come);
    this.chosen = Math.min(this.chosen, this.items.length - 1);
    this.showTools();
    this.surface.draw();
  }

  takeOut(at) {
    this.order({ item: at, out: true });
    this.lay(at, 1);
  }

  add() {
    const { value: words } = this.choice;
    if (!words) return;
    const ends_s = this.items.filter(({ words: [word] }) => word !== END).map(({ start_s, end_s }) => end_s ?? start_s);
    const start_s = inSteps(Math.max(0, ...ends_s) + NEXT_S);
    this.order({ words, start_s });
    this.lay(this.items.length, 0, { words: words.split(' '), start_s, end_s: null });
  }

  async play() {
    await this.build.edits.settled();
    await this.build.play(await this.asking());
    this.head.run((at_ms) => this.x(at_ms / SECOND_MS), this.span_s * SECOND_MS);
  }

  /** In which lane an item lies. A trigger stands for its input. */
  laneOf({ words: [word, name] }) {
    if (word === END) return END;
    const { inputs = {}, triggers = {} } = this.build.form.values;
    return word === 'set' || name in inputs ? name : triggers[name]?.input ?? name;
  }

  get lanes() {
    const { inputs = {}, selectors = {} } = this.build.form.values, used = new Set(this.items.map((item) => this.laneOf(item)));
    return [...Object.keys(inputs), ...[...Object.keys(selectors), VOLUME, END].filter((name) => used.has(name))];
  }

  get left() {
    return this.surface.isNarrow ? NARROW_LABEL_PX : LABEL_PX;
  }

  get pxPerS() {
    return (this.surface.width - this.left - RIGHT) / this.span_s;
  }

  x(at_s) {
    return this.left + at_s * this.pxPerS;
  }

  paint() {
    const { lanes } = this, bottom = Math.max(1, lanes.length) * (LANE_PX + GAP_PX) - GAP_PX, far = this.surface.width - RIGHT;
    this.surface.setHeight(bottom + AXIS_PX);
    if (!this.isHeld) this.span_s = Math.max(SHORTEST_S, ...this.items.map(({ start_s, end_s }) => end_s ?? start_s)) * ROOM;
    const named = (lane, at) => [draw('rect', { class: 'lane', x: this.left, y: this.top(at), width: far - this.left, height: LANE_PX }),
      text(0, this.top(at) + LANE_PX / 2 + 4, shortened(lane === END ? 'Goes on until' : spoken(lane), this.left), { class: 'lane-name' })];
    return [...lanes.flatMap(named), ...timeMarks(this.span_s * SECOND_MS, (at_ms) => this.x(at_ms / SECOND_MS), 0, bottom, this.surface.isNarrow),
      ...this.items.map((item, at) => this.block(item, at)), ...this.grips.map(({ spot }) => squareGrip(spot)), this.head.line(bottom)];
  }

  top(lane) {
    return lane * (LANE_PX + GAP_PX);
  }

  /** From and to, in pixels. */
  ends({ words: [word], start_s, end_s }) {
    const to_s = word === 'tap' ? start_s + TAP_S : end_s ?? start_s;
    return [this.x(start_s), Math.max(this.x(to_s), this.x(start_s) + MARK_PX)];
  }

  block(item, at) {
    const [from, to] = this.ends(item), y = this.top(this.lanes.indexOf(this.laneOf(item))), [word, , position] = item.words;
    const body = draw('rect', { x: from, y: y + 2, width: to - from, height: LANE_PX - 4, rx: 3 });
    const block = asSlider(draw('g', { class: at === this.chosen ? 'block chosen' : 'block' }, body),
      { id: `script-item-${at}`, label: `Item ${at + 1}`, least: 0, most: Math.ceil(this.span_s), value: item.start_s, words: this.inWords(item) });
    if (!HELD.includes(word) && word !== END) block.append(text(to + 3, y + LANE_PX / 2 + 4, position?.replaceAll('_', ' ') ?? word));
    block.addEventListener('keydown', (event) => this.key(event, at));
    block.addEventListener('focus', () => this.choose(at));
    return block;
  }

  /** Ends that can be dragged, each right behind its press, which may be short. */
  get grips() {
    return this.items.map((item, at) => ({ item, at })).filter(({ item }) => HELD.includes(item.words[0]))
      .map(({ item, at }) => ({ at, spot: [this.ends(item)[1] + GRIP_PX, this.top(this.lanes.indexOf(this.laneOf(item))) + LANE_PX / 2] }));
  }

  choose(at) {
    if (at === this.chosen) return;
    this.chosen = at;
    this.showTools();
    this.surface.draw();
  }

  grab(event) {
    const { element } = this.surface, { grips } = this, [x, y] = this.surface.at(event);
    const inside = this.items.findLastIndex((item) => {
      const [from, to] = this.ends(item), top = this.top(this.lanes.indexOf(this.laneOf(item)));
      return x >= from - GRIP_PX && x <= to && y >= top && y <= top + LANE_PX;
    });
    const near = nearest(event, element, grips.map(({ spot }) => spot)), isEnd = near >= 0 && inside < 0;
    const at = isEnd ? grips[near].at : inside;
    if (at < 0 || !mayDrag(event, element)) return;
    const before = { ...this.items[at] };
    this.choose(at);
    byId(`script-item-${at}`).focus({ preventScroll: true, focusVisible: false });
    this.isHeld = true;
    drag(event, element, {
      move: (_, across_px) => this.turn(at, before, across_px / this.pxPerS, isEnd),
      end: ({ hasMoved, isGivenUp }) => {
        this.isHeld = false;
        if (isGivenUp) this.items[at] = before;
        this.surface.draw();
        if (hasMoved && !isGivenUp) this.send(at);
        else this.build.dropped();
      },
    });
  }

  /** As it was before, so much later; or its end. */
  turn(at, { words, start_s, end_s }, later_s, isEnd) {
    const until_s = end_s ?? start_s + TAP_S, isLong = HELD.includes(words[0]);
    const from_s = isEnd ? start_s : inSteps(Math.max(0, start_s + later_s));
    const to_s = isEnd ? inSteps(Math.max(start_s + TAP_S, until_s + later_s)) : inSteps(until_s + from_s - start_s);
    const word = to_s > from_s + TAP_S + STEP_S / 2 ? 'hold' : 'tap';
    this.items[at] = { words: isLong ? [word, ...words.slice(1)] : words, start_s: from_s, end_s: isLong ? to_s : null };
    this.surface.draw();
    const where = document.getElementById('script-where');
    if (where && at === this.chosen) where.textContent = this.inWords(this.items[at]);
  }

  send(at) {
    const { start_s, end_s } = this.items[at];
    this.order({ item: at, start_s, end_s });
  }

  key(event, at) {
    if (event.key === 'Delete') {
      event.preventDefault();
      return this.takeOut(at);
    }
    const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!way) return undefined;
    event.preventDefault();
    this.turn(at, this.items[at], way * KEY_STEP_S * (event.shiftKey ? COARSE : 1), event.altKey);
    return this.send(at);
  }
}

function inSteps(seconds) {
  return Number((Math.round(seconds / STEP_S) * STEP_S).toFixed(2));
}
