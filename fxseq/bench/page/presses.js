/** The prop's contacts, selectors and volume under the hand: mouse, touch, pen, keyboard, and whatever a screen reader clicks. */

import { PRESS, RELEASE, SELECT, VOLUME } from './play.js';
import { make, spoken } from './make.js';

/** By place on the keyboard, not by letter: the home row, stronger fingers first. */
const KEYS = ['KeyF', 'KeyJ', 'KeyD', 'KeyK', 'KeyS', 'KeyL', 'KeyA', 'KeyG', 'KeyH'];
const TAP_MS = 100;
const FULL_VOLUME = 256;

/**
 * All that is pressed and turned. send(kind, index, value) hears of edges and turns; gesture() of anything a hand does. beside(input): what
 * stands beside a contact, or null; turned(): a selector stands elsewhere.
 */
export class Presses {
  /**
   * beside(input): what stands beside its contact, null for nothing. turned(): something is set another way.
   * @param {{ beside?: (input: string) => any, turned?: () => void }} [heard]
   */
  constructor(send, gesture, heard = {}) {
    const { beside = () => null, turned = () => {} } = heard;
    this.send = send;
    this.gesture = gesture;
    this.beside = beside;
    this.turned = turned;
    this.inputs = [];     // {name, button, sources: Set}
    this.positions = [];
    this.volume = FULL_VOLUME;
    this.keysOn = true;
    document.addEventListener('keydown', (event) => this.keyDown(event));
    document.addEventListener('keyup', (event) => this.keyUp(event));
    const letGo = () => this.letGoOfAll();
    window.addEventListener('blur', letGo);
    window.addEventListener('pagehide', letGo);
    document.addEventListener('visibilitychange', () => document.hidden && letGo());
  }

  /** What a table that starts now has to be told. order: names of the table's inputs and selectors, which may leave out what is unused. */
  state({ inputs, selectors }) {
    let closed = 0;
    inputs.forEach((name, index) => {
      if (this.inputs.find((input) => input.name === name)?.sources.size) closed |= 1 << index;
    });
    const positions = selectors.map((name) => this.positions.find((selector) => selector.name === name)?.position ?? 0);
    return { closed: closed >>> 0, positions, volume: this.volume, inputs };
  }

  /** Names of the positions in which the selectors stand. */
  get standing() {
    return Object.fromEntries(this.positions.map(({ name, names, position }) => [name, names[position]]));
  }

  /** Shows the controls of a prop in a place. Controls of the same names stay as they are. */
  show(place, prop) {
    this.order = prop.names;
    const repeated = prop.triggers.filter(({ mode }) => mode === 'repeat').map(({ input }) => input);
    const shape = JSON.stringify([prop.inputs.map((input) => [input, repeated.includes(input.name)]), prop.selectors]);
    if (shape === this.shape) return;
    this.shape = shape;
    this.letGoOfAll();
    const { standing } = this;
    this.positions = prop.selectors.map(({ name, positions, start }) => {
      const now = positions.indexOf(standing[name]);
      return { name, names: positions, position: now < 0 ? start : now };
    });
    this.inputs = prop.inputs.map((input, at) => this.input(input, KEYS[at]));
    place.replaceChildren(
      make('div', { class: 'contacts' }, ...this.inputs.map((input) => input.element)),
      make('div', { class: 'turns' }, ...this.positions.map((selector) => this.selector(selector)), this.volumeControl()),
      this.keysSwitch());
  }

  input({ name, kind }, key) {
    const hint = key ? make('kbd', { 'aria-hidden': 'true' }, key.slice(3)) : null;
    const button = make('button', { type: 'button', class: 'contact', 'aria-pressed': 'false', 'data-input': name },
      make('span', {}, spoken(name)), hint);
    const hold = make('input', { type: 'checkbox', 'data-hold': name });
    const label = make('label', { class: 'tick' }, hold, make('span', {}, 'Hold down'), make('span', { class: 'unseen' }, ` ${spoken(name)}`));
    const note = kind === 'low_battery' ? make('p', { class: 'small' }, 'The board presses this one itself.') : null;
    const beside = this.beside(name), box = make('div', { class: 'contact-box' }, button, label, note);
    const element = beside ? make('div', { class: 'paced' }, box, beside) : box;
    const input = { name, key, button, hold, sources: new Set(), element };
    hold.addEventListener('change', () => (hold.checked ? this.down(input, 'hold') : this.up(input, 'hold')));
    this.pointers(input);
    this.ownKeys(input);
    return input;
  }

  pointers(input) {
    const { button } = input;
    button.addEventListener('pointerdown', (event) => {
      if (event.button !== 0) return;
      button.setPointerCapture(event.pointerId);
      this.down(input, `pointer ${event.pointerId}`);
    });
    for (const name of ['pointerup', 'pointercancel', 'lostpointercapture']) {
      button.addEventListener(name, (event) => this.up(input, `pointer ${event.pointerId}`));
    }
    button.addEventListener('contextmenu', (event) => event.preventDefault());
    // A click that no pointer and no key made comes from a screen reader or the like: a tap.
    button.addEventListener('click', (event) => event.detail === 0 && this.tap(input));
  }

  /** Space and Enter on the button itself hold it; that makes no click. */
  ownKeys(input) {
    const isOwn = (event) => event.code === 'Space' || event.code === 'Enter';
    input.button.addEventListener('keydown', (event) => {
      if (!isOwn(event)) return;
      event.preventDefault();
      if (!event.repeat) this.down(input, `own ${event.code}`);
    });
    input.button.addEventListener('keyup', (event) => {
      if (!isOwn(event)) return;
      event.preventDefault();
      this.up(input, `own ${event.code}`);
    });
    input.button.addEventListener('blur', () => ['own Space', 'own Enter'].forEach((source) => this.up(input, source)));
  }

  keyDown(event) {
    const input = this.inputs.find(({ key }) => key === event.code);
    if (!input || !this.keysOn || event.repeat || event.ctrlKey || event.altKey || event.metaKey || isWriting(event.target)) return;
    event.preventDefault();
    this.down(input, `key ${event.code}`);
  }

  keyUp(event) {
    for (const input of this.inputs) this.up(input, `key ${event.code}`);
  }

  tap(input) {
    this.down(input, 'click');
    setTimeout(() => this.up(input, 'click'), TAP_MS);
  }

  down(input, source) {
    this.gesture();
    input.sources.add(source);
    if (input.sources.size === 1) this.edge(input, PRESS);
  }

  up(input, source) {
    if (input.sources.delete(source) && input.sources.size === 0) this.edge(input, RELEASE);
  }

  edge(input, kind) {
    input.button.setAttribute('aria-pressed', String(kind === PRESS));
    const index = this.order.inputs.indexOf(input.name);
    if (index >= 0) this.send(kind, index);
  }

  /** Whatever is held is let go, also what is kept down: nobody may be there to do it. */
  letGoOfAll() {
    for (const input of this.inputs) {
      input.hold.checked = false;
      for (const source of [...input.sources]) this.up(input, source);
    }
  }

  selector({ name, names, position }) {
    const choices = names.map((each, value) => {
      const choice = make('input', { type: 'radio', name: `selector-${name}`, value: String(value), checked: value === position });
      choice.addEventListener('change', () => this.turn(name, value));
      return make('label', { class: 'tick' }, choice, make('span', {}, spoken(each)));
    });
    return make('fieldset', {}, make('legend', {}, spoken(name)), make('div', { class: 'row' }, ...choices));
  }

  turn(name, position) {
    this.gesture();
    this.positions.find((selector) => selector.name === name).position = position;
    const index = this.order.selectors.indexOf(name);
    if (index >= 0) this.send(SELECT, index, position);
    this.turned();
  }

  volumeControl() {
    const percent = String(Math.round(100 * this.volume / FULL_VOLUME));
    const slider = make('input', { type: 'range', min: '0', max: '100', step: '1', value: percent, id: 'volume' });
    const output = make('output', { htmlFor: 'volume' }, `${percent} %`);
    slider.addEventListener('input', () => {
      this.gesture();
      this.volume = Math.round(slider.value * FULL_VOLUME / 100);
      output.textContent = `${slider.value} %`;
      this.send(VOLUME, 0, this.volume);
    });
    return make('div', { class: 'field' }, make('label', { htmlFor: 'volume' }, 'Volume of the prop'), slider, output);
  }

  keysSwitch() {
    const tick = make('input', { type: 'checkbox', checked: this.keysOn, id: 'keys-on' });
    tick.addEventListener('change', () => {
      this.keysOn = tick.checked;
      this.letGoOfAll();
    });
    return make('label', { class: 'tick' }, tick, make('span', {}, 'Keyboard keys press too (not while you type)'));
  }
}

/** Where letters are taken as text. */
const WRITING = 'input:not([type=checkbox]):not([type=radio]):not([type=range]), textarea, select, [contenteditable]';

function isWriting(target) {
  return target instanceof Element && target.closest(WRITING) !== null;
}
