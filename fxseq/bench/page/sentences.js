/** Each trigger as a sentence, whose marked words are its controls. */

import { act, at, idOf } from './form.js';
import { make, number, spoken } from './make.js';
import { renew } from './renew.js';

const SECOND_MS = 1000;
const MODES = {
  once: 'is pressed', repeat: 'is held, again and again', while_held: 'is held, for as long', on_off: 'is pressed, for on and off', always: '(or always)',
};

/** A shot is over at once, and is still to be seen. */
const SEEN_MS = 400;

/** Which triggers are running, out of what the player tells. */
export class Running {
  constructor() {
    this.on = new Set();
    this.shot_ms = new Map();
  }

  powerUp() {
    this.on = new Set();
    this.shot_ms = new Map();
  }

  /** events: of the trace, each with its kind as a word. */
  heed(events, names, now_ms) {
    for (const { kind, index } of events) {
      const name = names.triggers[index];
      if (kind === 'start') this.on.add(name);
      if (kind === 'stop') this.on.delete(name);
      if (kind === 'shot') this.shot_ms.set(name, now_ms);
    }
  }

  names(now_ms) {
    const shot = [...this.shot_ms].filter(([, at_ms]) => now_ms - at_ms < SEEN_MS).map(([name]) => name);
    return [...new Set([...this.on, ...shot])];
  }
}

export class Sentences {
  /** form: makes controls, and has the file's values. look(kind, name): shows a thing. fresh(): begins a new trigger. paceOf(name): its rate. */
  constructor(place, form, { look, fresh, paceOf }) {
    this.paceOf = paceOf;
    this.place = place;
    this.form = form;
    this.look = look;
    this.fresh = fresh;
    this.lines = new Map();
    /** Of a trigger, by key. @type {any} */
    this.fields = {};
  }

  show({ values }) {
    const triggers = Object.entries(values.triggers || {});
    this.fields = Object.fromEntries(this.form.forms.tables.Trigger.fields.map((field) => [field.key, field]));
    const shape = JSON.stringify(triggers.map(([name, { mode, input }]) => [name, mode, input]));
    // Where lamps are placed, there are none.
    if (shape !== this.shape || !this.place.hasChildNodes()) this.build(triggers);
    this.shape = shape;
    for (const [name, trigger] of triggers) {
      renew(this.lines.get(name).querySelector('.words'), ...this.words(['triggers', name], trigger));
      this.lines.get(name).querySelector('.fault').textContent = '';
    }
    this.light(this.running || []);
  }

  /** Lines stay while no trigger comes, goes or changes its kind: a rate may be under a hand. */
  build(triggers) {
    this.lines = new Map(triggers.map(([name]) => [name, this.line(name)]));
    this.place.replaceChildren(make('ul', { class: 'sentences' }, ...this.lines.values()), act('New trigger', this.fresh, 'say-new'));
  }

  /** Marks those that are running. */
  light(running) {
    this.running = running;
    for (const [name, line] of this.lines) {
      const isOn = running.includes(name);
      if (line.classList.contains('running') === isOn) continue;
      line.classList.toggle('running', isOn);
      line.querySelector('.now').textContent = isOn ? 'now' : '';
    }
  }

  line(name) {
    const open = act(`${spoken(name)}: all of it`, () => this.look('triggers', name), `say-${name}`, spoken(name));
    open.className = 'plain';
    return make('li', {}, make('span', { class: 'now' }), open, make('p', { class: 'words' }), this.paceOf(name), fault(name));
  }

  /** When LEVER is held and RING is on STORM, every 0.14 s do STORM SIGNAL, one of three in turn; when OIL is empty do DRY. */
  words(path, trigger) {
    const parts = [...this.start(path, trigger), ...this.where(path, trigger), ...this.what(path, trigger), ...this.ending(path, trigger)];
    return parts.flatMap((part, place) => (place && !/^[,;]/.test(part.textContent ?? part) ? [' ', part] : [part])).concat('.');
  }

  start(path, trigger) {
    if (trigger.mode === 'always') return ['From', this.menuOf(path, 'mode', trigger.mode, { ...MODES, always: 'power-up on' })];
    return ['When', this.menu(path, 'input', trigger.input), this.menuOf(path, 'mode', trigger.mode, MODES)];
  }

  where(path, { when = {}, needs, after_held_ms: held_ms }) {
    const positions = Object.entries(when).flatMap(([name, wanted]) => this.condition([...path, 'when', name], name, wanted));
    const held = held_ms ? ['after', this.number(path, 'after_held_ms', 'Seconds that it is held for before', held_ms / SECOND_MS, (s) => s * SECOND_MS)] : [];
    const counter = needs ? ['while', this.menu(path, 'needs', needs), 'is not empty'] : [];
    return [...positions, ...held, ...counter, ','];
  }

  /** Several positions of one selector are said in the form. */
  condition(path, name, wanted) {
    if (typeof wanted !== 'string') return ['and', this.opens(path, `${name} is on ${wanted.join(' or ')}`.replaceAll('_', ' '))];
    const positions = at(this.form.values, ['selectors', name, 'positions']).map((position) => ({ value: position, label: spoken(position) }));
    const choices = [...positions, { value: null, label: 'any position' }];
    const more = { ...this.named(path, { label: spoken(name) }) };
    const chosen = (position) => this.form.setCondition(path.slice(0, -1), name, position ? [position] : []);
    return ['and', name.replaceAll('_', ' '), 'is on', this.form.menu(choices, { is_required: true }, path, wanted, more, chosen)];
  }

  what(path, trigger) {
    if (trigger.mode === 'once') return ['do', ...this.shots(path, trigger)];
    if (trigger.mode === 'repeat') {
      const seconds = this.number(path, 'rate_per_s', 'Seconds from one to the next', 1 / trigger.rate_per_s, (every_s) => 1 / every_s);
      return ['every', seconds, 'do', ...this.shots(path, trigger), ...this.counted(path, trigger)];
    }
    const steps = [['begin', 'begin with'], ['during', 'keep doing'], ['end', 'end with']].filter(([key]) => trigger[key]);
    return steps.flatMap(([key, words], step) => [step ? `, ${words}` : words, this.menu(path, key, trigger[key])]);
  }

  shots(path, { effects = [], choice = 'in_turn' }) {
    const menus = effects.flatMap((effect, place) => [...(place ? ['or'] : []), this.menu([...path, 'effects'], place, effect)]);
    if (effects.length < 2) return menus;
    return [...menus, ', one of them', this.menuOf(path, 'choice', choice, { in_turn: 'in turn', random: 'at random' })];
  }

  counted(path, { burst, limit, ramp_to_rate_per_s: ramp, ramp_shots: shots, first_delay_ms: first_ms }) {
    const said = [];
    if (first_ms) said.push(`, the second after ${number(first_ms / SECOND_MS)} s`);
    if (burst > 1) said.push(`, at least ${burst} times`);
    if (limit) said.push(`, at most ${limit} times`);
    if (ramp) said.push(`, and within ${shots} shots every ${number(1 / ramp)} s`);
    return said.map((words) => this.opens(path, words));
  }

  ending(path, { needs, empty }) {
    return needs && empty ? ['; when it is empty do', this.menu(path, 'empty', empty)] : [];
  }

  /** Words that lead to the form, where they are said. */
  opens(path, words) {
    const button = act(words.replace(/^, /, ''), () => this.look('triggers', path[1]));
    button.className = 'plain';
    return make('span', {}, words.startsWith(', ') ? ', ' : '', button);
  }

  menu(path, key, value) {
    const field = typeof key === 'number' ? { ...this.fields.effects, is_required: true } : this.fields[key];
    const of = field.takes[0].of?.of || field.takes[0].of;
    const menu = this.form.things(of, field, [...path, key], value, this.named([...path, key], field));
    return menu;
  }

  menuOf(path, key, value, words) {
    const field = { ...this.fields[key], is_required: true };
    const choices = field.takes[0].choices.map((choice) => ({ value: choice.value, label: words[choice.value] || choice.label }));
    return this.form.menu(choices, field, [...path, key], value, this.named([...path, key], field));
  }

  /** Seconds, of which the file has something else. */
  number(path, key, label, shown_s, toFile) {
    const place = [...path, key];
    const box = make('input', { type: 'number', step: 'any', min: 0, value: number(shown_s), ...this.named(place, { label }) });
    this.form.onEntry(box, () => (box.value > 0 ? this.form.set(place, Number((toFile(Number(box.value))).toPrecision(6)))
      : this.form.change(place, [], null, 'This is no time.')));
    return make('span', { class: 'nowrap' }, box, ' s');
  }

  named(path, { label }) {
    return { id: `say-${idOf(path)}`, 'aria-label': `${label}, ${spoken(path[1])}`, class: 'word' };
  }
}

function fault(name) {
  return make('p', { class: 'fault', id: `say-fault-${name}`, role: 'alert' });
}

