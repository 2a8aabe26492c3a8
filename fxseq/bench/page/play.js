/** The board in the audio thread: starting it, giving it tables and presses, and hearing from it. */

import { Refused, WORKLET, getBytes } from './api.js';

export const PRESS = 0, RELEASE = 1, SELECT = 2, VOLUME = 3;
const READY_WITHIN_MS = 20000;
/** Where sound is asleep a browser may leave a table lying: nothing waits for it longer than that. */
const HEARD_WITHIN_MS = 60;

/** The status numbers of the player (fxp.h), which stand for the reasons in SPEC.md. */
const REASONS = ['OK', 'BAD_MAGIC', 'BAD_VERSION', 'BAD_LENGTH', 'BAD_CRC', 'BAD_VALUE', 'TOO_MANY', 'NO_SUCH'];

/** A node that plays a table in this context. Rejects with a message if the player does not come up in time. */
export async function boardNode(context, module) {
  await context.audioWorklet.addModule(WORKLET);
  const node = new AudioWorkletNode(context, 'board', { numberOfInputs: 0, outputChannelCount: [1], processorOptions: { module } });
  await new Promise((done, fail) => {
    const refuse = (found) => fail(new Refused([{ where: 'Sound', found, remedy: 'Reload the page.' }]));
    const late = setTimeout(() => refuse('the player did not start'), READY_WITHIN_MS);
    node.onprocessorerror = () => refuse('the player stopped while starting');
    node.port.onmessage = ({ data }) => data.ready && done(clearTimeout(late));
  });
  return node;
}

/** The player's code, compiled. */
export async function playerModule() {
  return WebAssembly.compile((await getBytes('/page/player.wasm')).bytes);
}

/**
 * A board that plays. heed: called with each report of the worklet (worklet.js), and with {fault: text}.
 * wire: called with (context, node) to lead its sound somewhere.
 */
export class Board {
  constructor(heed, wire) {
    this.heed = heed;
    this.wire = wire;
    /** @type {any} */
    this.context = null;
    this.node = this.module = null;
    this.waiting = [];
    /** @type {(value?: unknown) => void} */
    this.started = () => {};
    this.opening = Promise.resolve();
  }

  /** Starts it at a sample rate, or anew where the rate is another one or the last start has failed. One start after the other. */
  open(rate_hz) {
    this.opening = this.opening.catch(() => {}).then(() => this.begin(rate_hz));
    return this.opening;
  }

  async begin(rate_hz) {
    if (this.node && this.context.sampleRate === rate_hz) return;
    this.module ||= await playerModule();
    this.node = null;
    await this.context?.close();
    const context = new AudioContext({ sampleRate: rate_hz, latencyHint: 'interactive' });
    this.context = context;
    const node = await boardNode(context, this.module);
    node.onprocessorerror = () => this.heed({ fault: 'The player stopped. Reload the page.' });
    node.port.onmessage = ({ data }) => this.hear(data);
    context.onstatechange = () => this.heed({ state: context.state });
    this.wire(context, node);
    this.node = node;
    this.waiting.splice(0).forEach((message) => this.post(message));
    this.heed({ state: context.state });
  }

  /** A recording, once there is something to play it. */
  async decode(bytes) {
    await this.opening;
    return this.context.decodeAudioData(bytes);
  }

  hear(data) {
    if (data.refused || data.started !== undefined) this.started();
    if (data.refused) this.heed({ fault: `The table was refused: ${REASONS[-data.refused] || data.refused} at byte ${data.offset}.` });
    else this.heed(data);
  }

  /** A browser lets sound begin only in a gesture: call this in one. */
  resume() {
    if (this.context && this.context.state !== 'running' && this.context.state !== 'closed') this.context.resume().catch(() => {});
  }

  post(message) {
    if (this.node) this.node.port.postMessage(message);
    else this.waiting.push(message);
  }

  /**
   * Plays this table from power-up; resolves once it does. meters: with which current and level are followed.
   * state: {closed, positions, volume, inputs, isUnderHand}.
   */
  start(table, revision, meters, state) {
    this.post({ table, revision, meters, ...state });
    return new Promise((done) => {
      this.started = done;
      setTimeout(done, HEARD_WITHIN_MS);
    });
  }

  /** One edge or turn, for the very next frame. */
  event(kind, index, value = 0) {
    this.post({ events: [{ kind, index, value }] });
  }

  /** Presses a contact for the very next frame, and lets go of it so many frames after power-up. */
  hold(index, until_frame) {
    this.post({ events: [{ kind: PRESS, index, value: 0 }, { kind: RELEASE, index, value: 0, frame: until_frame }] });
  }

  /** Has events of a script come at their frames since power-up: [frame, kind, index, value]. */
  follow(events) {
    this.post({ events: events.map(([frame, kind, index, value]) => ({ frame, kind, index, value })) });
  }

  /** What the browser and its device add between a press and its sound, as they say. [ms] */
  get delay_ms() {
    return this.context ? 1000 * ((this.context.baseLatency || 0) + (this.context.outputLatency || 0)) : 0;
  }
}
