/** Clips: how a recording looks and what the board makes of it; how it is cut, faded, looped and levelled; new ones, dropped on the page. */

import { bytesOf, get, getBytes } from './api.js';
import { ClipAdvice } from './clip_advice.js';
import { Hand } from './hand.js';
import { capital, fill, make, number, spoken } from './make.js';
import { Microphone } from './microphone.js';
import { renew } from './renew.js';
import { say, trying } from './say.js';
import { newGesture, settingField } from './turn.js';
import { readWav } from './wav.js';
import { Wave } from './wave.js';

const LOOPS = { '': 'Plays once', whole: 'Loops as a whole', own: 'Own loop points', file: 'Loop marked in the file', find: 'Loop found by the bench' };
/** Two ways to hear a clip by itself. */
const HEAR = { recorded: 'Play it as recorded', made: 'Play it as the board does' };
const HELP = 'Drag a grip on the curve. Or focus it and use the arrow keys, with Shift for large steps. Squares at the bottom cut. '
  + 'Round grips on the level line fade and set the level. Grips below the curve set the loop. '
  + 'Closer, or Ctrl and the wheel, shows single samples, and grips then move in finer steps.';
/** How long nothing must change before what the board makes of it is asked for. */
const MADE_AFTER_MS = 250;
const FACTS = [['duration_ms', 'Length', 'ms'], ['rate_hz', 'Samples a second', 'Hz'], ['peak_dbfs', 'Highest peak', 'dBFS'], ['rms_dbfs', 'Mean', 'dBFS'],
  ['loudest_dbfs', 'Loudest 125 ms, to the ear', 'dBFS']];

export class Clips {
  /**
   * take(files): files that were chosen. play(buffer, ended): lets a recording be heard; gives what can be stopped. decode(bytes): to an AudioBuffer.
   * build(name): goes to all that can be said of a clip. work, settled(): as ClipAdvice takes them.
   */
  constructor(place, orders, { take, play, decode, build, work, settled }) {
    this.orders = orders;
    this.take = take;
    this.play = play;
    this.decode = decode;
    this.build = build;
    this.recordings = new Map();
    this.choice = make('select', { id: 'clip' });
    this.choice.addEventListener('change', () => this.choose(this.choice.value));
    this.wanted = ''; // a clip that is to be looked at, of which no answer has told yet
    this.wave = new Wave((changes, gesture) => this.turned(changes, gesture));
    this.hand = new Hand([this.wave.element]);
    this.loop = make('select', { id: 'clip-loop' }, ...Object.entries(LOOPS).map(([value, label]) => make('option', { value }, label)));
    this.loop.addEventListener('change', () => trying(() => this.setLoop()));
    this.loopField = make('div', { class: 'field' }, make('label', { htmlFor: 'clip-loop' }, 'Loop'), this.loop);
    /** Its settings: {element, show, id, key}. @type {any[]} */
    this.shown = [];
    this.fact = make('p', { class: 'small' });
    this.facts = make('div', { id: 'clip-facts' });
    this.fields = make('div', { class: 'clip-fields' });
    this.buttons = Object.fromEntries(Object.entries(HEAR).map(([way, label]) => [way, this.hearButton(way, label)]));
    this.buttons.recorded.id = 'hear';
    this.uses = make('select', { id: 'clip-use' });
    this.uses.addEventListener('change', () => this.use());
    this.used = make('p', { class: 'small' });
    this.more = make('button', { type: 'button', id: 'clip-more' }, 'Filter, level, coding, name …');
    this.more.addEventListener('click', () => this.build(this.choice.value));
    this.editor = make('div', { class: 'clip-editor' }, this.wave.element, make('div', { class: 'row' }, this.buttons.recorded, this.buttons.made),
      make('div', { class: 'clip-rest' }, this.facts, make('p', { class: 'small' }, HELP)));
    this.advice = new ClipAdvice(orders, { work, settled, chosen: () => this.choice.value, names: () => this.prop.clips.map(({ name }) => name) });
    this.home = make('div', {}, this.editor);
    place.replaceChildren(make('div', { class: 'field' }, make('label', { htmlFor: 'clip' }, 'Clip'), this.choice), this.home,
      make('div', { class: 'clip-rest' }, make('div', {}, this.fact, this.fields),
        make('div', {}, make('div', { class: 'field' }, make('label', { htmlFor: 'clip-use' }, 'Play it in'), this.uses), this.used, this.more, this.dropPlace())),
      this.advice.element);
    new ResizeObserver(() => this.prop && this.editor.clientWidth && trying(() => this.draw())).observe(this.editor);
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => trying(() => this.draw()));
  }

  hearButton(way, label) {
    const button = make('button', { type: 'button' }, label);
    button.addEventListener('click', () => trying(() => (this.heard?.way === way ? this.quiet() : this.hear(way))));
    return button;
  }

  async hear(way) {
    const clip = this.clip, buffer = await this.decode(way === 'recorded' ? (await this.recording(clip)).bytes.slice(0) : bytesOf((await this.asked(clip)).wav));
    this.quiet();
    const source = this.play(buffer, () => this.heard?.source === source && this.quiet());
    this.heard = { way, source };
    this.buttons[way].textContent = 'Stop';
  }

  quiet() {
    this.heard?.source.stop();
    this.heard = undefined;
    for (const [way, label] of Object.entries(HEAR)) this.buttons[way].textContent = label;
  }

  /** Lends what shows a clip to another place of the page; null: it comes home. */
  lend(place, name = '') {
    if (this.editor.parentElement !== (place || this.home)) (place || this.home).append(this.editor);
    if (place && name !== this.choice.value) this.choose(name);
  }

  show(prop) {
    this.newest = prop;
    if (this.wave.isHeld) this.hand.putOff(this.orders, () => this.show(this.newest));
    // What a hand has hold of is looked at until it is let go.
    if (this.wave.isHeld && !prop.clips.some(({ name }) => name === this.wave.clip.name)) return;
    this.prop = prop;
    const names = prop.clips.map(({ name }) => name);
    if (names.join() !== this.names) {
      const looked = [this.wanted, this.choice.value].find((name) => names.includes(name));
      this.choice.replaceChildren(...names.map((name) => make('option', { value: name }, spoken(name))));
      if (looked) this.choice.value = looked;
      if (looked === this.wanted) this.wanted = '';
      this.names = names.join();
    }
    trying(() => this.draw());
  }

  /** Looks at a clip, once there is one of that name. */
  choose(name) {
    const isThere = this.prop.clips.some((clip) => clip.name === name);
    this.wanted = isThere ? '' : name;
    if (!isThere) return;
    this.choice.value = name;
    trying(() => this.draw());
  }

  get clip() {
    return this.prop.clips.find(({ name }) => name === this.choice.value);
  }

  /** The recording, fetched once for a file; asked for again where that failed. */
  async recording({ name, file, channel }) {
    const of = `${file} ${channel}`;
    if (!this.recordings.has(of)) this.recordings.set(of, this.fetched(name));
    try {
      return await this.recordings.get(of);
    } catch (error) {
      this.recordings.delete(of);
      throw error;
    }
  }

  async fetched(name) {
    const { bytes } = await getBytes(pathOf(name, '.wav'));
    return { bytes, ...readWav(bytes) };
  }

  async draw() {
    const { clip } = this;
    Object.values(this.buttons).forEach((button) => { button.disabled = !clip; });
    this.more.disabled = !clip;
    if (!clip) return;
    this.showFields(clip);
    this.showUses(clip);
    this.wave.element.inert = this.wave.clip?.name !== clip.name; // until the curve is this clip's
    const recording = await this.recording(clip);
    if (clip.name !== this.choice.value || !this.editor.clientWidth) return;
    const length_ms = recording.samples.length / recording.rate_hz * 1000, shape = this.shapeOf(this.clip, length_ms);
    this.shown.forEach(({ element, key }) => {
      if (key.endsWith('_ms')) element.querySelectorAll('input').forEach((input) => { input.max = Math.ceil(length_ms); });
      if (key === 'end_ms' && shape.end_ms === length_ms) element.querySelector('input').value = Math.ceil(length_ms);
    });
    this.wave.show(recording, shape, new Set(this.shown.map(({ key }) => key)));
    this.wave.element.inert = false;
    const kept = `kept from ${number(shape.start_ms)} to ${number(shape.end_ms)} ms`;
    this.wave.canvas.setAttribute('aria-label', `${spoken(clip.name)}: ${number(length_ms)} ms recorded, ${kept}`);
    const { in_reach: isInTable, duration_s, bytes, rate_hz, stored_as } = this.clip;
    const made = `In the table: ${number(1000 * duration_s)} ms, ${number(bytes / 1024)} KiB, ${rate_hz} Hz, ${stored_as}.`;
    this.fact.textContent = `${number(length_ms)} ms recorded. ${isInTable ? made : 'No trigger uses it, so it is not in the table.'}`;
    this.askLater();
  }

  /** What the board makes of it is asked for once nothing moves any more. */
  askLater() {
    const of = this.madeOf(this.clip);
    if (this.shownMade === of) return;
    clearTimeout(this.later);
    this.later = setTimeout(() => trying(() => this.showMade()), MADE_AFTER_MS);
  }

  madeOf({ name }) {
    return `${this.prop.revision} ${name}`;
  }

  /** What the server says of a clip as the board plays it, asked for once; asked again where that failed. */
  async asked(clip) {
    const of = this.madeOf(clip);
    if (this.answer?.of !== of) this.answer = { of, made: get(pathOf(clip.name, '/made')) };
    try {
      return await this.answer.made;
    } catch (error) {
      this.answer = undefined;
      throw error;
    }
  }

  async showMade() {
    const { clip } = this, of = clip && this.madeOf(clip);
    if (!clip || this.orders.areWaiting) return;
    const made = await this.asked(clip);
    if (!this.clip || of !== this.madeOf(this.clip)) return;
    this.shownMade = of;
    const { samples, rate_hz } = readWav(bytesOf(made.wav));
    this.wave.showMade({ samples: samples.subarray(0, Math.round(made.once_ms * rate_hz / 1000)), rate_hz, at_ms: made.from_ms });
    this.facts.replaceChildren(factsOf(made));
  }

  /** Grips on the curve were moved: the fields follow at once. */
  turned(changes, gesture) {
    for (const { key, value } of changes) this.shown.find((field) => field.key === key)?.show(value);
    const placed = changes.map(({ key, value }) => ({ path: ['clips', this.wave.clip.name, ...key.split('.')], value }));
    if (placed.length > 1) this.orders.setAll(placed, gesture);
    else this.orders.set(placed[0].path, placed[0].value, gesture);
  }

  /** The clip's settings as the curve shows them, each end with a value. */
  shapeOf({ name, cut_ms, loop }, length_ms) {
    const values = Object.fromEntries(this.settingsOf(name).map(({ path, value }) => [path.slice(2).join('.'), value]));
    const start_ms = values.start_ms ?? cut_ms[0], end_ms = values.end_ms ?? length_ms, end = values['loop.end_ms'];
    return {
      name, length_ms, start_ms, end_ms, fade_in_ms: values.fade_in_ms ?? 0, fade_out_ms: values.fade_out_ms ?? 0, gain_db: values.gain_db ?? 0,
      loop: loop === 'own' ? { start_ms: values['loop.start_ms'], end_ms: end ?? end_ms - start_ms, isOpen: end === null } : undefined,
    };
  }

  settingsOf(name) {
    return this.orders.over(this.prop.settings.filter(({ path }) => path[0] === 'clips' && path[1] === name));
  }

  showFields(clip) {
    const settings = this.settingsOf(clip.name);
    const shape = JSON.stringify([settings.map(({ path }) => path)]);
    if (shape !== this.shape) this.buildFields(settings);
    this.shape = shape;
    settings.forEach((setting, at) => this.shown[at].show(setting.value));
    if (this.loop.value !== (clip.loop ?? '')) this.loop.value = clip.loop ?? '';
  }

  /** Where it is played, and where it could be: beside the sounds of an effect, or in place of one. */
  showUses({ name }) {
    const effects = Object.entries(this.prop.sounds);
    const having = effects.filter(([, sounds]) => sounds.some(({ clip }) => clip === name)).map(([effect]) => spoken(effect));
    this.used.textContent = having.length ? `Played in: ${having.join(', ')}.` : 'No effect plays it yet.';
    /** @type {(label: string, path?: string | (string | number)[]) => { value: string, label: string }} */
    const option = (label, path = '') => ({ value: path && JSON.stringify(path), label });
    const others = (effect, sounds) => sounds.flatMap(({ clip }, at) => (clip === name ? []
      : [option(`${spoken(effect)}: in place of ${spoken(clip)}`, ['effects', effect, 'sounds', at, 'clip'])]));
    fill(this.uses, [option('Choose where'), ...effects.flatMap(([effect, sounds]) => [
      option(`${spoken(effect)}: as one more sound`, ['effects', effect, 'sounds']),
      ...others(effect, sounds)])]);
  }

  use() {
    if (!this.uses.value) return;
    const path = JSON.parse(this.uses.value), { name } = this.clip;
    this.uses.value = '';
    if (path.at(-1) === 'clip') this.orders.set(path, name, newGesture());
    else trying(() => this.orders.ask('/api/parts', { do: 'append', path, value: { clip: name }, changes: [] }));
  }

  buildFields(settings) {
    const before = new Map(this.shown.map((field) => [field.id, field]));
    const field = (setting) => settingField(setting, (value, gesture) => this.orders.set(setting.path, value, gesture));
    this.shown = settings.map((setting) => before.get(JSON.stringify(setting.path))
      || { ...field(setting), id: JSON.stringify(setting.path), key: setting.path.slice(2).join('.') });
    renew(this.fields, ...this.shown.map(({ element }) => element), this.loopField);
  }

  /** A loop between two points begins as the whole of what is kept. */
  async setLoop() {
    const { clip } = this, { value } = this.loop, { samples, rate_hz } = await this.recording(clip);
    const { start_ms, end_ms } = this.shapeOf(clip, samples.length / rate_hz * 1000);
    if (value === 'find') say('Looking for a loop.');
    const whole = { start_ms: 0, end_ms: Math.floor(end_ms - start_ms) };
    this.orders.set(['clips', clip.name, 'loop'], value === 'own' ? whole : value || null, newGesture());
  }

  dropPlace() {
    const file = make('input', { type: 'file', accept: '.wav,.aif,.aiff,.flac,.ogg,.mp3', multiple: true, id: 'new-clip' });
    file.addEventListener('change', async () => {
      await this.take([...file.files]);
      file.value = '';
    });
    const label = make('label', { htmlFor: 'new-clip' }, 'New clip: drop a recording anywhere on the page, or choose one');
    return make('div', { class: 'drop' }, label, file, new Microphone(this.take).element);
  }
}

function pathOf(name, rest) {
  return `/api/clips/${encodeURIComponent(name)}${rest}`;
}

/** A clip in figures: as it was read and cut, and as the board plays it. */
function factsOf({ before, after, done }) {
  const cell = (value, unit) => make('td', {}, value === null ? 'silent' : `${number(value, 4)} ${unit}`);
  const rows = FACTS.map(([key, label, unit]) => make('tr', {}, make('th', { scope: 'row' }, label), cell(before[key], unit), cell(after[key], unit)));
  const head = ['', 'As cut', 'As the board plays it'].map((text) => make(text ? 'th' : 'td', text ? { scope: 'col' } : {}, text));
  return make('div', {}, make('table', { class: 'facts' }, make('thead', {}, make('tr', {}, ...head)), make('tbody', {}, ...rows)),
    ...(done.length ? [make('p', { class: 'small' }, capital(`${done.join('; ')}.`))] : []));
}
