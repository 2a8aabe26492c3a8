/** How fast a held button repeats: turned where it is pressed, on a scale on which the measured limits are marked. */

import { fill, make, number, spoken } from './make.js';
import { keysGesture, newGesture } from './turn.js';

/** Ends of the scale, unless the file is beyond them; and of what a file may say. [1/s] */
const SCALE_PER_S = [0.5, 25], ALLOWED_PER_S = [0.001, 50];
const READ_OFF_PER_S = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50];
/** Positions of the slider, more than there are dots on any screen. */
const POSITIONS = 4000;
const STEP_PER_S = 0.05, FINE_STEP_PER_S = 0.01, FINE_BELOW_PER_S = 1, COARSE = 10;
const ARROWS = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: COARSE, PageDown: -COARSE };
/** Of the scale: so far apart numbers of marks can be told from each other. */
const APART = 0.05;

const stepAt = (rate_per_s) => (rate_per_s < FINE_BELOW_PER_S ? FINE_STEP_PER_S : STEP_PER_S);
const inSteps = (rate_per_s, step) => Number((Math.round(rate_per_s / step) * step).toFixed(2));
/** @param {number} rate_per_s @param {number[]} range */
const within = (rate_per_s, [least, most]) => Math.max(least, Math.min(most, rate_per_s));

/** The control of one repeat rate. */
export class Pace {
  /** id: of its controls. set(name, rate_per_s, gesture): has the file changed. isBrief: where its name stands already; its limits are folded. */
  constructor(id, set, isBrief = false) {
    this.set = set;
    this.ends_per_s = SCALE_PER_S;
    this.gesture = newGesture();
    this.title = make('strong', { id: `${id}-name`, class: isBrief ? 'unseen' : '' });
    this.box = make('input', { type: 'number', id: `${id}-box`, step: 'any', min: ALLOWED_PER_S[0], max: ALLOWED_PER_S[1] });
    this.every = make('span', { class: 'small every' });
    this.slider = make('input', { type: 'range', id: `${id}-slider`, min: 0, max: POSITIONS, step: 1 });
    this.scale = make('div', { class: 'pace-scale', 'aria-hidden': 'true' });
    this.marks = make('div', { class: 'pace-marks', 'aria-hidden': 'true' });
    this.verdict = make('p', { class: 'small' });
    this.limits = make('ol', { class: 'pace-limits', id: `${id}-limits` });
    const rate = make('span', { class: 'nowrap' }, this.box, make('span', { class: 'small' }, ' a second'));
    this.slower = this.stepper('−', -1);
    this.faster = this.stepper('+', 1);
    const track = make('div', {}, this.marks, this.slider, this.scale);
    this.element = make('div', { class: 'pace', role: 'group', 'aria-labelledby': `${id}-name` },
      make('div', { class: 'pace-head' }, this.title, rate, this.every),
      make('div', { class: 'pace-turn' }, this.slower, track, this.faster),
      make('details', { open: !isBrief }, make('summary', {}, this.verdict), this.limits));
    this.listen();
  }

  stepper(sign, way) {
    const button = make('button', { type: 'button', class: 'step' }, sign);
    button.addEventListener('click', () => this.step(way));
    return button;
  }

  listen() {
    this.slider.addEventListener('input', () => this.turn(this.rateAt(this.slider.value / POSITIONS), this.gesture));
    this.slider.addEventListener('change', () => { this.gesture = newGesture(); });
    this.slider.addEventListener('keydown', (event) => {
      const way = ARROWS[event.key];
      if (!way) return;
      event.preventDefault();
      this.step(event.shiftKey ? way * COARSE : way);
    });
    this.box.addEventListener('change', () => this.typed());
  }

  typed() {
    if (this.box.value !== '' && this.box.checkValidity()) return this.turn(Number(this.box.value), newGesture());
    this.box.value = this.rate_per_s;
    this.verdict.textContent = `A rate is ${ALLOWED_PER_S[0]} to ${ALLOWED_PER_S[1]} a second. Nothing was changed.`;
    return undefined;
  }

  step(way) {
    const fine = stepAt(this.rate_per_s - (way < 0 ? FINE_STEP_PER_S : 0));
    const rate_per_s = within(inSteps(this.rate_per_s + way * fine, FINE_STEP_PER_S), ALLOWED_PER_S);
    this.turn(rate_per_s, keysGesture(`pace ${this.name}`));
  }

  /** Shown at once, and has it compiled. */
  turn(rate_per_s, gesture) {
    if (rate_per_s === this.rate_per_s) return;
    this.rate_per_s = rate_per_s;
    this.draw();
    this.set(this.name, rate_per_s, gesture);
  }

  share(rate_per_s) {
    const [least, most] = this.ends_per_s;
    return within(Math.log(rate_per_s / least) / Math.log(most / least), [0, 1]);
  }

  rateAt(share) {
    const [least, most] = this.ends_per_s;
    const rate_per_s = least * (most / least) ** share;
    return within(inSteps(rate_per_s, stepAt(rate_per_s)), [least, most]);
  }

  /** A trigger of the prop. rate: what is known of its limits (numbers.py), undefined while that is being worked out. */
  show({ name, rate_per_s }, rate) {
    this.isKnown = rate !== undefined;
    if (this.isKnown || this.name !== name) this.rate = rate;
    this.name = name;
    this.rate_per_s = rate_per_s;
    this.title.textContent = spoken(name);
    for (const [control, label] of [[this.box, 'shots a second'], [this.slider, 'repeat rate'], [this.slower, 'slower'], [this.faster, 'faster']]) {
      control.setAttribute('aria-label', `${spoken(name)}, ${label}`);
    }
    this.draw();
  }

  draw() {
    const { rate_per_s } = this;
    if (!this.slider.matches(':active')) this.ends_per_s = [Math.min(SCALE_PER_S[0], rate_per_s), Math.max(SCALE_PER_S[1], rate_per_s)];
    if (document.activeElement !== this.box) this.box.value = rate_per_s;
    if (!this.slider.matches(':active')) this.slider.value = this.share(rate_per_s) * POSITIONS;
    this.slider.setAttribute('aria-valuetext', `${number(rate_per_s, 4)} a second`);
    this.every.textContent = `every ${number(1 / rate_per_s)} s`;
    this.drawLimits();
    this.verdict.textContent = this.judge();
  }

  drawLimits() {
    const breaks = this.rate?.breaks || [];
    const drawn = JSON.stringify([this.name, this.ends_per_s, breaks]);
    if (drawn !== this.drawn) {
      let free = 0;
      this.scale.replaceChildren(...READ_OFF_PER_S.filter((rate_per_s) => this.ends_per_s[0] <= rate_per_s && rate_per_s <= this.ends_per_s[1])
        .map((rate_per_s) => placed('span', this.share(rate_per_s), String(rate_per_s))));
      this.marks.replaceChildren(...breaks.flatMap(({ from_per_s }, at) => {
        const share = this.share(from_per_s), label = Math.max(share, free);
        free = label + APART;
        return [placed('i', share), placed('b', label, String(at + 1))];
      }));
      this.limits.replaceChildren(...breaks.map((limit, at) => this.limit(limit, at + 1)));
      this.drawn = drawn;
    }
    breaks.forEach(({ from_per_s }, at) => {
      const isBroken = from_per_s <= this.rate_per_s;
      this.limits.children[at].classList.toggle('broken', isBroken);
      this.limits.children[at].querySelector('.now').textContent = isBroken ? 'broken now' : '';
    });
    this.limits.setAttribute('aria-busy', String(!this.isKnown));
  }

  limit({ from_per_s, good_to_per_s, concerns, what, decided }, place) {
    const words = `From ${number(from_per_s, 4)}, ${concerns}${decided ? ' (decided)' : ''}: ${what} `;
    return make('li', {}, make('b', { 'aria-hidden': 'true' }, String(place)), make('span', {}, words, make('span', { class: 'now' })), this.use(good_to_per_s));
  }

  /** Takes the rate to where a limit is kept. */
  use(good_to_per_s) {
    if (good_to_per_s === null) return make('span', { class: 'small' }, 'at any rate');
    const use = make('button', { type: 'button' }, `Use ${number(good_to_per_s, 4)}`);
    use.addEventListener('click', () => this.turn(good_to_per_s, newGesture()));
    return use;
  }

  /** What is to be said of the rate, in a line. */
  judge() {
    if (!this.rate) return this.isKnown ? 'Its limits are not known.' : 'Working out where limits break …';
    const { breaks, tried_per_s: [, most] } = this.rate;
    const count = breaks.filter(({ from_per_s }) => from_per_s <= this.rate_per_s).length;
    const more = this.isKnown ? '' : ' Working out anew …';
    if (this.rate_per_s > most && !count) return `Only tried up to ${most} a second.${more}`;
    if (!breaks.length) return `All limits are kept up to ${most} a second.${more}`;
    return `${count ? `Breaks ${count} of ${breaks.length} limits` : 'All limits are kept'} at ${number(this.rate_per_s, 4)} a second.${more}`;
  }
}

function placed(tag, share, text = '') {
  const element = make(tag, {}, text);
  element.style.left = `${100 * share}%`;
  return element;
}

/** All controls of rates on the page: at each button that repeats something, and in the sentence of each trigger that repeats. */
export class Paces {
  /** edits: as in turn.js. positions(): name of the position of each selector now. */
  constructor(edits, positions) {
    this.set = (name, rate_per_s, gesture) => edits.set(['triggers', name, 'rate_per_s'], rate_per_s, gesture);
    this.positions = positions;
    this.ofTrigger = new Map();
    this.atInput = new Map();
    this.rates = { known: false, by: new Map() };
  }

  show({ triggers, inputs }) {
    const buttons = new Set(inputs.filter(({ kind }) => kind === 'button').map(({ name }) => name));
    this.triggers = triggers.filter(({ mode, input }) => mode === 'repeat' && buttons.has(input));
    this.draw();
  }

  /** What /api/numbers says. */
  mark({ rates, rates_known: known }) {
    this.rates = { known, by: new Map(rates.map((rate) => [rate.trigger, rate])) };
    this.draw();
  }

  /** The prop has changed: what is known may not hold. */
  doubt() {
    this.rates = { known: false, by: new Map() };
    this.draw();
  }

  draw() {
    for (const [name, pace] of this.ofTrigger) this.drawOne(pace, this.triggers.find((trigger) => trigger.name === name));
    for (const [input, place] of this.atInput) this.drawAt(input, place);
  }

  drawOne(pace, trigger) {
    if (trigger) pace.show(trigger, this.rates.known ? this.rates.by.get(trigger.name) ?? null : undefined);
  }

  /** At a button: the one that a press repeats now. Of several, one can be chosen. */
  drawAt(input, { pace, choice, idle, chosen }) {
    const all = this.triggers.filter((trigger) => trigger.input === input);
    const acting = all.filter((trigger) => this.acts(trigger));
    const shown = acting.find(({ name }) => name === choice.value) || acting[0];
    fill(choice, acting.map(({ name }) => ({ value: name, label: spoken(name) })));
    if (shown) choice.value = shown.name;
    chosen.hidden = acting.length < 2;
    pace.element.classList.toggle('idle', !shown);
    pace.element.inert = !shown;
    idle.textContent = shown ? '' : 'Repeats nothing as the selectors stand now.';
    this.drawOne(pace, shown || all[0]);
  }

  acts({ when }) {
    const now = this.positions();
    return Object.entries(when).every(([selector, wanted]) => [wanted].flat().includes(now[selector]));
  }

  /** The element for a button; null where it repeats nothing. */
  beside(input) {
    if (!this.triggers.some((trigger) => trigger.input === input)) return null;
    const choice = make('select', { id: `pace-of-${input}`, 'aria-label': `${spoken(input)}: which one to tune` });
    const chosen = make('div', { hidden: true }, choice), idle = make('p', { class: 'small pace-idle' });
    const place = { pace: new Pace(`pace-at-${input}`, this.set), choice, chosen, idle };
    choice.addEventListener('change', () => this.drawAt(input, place));
    this.atInput.set(input, place);
    this.drawAt(input, place);
    return make('div', { class: 'pace-place' }, chosen, place.pace.element, idle);
  }

  /** The element for the sentence of a trigger; null where it repeats nothing. It is the same one each time. */
  ofSentence(name) {
    const trigger = this.triggers?.find((one) => one.name === name);
    if (!trigger) return null;
    if (!this.ofTrigger.has(name)) this.ofTrigger.set(name, new Pace(`pace-of-trigger-${name}`, this.set, true));
    const pace = this.ofTrigger.get(name);
    this.drawOne(pace, trigger);
    return pace.element;
  }
}
