/** Clips: how a recording looks and what is kept of it; how it is cut, faded, looped and levelled; new ones, dropped on the page. */

import { getBytes } from './api.js';
import { make, number, spoken } from './make.js';
import { trying } from './say.js';
import { newGesture, settingField } from './turn.js';
import { Wave } from './wave.js';

const LOOPS = { '': 'Plays once', whole: 'Loops as a whole', own: 'Own loop points', file: 'Loop marked in the file', find: 'Loop found by the bench' };
const HEAR = 'Play it as recorded';
const HELP = 'Drag a grip on the curve. Or focus it and use the arrow keys, with Shift for large steps. Squares at the bottom cut. '
  + 'Round grips on the level line fade and set the level. Grips below the curve set the loop.';

export class Clips {
  /** take(files): files that were chosen. play(buffer, ended): lets a recording be heard; gives what can be stopped. decode(bytes): to an AudioBuffer. */
  constructor(place, orders, { take, play, decode }) {
    this.place = place;
    this.orders = orders;
    this.take = take;
    this.play = play;
    this.decode = decode;
    this.waves = new Map();
    this.choice = make('select', { id: 'clip' });
    this.choice.addEventListener('change', () => trying(() => this.draw()));
    this.wave = new Wave((key, value, gesture) => this.turned(key, value, gesture));
    this.fact = make('p', { class: 'small' });
    this.fields = make('div', {});
    this.hear = make('button', { type: 'button', id: 'hear' }, HEAR);
    this.hear.addEventListener('click', () => trying(() => (this.heard ? this.quiet() : this.hearIt())));
    this.uses = make('select', { id: 'clip-use' });
    this.uses.addEventListener('change', () => this.use());
    this.used = make('p', { class: 'small' });
    place.replaceChildren(make('div', { class: 'field' }, make('label', { htmlFor: 'clip' }, 'Clip'), this.choice),
      this.wave.element, this.fact, make('p', { class: 'small' }, HELP), this.hear,
      make('div', { class: 'field' }, make('label', { htmlFor: 'clip-use' }, 'Play it in'), this.uses), this.used, this.fields, this.dropPlace());
    new ResizeObserver(() => this.prop && trying(() => this.draw())).observe(place);
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => trying(() => this.draw()));
  }

  async hearIt() {
    const { buffer } = await this.recording();
    this.quiet();
    const heard = this.heard = this.play(buffer, () => heard === this.heard && this.quiet());
    this.hear.textContent = 'Stop';
  }

  quiet() {
    this.heard?.stop();
    this.heard = undefined;
    this.hear.textContent = HEAR;
  }

  show(prop) {
    this.prop = prop;
    const names = prop.clips.map(({ name }) => name);
    if (names.join() !== this.names) {
      const before = this.choice.value;
      this.choice.replaceChildren(...names.map((name) => make('option', { value: name }, spoken(name))));
      if (names.includes(before)) this.choice.value = before;
      this.names = names.join();
    }
    trying(() => this.draw());
  }

  /** Looks at a clip, if there is one of that name. */
  choose(name) {
    if (!this.prop.clips.some((clip) => clip.name === name)) return;
    this.choice.value = name;
    trying(() => this.draw());
  }

  get clip() {
    return this.prop.clips.find(({ name }) => name === this.choice.value);
  }

  /** The recording, fetched once; asked for again where that failed. */
  async recording() {
    const { name } = this.clip;
    if (!this.waves.has(name)) this.waves.set(name, this.fetched(name));
    try {
      return { name, buffer: await this.waves.get(name) };
    } catch (error) {
      this.waves.delete(name);
      throw error;
    }
  }

  async fetched(name) {
    return this.decode((await getBytes(`/api/clips/${encodeURIComponent(name)}.wav`)).bytes);
  }

  async draw() {
    const { clip } = this;
    this.hear.disabled = !clip;
    if (!clip) return;
    this.showFields(clip);
    this.showUses(clip);
    this.wave.element.inert = this.wave.clip?.name !== clip.name; // until the curve is this clip's
    const { name, buffer } = await this.recording();
    if (name !== this.choice.value) return;
    const length_ms = buffer.duration * 1000, shape = this.shapeOf(this.clip, length_ms);
    this.shown.forEach(({ element, key }) => {
      if (key.endsWith('_ms')) element.querySelectorAll('input').forEach((input) => { input.max = Math.ceil(length_ms); });
      if (key === 'end_ms' && this.clip.cut_ms[1] === null) element.querySelector('input').value = Math.ceil(length_ms);
    });
    this.wave.show(buffer, shape, new Set(this.shown.map(({ key }) => key)));
    this.wave.element.inert = false;
    const kept = `kept from ${number(shape.start_ms)} to ${number(shape.end_ms)} ms`;
    this.wave.canvas.setAttribute('aria-label', `${spoken(name)}: ${number(length_ms)} ms recorded, ${kept}`);
    const { in_reach: isInTable, duration_s, bytes, rate_hz, coding } = this.clip;
    const made = `In the table: ${number(1000 * duration_s)} ms, ${number(bytes / 1024)} KiB, ${rate_hz} Hz, ${coding}.`;
    this.fact.textContent = `${number(length_ms)} ms recorded. ${isInTable ? made : 'No trigger uses it, so it is not in the table.'}`;
  }

  /** A grip on the curve was moved: the field follows at once. */
  turned(key, value, gesture) {
    this.shown.find((field) => field.key === key).show(value);
    this.orders.set(['clips', this.clip.name, ...key.split('.')], value, gesture);
  }

  /** The clip's settings as the curve shows them, each end with a value. */
  shapeOf({ name, cut_ms: [start_ms, end_ms], loop }, length_ms) {
    const values = Object.fromEntries(this.settingsOf(name).map(({ path, value }) => [path.slice(2).join('.'), value]));
    const end = end_ms ?? length_ms;
    return {
      name, length_ms, start_ms, end_ms: end, fade_in_ms: values.fade_in_ms ?? 0, fade_out_ms: values.fade_out_ms ?? 0, gain_db: values.gain_db ?? 0,
      loop: loop === 'own' ? { start_ms: values['loop.start_ms'], end_ms: values['loop.end_ms'] ?? end - start_ms } : undefined,
    };
  }

  settingsOf(name) {
    return this.orders.over(this.prop.settings.filter(({ path }) => path[0] === 'clips' && path[1] === name));
  }

  showFields(clip) {
    const settings = this.settingsOf(clip.name);
    const shape = JSON.stringify([settings.map(({ path }) => path)]);
    if (shape !== this.shape) this.buildFields(clip, settings);
    this.shape = shape;
    settings.forEach((setting, at) => this.shown[at].show(setting.value));
    this.loop.value = clip.loop ?? '';
  }

  /** Where it is played, and where it could be: beside the sounds of an effect, or in place of one. */
  showUses({ name }) {
    const effects = Object.entries(this.prop.sounds);
    const having = effects.filter(([, sounds]) => sounds.some(({ clip }) => clip === name)).map(([effect]) => spoken(effect));
    this.used.textContent = having.length ? `Played in: ${having.join(', ')}.` : 'No effect plays it yet.';
    /** @type {(label: string, path?: string | (string | number)[]) => HTMLElement} */
    const option = (label, path = '') => make('option', { value: path && JSON.stringify(path) }, label);
    const others = (effect, sounds) => sounds.flatMap(({ clip }, at) => (clip === name ? []
      : [option(`${spoken(effect)}: in place of ${spoken(clip)}`, ['effects', effect, 'sounds', at, 'clip'])]));
    this.uses.replaceChildren(option('Choose where'), ...effects.flatMap(([effect, sounds]) => [
      option(`${spoken(effect)}: as one more sound`, ['effects', effect, 'sounds', ...(sounds.length ? [sounds.length] : [])]),
      ...others(effect, sounds)]));
  }

  use() {
    if (!this.uses.value) return;
    const path = JSON.parse(this.uses.value), { name } = this.clip;
    const more = path.length === 3 ? [{ clip: name }] : { clip: name };
    this.orders.set(path, path.at(-1) === 'clip' ? name : more, newGesture());
  }

  buildFields(clip, settings) {
    const field = (setting) => settingField(setting, (value, gesture) => this.orders.set(setting.path, value, gesture));
    this.shown = settings.map((setting) => ({ ...field(setting), key: setting.path.slice(2).join('.') }));
    this.loop = make('select', { id: 'clip-loop' }, ...Object.entries(LOOPS).map(([value, label]) => make('option', { value }, label)));
    this.loop.addEventListener('change', () => trying(() => this.setLoop()));
    this.fields.replaceChildren(...this.shown.map(({ element }) => element),
      make('div', { class: 'field' }, make('label', { htmlFor: 'clip-loop' }, 'Loop'), this.loop));
  }

  /** A loop between two points begins as the whole of what is kept. */
  async setLoop() {
    const { name } = this.clip, { value } = this.loop;
    const { start_ms, end_ms } = this.shapeOf(this.clip, (await this.recording()).buffer.duration * 1000);
    const whole = { start_ms: 0, end_ms: Math.floor(end_ms - start_ms) };
    this.orders.set(['clips', name, 'loop'], value === 'own' ? whole : value || null, newGesture());
  }

  dropPlace() {
    const file = make('input', { type: 'file', accept: '.wav,.aif,.aiff,.flac,.ogg,.mp3', multiple: true, id: 'new-clip' });
    file.addEventListener('change', async () => {
      await this.take([...file.files]);
      file.value = '';
    });
    const label = make('label', { htmlFor: 'new-clip' }, 'New clip: drop a recording anywhere on the page, or choose one');
    return make('div', { class: 'drop' }, label, file);
  }
}
