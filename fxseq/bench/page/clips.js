/** Clips: how a recording looks and what is kept of it; how it is cut, faded and levelled; new ones, dropped on the page. */

import { getBytes, postFile } from './api.js';
import { make, number, spoken } from './make.js';
import { say, trying } from './say.js';
import { newGesture, settingField } from './turn.js';

const HEIGHT_PX = 96;
const LOOPS = { '': 'Plays once', whole: 'Loops as a whole', file: 'Loop of the file', find: 'Loop found by the bench' };

export class Clips {
  /** took(prop): after a new clip. play(buffer): lets a recording be heard. decode(bytes): to an AudioBuffer. */
  constructor(place, edits, { took, play, decode }) {
    Object.assign(this, { place, edits, took, play, decode });
    this.waves = new Map();
    this.choice = make('select', { id: 'clip' });
    this.choice.addEventListener('change', () => trying(() => this.draw()));
    this.canvas = make('canvas', { class: 'wave', role: 'img' });
    this.fact = make('p', { class: 'small' });
    this.fields = make('div', {});
    this.hear = make('button', { type: 'button' }, 'Hear it as recorded');
    this.hear.addEventListener('click', () => trying(async () => this.play((await this.wave()).buffer)));
    place.replaceChildren(make('div', { class: 'field' }, make('label', { htmlFor: 'clip' }, 'Clip'), this.choice),
      make('div', {}, this.canvas), this.fact, this.hear, this.fields, this.dropPlace());
    new ResizeObserver(() => this.prop && trying(() => this.draw())).observe(place);
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => trying(() => this.draw()));
  }

  show(prop) {
    this.prop = prop;
    const names = prop.clips.map(({ name }) => name);
    if (names.join() !== this.names) {
      const before = this.wanted || this.choice.value;
      this.choice.replaceChildren(...names.map((name) => make('option', { value: name }, spoken(name))));
      if (names.includes(before)) this.choice.value = before;
      this.names = names.join();
    }
    trying(() => this.draw());
  }

  get clip() {
    return this.prop.clips.find(({ name }) => name === this.choice.value);
  }

  /** The recording, fetched once. */
  async wave() {
    const { name } = this.clip;
    if (!this.waves.has(name)) this.waves.set(name, getBytes(`/api/clips/${encodeURIComponent(name)}.wav`).then(({ bytes }) => this.decode(bytes)));
    return { name, buffer: await this.waves.get(name) };
  }

  async draw() {
    const { clip } = this;
    this.hear.disabled = !clip;
    if (!clip) return;
    this.showFields(clip);
    const { name, buffer } = await this.wave();
    if (name !== this.choice.value) return;
    const [start_ms, end_ms] = this.clip.cut_ms;
    const length_ms = buffer.duration * 1000;
    this.shown.forEach(({ element, key }) => {
      if (key === 'start_ms' || key === 'end_ms') element.querySelectorAll('input').forEach((input) => { input.max = Math.ceil(length_ms); });
    });
    this.paint(buffer.getChannelData(0), start_ms / length_ms, (end_ms ?? length_ms) / length_ms);
    const kept = `kept from ${number(start_ms)} to ${number(end_ms ?? length_ms)} ms`;
    this.canvas.setAttribute('aria-label', `${spoken(name)}: ${number(length_ms)} ms recorded, ${kept}`);
    const { in_reach: isInTable, duration_s, bytes, rate_hz, coding } = this.clip;
    const made = `In the table: ${number(1000 * duration_s)} ms, ${number(bytes / 1024)} KiB, ${rate_hz} Hz, ${coding}.`;
    this.fact.textContent = `${number(length_ms)} ms recorded. ${isInTable ? made : 'No trigger reaches it, so it is not in the table.'}`;
  }

  /** start, end: what is kept, as shares of the recording. */
  paint(samples, start, end) {
    const width = Math.max(this.place.clientWidth, 60), ratio = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(width * ratio);
    this.canvas.height = Math.round(HEIGHT_PX * ratio);
    const pen = this.canvas.getContext('2d', { alpha: false });
    pen.scale(ratio, ratio);
    const style = getComputedStyle(this.canvas);
    const colour = (name) => style.getPropertyValue(name).trim();
    pen.fillStyle = colour('--strip-lane');
    pen.fillRect(0, 0, width, HEIGHT_PX);
    for (let x = 0; x < width; x++) {
      const first = Math.floor(x * samples.length / width), next = Math.floor((x + 1) * samples.length / width);
      const part = samples.subarray(first, Math.max(next, first + 1));
      let low = 0, high = 0;
      for (const sample of part) {
        low = Math.min(low, sample);
        high = Math.max(high, sample);
      }
      pen.fillStyle = colour(x / width >= start && x / width <= end ? '--strip-first' : '--edge');
      pen.fillRect(x, HEIGHT_PX / 2 * (1 - high), 1, Math.max(HEIGHT_PX / 2 * (high - low), 1));
    }
  }

  showFields(clip) {
    const settings = this.prop.settings.filter(({ path }) => path[0] === 'clips' && path[1] === clip.name);
    const shape = JSON.stringify([clip.loop === 'own', settings.map(({ path }) => path)]);
    if (shape !== this.shape) this.buildFields(clip, settings);
    this.shape = shape;
    settings.forEach((setting, at) => this.shown[at].show(setting.value));
    this.loop.value = clip.loop ?? '';
  }

  buildFields(clip, settings) {
    const field = (setting) => settingField(setting, (value, gesture) => this.edits.set(setting.path, value, gesture));
    this.shown = settings.map((setting) => ({ ...field(setting), key: setting.path[2] }));
    const own = clip.loop === 'own' ? [make('option', { value: 'own' }, 'Loop set in the file')] : [];
    this.loop = make('select', { id: 'clip-loop' }, ...own, ...Object.entries(LOOPS).map(([value, label]) => make('option', { value }, label)));
    this.loop.addEventListener('change', () => this.edits.set(['clips', clip.name, 'loop'], this.loop.value || null, newGesture()));
    this.fields.replaceChildren(...this.shown.map(({ element }) => element),
      make('div', { class: 'field' }, make('label', { htmlFor: 'clip-loop' }, 'Loop'), this.loop));
  }

  dropPlace() {
    const file = make('input', { type: 'file', accept: '.wav,.aif,.aiff,.flac,.ogg,.mp3', id: 'new-clip' });
    file.addEventListener('change', () => trying(() => this.add(file.files)));
    const place = make('div', { class: 'drop' }, make('label', { htmlFor: 'new-clip' }, 'New clip: drop a recording here, or choose one'), file);
    for (const name of ['dragenter', 'dragover', 'dragleave', 'drop']) {
      place.addEventListener(name, (event) => {
        event.preventDefault();
        place.classList.toggle('over', name === 'dragenter' || name === 'dragover');
      });
    }
    place.addEventListener('drop', (event) => trying(() => this.add(event.dataTransfer.files)));
    return place;
  }

  async add(files) {
    for (const file of files) {
      const name = clipName(file.name);
      say(`${file.name} is being added.`);
      const prop = await postFile('/api/clips', name, file);
      this.wanted = name;
      await this.took(prop);
      this.wanted = undefined;
      say(`${spoken(name)} is a clip now. Name it in an effect to have it played.`);
    }
  }
}

/** A file's name as the name of a clip: small letters, digits and _. */
export function clipName(file) {
  const plain = file.toLowerCase().replace(/\.[^.]*$/, '').normalize('NFKD').replace(/[^a-z0-9]+/g, '_').replace(/^[^a-z]+|_+$/g, '');
  return plain.slice(0, 40) || 'clip';
}
