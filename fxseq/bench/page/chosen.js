/** Lamps that are chosen on the picture, in the order in which they were, and what can be done with them: number, lay out, copy, move to a group. */

import { make, number as digits, spoken } from './make.js';
import { say, trying } from './say.js';
import { newGesture } from './turn.js';

const NEW = '';
/** Diameters from a lamp to its copy. */
const APART = 2;

export class Chosen {
  /** ask(order): has the server do it; gives the prop. changed(): the choice is another one. lay(shape, numbers): puts them on a ring or a line. */
  constructor(ask, { changed, lay }) {
    this.ask = ask;
    this.changed = changed;
    this.numbers = [];
    this.told = make('p', { id: 'chosen-lamps', role: 'status' });
    this.into = make('select', { id: 'into-group' });
    this.into.addEventListener('change', () => this.offer());
    this.name = make('input', { type: 'text', id: 'new-group', pattern: '[a-z][a-z0-9_]*', maxLength: 40, spellcheck: false, autocomplete: 'off' });
    this.nameRow = make('div', { class: 'field' }, make('label', { htmlFor: 'new-group' }, 'Its name'), this.name);
    this.all = this.button('Choose all', () => this.add(this.prop.lamps.filter((lamp) => lamp.group === this.group).map((_, at) => at + 1)));
    this.none = this.button('Choose none', () => this.clear());
    this.order = this.button('Number them in this order', () => this.once(() => this.number()));
    this.ring = this.button('Lay on a ring', () => lay('ring', this.numbers));
    this.line = this.button('Lay on a line', () => lay('line', this.numbers));
    this.copy = this.button('Copy them', () => this.once(() => this.copied()));
    this.move = this.button('Move them', () => this.once(() => this.regroup()));
    this.element = make('fieldset', { id: 'chosen' }, make('legend', {}, 'Chosen lamps'), this.told,
      make('div', { class: 'row' }, this.all, this.none), make('div', { class: 'row' }, this.ring, this.line, this.copy), this.order,
      make('div', { class: 'field' }, make('label', { htmlFor: 'into-group' }, 'To the group'), this.into), this.nameRow, this.move);
  }

  button(text, act) {
    const button = make('button', { type: 'button' }, text);
    button.addEventListener('click', act);
    return button;
  }

  /** One order at a time: a second click that comes before the answer would mean other lamps by the same numbers. */
  async once(order) {
    if (this.isAsking) return;
    this.isAsking = true;
    await trying(order);
    this.isAsking = false;
  }

  show(prop, group) {
    this.prop = prop;
    this.group = group;
    const lamps = prop.lamps.filter((lamp) => lamp.group === group);
    this.numbers = this.numbers.filter((number) => number <= lamps.length);
    this.element.hidden = !lamps.length;
    const others = prop.groups.map(({ name }) => name).filter((name) => name !== group).join();
    if (others !== this.others) this.list(others ? others.split(',') : []);
    this.others = others;
    const inOrder = [...this.numbers].sort((one, other) => one - other);
    const willChange = inOrder.some((number, at) => number !== this.numbers[at]);
    const told = this.numbers.length ? `${this.numbers.length} of ${lamps.length}, in this order: ${this.numbers.join(', ')}.` : 'None yet.';
    this.told.textContent = willChange ? `${told} In this order they become ${inOrder.join(', ')}.` : told;
    this.order.disabled = !willChange;
    for (const button of [this.none, this.move, this.copy]) button.disabled = !this.numbers.length;
    for (const button of [this.ring, this.line]) button.disabled = this.numbers.length < 2;
    this.all.disabled = this.numbers.length === lamps.length;
  }

  list(others) {
    const before = this.into.value;
    this.into.replaceChildren(...others.map((name) => make('option', { value: name }, spoken(name))), make('option', { value: NEW }, 'A new group'));
    if (others.includes(before)) this.into.value = before;
    this.offer();
  }

  /** A name for a new group, if it is to be one. */
  offer() {
    this.nameRow.hidden = this.into.value !== NEW;
    let count = 2;
    while (this.prop.groups.some(({ name }) => name === `${this.group}_${count}`)) count += 1;
    if (document.activeElement !== this.name) this.name.value = `${this.group}_${count}`;
  }

  /** Which one of the chosen lamps it is, from 1; 0 for none of them. */
  turnOf(number) {
    return this.numbers.indexOf(number) + 1;
  }

  toggle(number) {
    this.numbers = this.turnOf(number) ? this.numbers.filter((other) => other !== number) : [...this.numbers, number];
    this.changed();
  }

  add(numbers) {
    this.numbers = [...new Set([...this.numbers, ...numbers])];
    this.changed();
  }

  clear() {
    this.numbers = [];
    this.changed();
  }

  /** Copies that lie two diameters away, to the right and down, or the other way where the picture ends. */
  async copied() {
    const { group, prop } = this, lamps = prop.lamps.filter((lamp) => lamp.group === group), { width_mm, height_mm } = prop.picture;
    const originals = this.numbers.map((number) => lamps[number - 1]);
    const by_mm = [['x_mm', width_mm], ['y_mm', height_mm]].map(([key, most]) => {
      const away = APART * originals[0].size_mm;
      return Math.max(...originals.map((lamp) => lamp[key])) + away <= most ? away : -away;
    });
    await this.ask({ group, lamps: this.numbers, by_mm, gesture: newGesture() });
    this.numbers = originals.map((_, at) => lamps.length + 1 + at);
    this.changed();
    say(`${originals.length === 1 ? '1 lamp is' : `${originals.length} lamps are`} copied. The copies are chosen: drag them to their place.`);
  }

  async number() {
    const { length } = this.numbers;
    await this.ask({ group: this.group, order: this.numbers, gesture: newGesture() });
    this.clear();
    say(`${length} lamps have new numbers. The number of a lamp decides which channel it is on.`);
  }

  async regroup() {
    const { group, numbers: lamps } = this, name = this.into.value || this.name.value.trim();
    const target = this.into.value === NEW ? { new: name } : { into: name };
    const prop = await this.ask({ group, lamps, ...target, gesture: newGesture() });
    this.clear();
    const { colour, current_ma, first, channels } = prop.groups.find((other) => other.name === name);
    const gone = prop.groups.some((other) => other.name === group) ? '' : ` ${spoken(group)} had no lamps left and was removed.`;
    const hint = target.new ? ' No effect lights them yet.' : '';
    const kind = `${colour}, ${digits(current_ma)} mA each, on channels ${first} to ${first + channels - 1}`;
    say(`${lamps.length === 1 ? '1 lamp is' : `${lamps.length} lamps are`} now in ${spoken(name)}: ${kind}.${hint}${gone}`);
  }
}
