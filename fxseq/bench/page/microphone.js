/** Taking up a sound from a microphone: leave is asked for, its level shown, and what was taken up becomes a recording like one that is dropped. */

import { Refused } from './api.js';
import { ask } from './ask.js';
import { make, number } from './make.js';
import { say, trying } from './say.js';
import { writeWav } from './wav.js';

/** As it comes: what browsers do to speech would spoil a sound. */
const AS_IT_COMES = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
const LONGEST_S = 300;
const LEAST_DBFS = -60;
const TOO_LOUD = 0.99;

export class Microphone {
  /** take(files): takes in a recording. */
  constructor(take) {
    this.take = take;
    /** @type {any[]} */
    this.blocks = [];
    this.peak = 0;
    /** @type {any} */
    this.stream = null;
    /** @type {any} */
    this.context = null;
    this.begin = this.button('Take up a sound …', () => this.start(), 'record');
    this.stop = this.button('Stop', () => this.finish(), 'record-stop');
    this.leave = this.button('Throw away', () => this.end(), 'record-leave');
    this.level = make('meter', { min: LEAST_DBFS, max: 0, low: -40, high: -3, optimum: -12, value: LEAST_DBFS, 'aria-label': 'Level of the microphone' });
    this.said = make('span', { class: 'small' });
    this.running = make('div', { class: 'row', hidden: true }, this.level, this.said, this.stop, this.leave);
    this.element = make('div', { class: 'microphone' }, this.begin, this.running);
  }

  button(label, act, id) {
    const button = make('button', { type: 'button', id }, label);
    button.addEventListener('click', () => trying(act));
    return button;
  }

  async start() {
    this.begin.disabled = true;
    try {
      this.stream = await this.asked();
      await this.listen();
    } catch (error) {
      await this.end();
      throw error;
    }
    this.begin.hidden = true;
    this.running.hidden = false;
    this.stop.focus();
  }

  async asked() {
    try {
      return await navigator.mediaDevices.getUserMedia({ audio: AS_IT_COMES });
    } catch {
      throw new Refused([{ where: 'Microphone', found: 'the browser does not give it', remedy: 'Plug one in, and allow it for this page.' }]);
    }
  }

  async listen() {
    this.context = new AudioContext();
    await this.context.audioWorklet.addModule('/page/recorder_worklet.js');
    const node = new AudioWorkletNode(this.context, 'recorder', { numberOfOutputs: 0, channelCount: 1, channelCountMode: 'explicit' });
    this.blocks = [];
    this.peak = 0;
    node.port.onmessage = ({ data }) => this.hear(data);
    this.context.createMediaStreamSource(this.stream).connect(node);
  }

  hear(block) {
    if (!this.context) return;
    this.blocks.push(block);
    const peak = block.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
    this.peak = Math.max(this.peak, peak);
    this.level.value = Math.max(LEAST_DBFS, 20 * Math.log10(peak || 1e-6));
    const seconds = this.blocks.length * block.length / this.context.sampleRate;
    this.said.textContent = `${seconds.toFixed(1)} s${this.peak >= TOO_LOUD ? '. Too loud: move away from the microphone, or turn it down.' : ''}`;
    if (seconds >= LONGEST_S) trying(() => this.finish());
  }

  /** What was taken up gets a name, and becomes a clip. */
  async finish() {
    if (!this.context) return undefined; // of two quick clicks the second
    const { blocks, peak, context: { sampleRate } } = this;
    await this.end();
    const length = blocks.reduce((sum, block) => sum + block.length, 0), samples = new Float32Array(length);
    blocks.forEach((block, at) => samples.set(block, at * blocks[0].length));
    if (!peak) return say('Nothing was heard.', true);
    const words = [`${number(length / sampleRate)} s, highest peak ${number(20 * Math.log10(peak))} dBFS.`];
    const answer = await ask('Keep this sound?', words, [{ name: 'name', label: 'Name', value: 'sound' }], [{ act: 'keep', label: 'Keep it as a clip' }]);
    return answer && this.take([new File([writeWav(samples, sampleRate)], `${answer.name || 'sound'}.wav`, { type: 'audio/wav' })]);
  }

  async end() {
    this.stream?.getTracks().forEach((track) => track.stop());
    const { context } = this;
    this.stream = this.context = null;
    await context?.close();
    this.running.hidden = true;
    this.begin.hidden = this.begin.disabled = false;
    this.begin.focus();
  }
}
