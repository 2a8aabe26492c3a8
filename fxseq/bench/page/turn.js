/** What can be turned while it plays. */

import { capital, make, named, spoken } from './make.js';
import { say } from './say.js';

/** By the first key of a setting's path. Fades and clips have places of their own on the page. */
const KINDS = {
  triggers: 'Triggers', effects: 'Effects', groups: 'Lamp groups', board: 'Board', amplifier: 'Amplifier', listening: 'Distances',
};

const NOT_SET = 'not set';
const TAB = Math.random().toString(36).slice(2, 8);
let gestures = 0;

/** A word for a movement that begins now, in this tab: that of another one is a step of its own. */
export function newGesture() {
  gestures += 1;
  return `hand ${TAB} ${gestures}`;
}

/** A word for keys that go on doing the same thing here. */
export function keysGesture(what) {
  return `keys ${TAB} ${what}`;
}

/** Sliders and number fields for settings, each in its part, the parts in foldable kinds. */
export class Settings {
  constructor(place, orders) {
    this.place = place;
    this.orders = orders;
    this.fields = new Map();
    /** The last prop that came with whole settings. @type {any} */
    this.known = {};
  }

  /**
   * Gives a prop its settings: an answer to a change has only their values where the server has told the rest before.
   * Whether it has them then; what it has told may have been to another tab.
   */
  complete(prop) {
    if (prop.settings) this.known = prop;
    else if (prop.shape === this.known.shape) prop.settings = this.known.settings.map((setting, at) => ({ ...setting, value: prop.values[at] }));
    return Boolean(prop.settings);
  }

  show(settings) {
    const shown = settings.filter(({ path }) => KINDS[path[0]]);
    const shape = JSON.stringify(shown.map(({ path }) => path));
    if (shape !== this.shape) this.build(shown);
    this.shape = shape;
    for (const setting of shown) this.fields.get(JSON.stringify(setting.path)).fit(setting);
  }

  build(settings) {
    const open = new Set([...this.place.querySelectorAll('details[open]')].map((fold) => fold.dataset.kind));
    if (!this.shape) open.add('triggers');
    this.fields.clear();
    const kinds = grouped(settings, ({ path }) => path[0]);
    this.place.replaceChildren(...[...kinds].map(([kind, members]) => make('details', { 'data-kind': kind, open: open.has(kind) },
      make('summary', {}, KINDS[kind]), make('div', { class: 'parts' }, ...this.parts(members)))));
  }

  parts(settings) {
    return [...grouped(settings, ({ part }) => part)].map(([part, members]) =>
      make('fieldset', {}, make('legend', {}, capital(named(part))), ...members.map((setting) => this.field(setting))));
  }

  field(setting) {
    const field = settingField(setting, (value, gesture) => this.orders.set(setting.path, value, gesture));
    this.fields.set(JSON.stringify(setting.path), field);
    return field.element;
  }
}

/** Only what differs is written: a browser lays out anew what is written to, even the same. */
function put(control, values) {
  for (const [key, value] of Object.entries(values)) if (control[key] !== String(value)) control[key] = value;
}

function grouped(items, keyOf) {
  const groups = new Map();
  for (const item of items) groups.set(keyOf(item), [...(groups.get(keyOf(item)) || []), item]);
  return groups;
}

/**
 * A slider and a number field that show one setting; an empty field takes it out of the file. changed(value, gesture): null where it is emptied.
 * `show(value)` leaves alone what is under the hand; `fit(setting)` shows its range, too, which is wider where the file is beyond the usual one.
 */
export function settingField(setting, changed) {
  const { path, label, unit, value, step } = setting;
  let { least, most } = setting;
  const id = `set-${path.join('-')}`, part = named(setting.part);
  const slider = make('input', { type: 'range', id, min: least, max: most, step, 'aria-label': `${spoken(label)}, ${part}`, 'aria-describedby': `${id}-unit` });
  const name = `${spoken(label)}, ${part}${unit ? `, in ${unit}` : ''}`;
  const box = make('input', { type: 'number', id: `${id}-box`, min: least, max: most, step: 'any', placeholder: NOT_SET, 'aria-label': name });
  let gesture = newGesture(), isTyped = false, shown = value;
  const take = (wanted) => {
    slider.value = box.value = wanted;
    slider.removeAttribute('aria-valuetext');
    changed(Number(wanted), gesture);
  };
  const refuse = (why) => {
    box.value = shown ?? '';
    say(`${name}: ${why} is ${least} to ${most}.`, true);
  };
  const typed = () => {
    const isEmpty = box.value === '' && !box.validity.badInput;
    if (isEmpty && setting.is_required) return refuse('it cannot be left out; allowed');
    if (!isEmpty && (box.value === '' || !box.checkValidity())) return refuse('allowed');
    if (!isEmpty) return take(box.value);
    say(`${name}: removed from the file, so it is now ${setting.default === null ? NOT_SET : setting.default}.`);
    return changed(null, gesture);
  };
  slider.addEventListener('input', () => take(slider.value));
  slider.addEventListener('change', () => { gesture = newGesture(); });
  box.addEventListener('input', () => { isTyped = true; });
  box.addEventListener('blur', () => { isTyped = false; });
  box.addEventListener('change', () => {
    isTyped = false;
    typed();
    gesture = newGesture();
  });
  const show = (now) => {
    shown = now;
    if (!slider.matches(':active')) put(slider, { value: now ?? least });
    if (now === null) slider.setAttribute('aria-valuetext', NOT_SET);
    else slider.removeAttribute('aria-valuetext');
    if (!isTyped) put(box, { value: now ?? '' });
  };
  const fit = (now) => {
    if (!slider.matches(':active')) {
      ({ least, most } = now);
      for (const control of [slider, box]) put(control, { min: least, max: most });
    }
    show(now.value);
  };
  show(value);
  const element = make('div', { class: 'field' },
    make('label', { htmlFor: id }, spoken(label)), slider,
    make('span', { class: 'amount' }, box, make('span', { class: 'unit', id: `${id}-unit` }, unit)));
  return { element, show, fit };
}
