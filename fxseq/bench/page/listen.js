/** Three ways to listen to what the prop plays, as loud as each other or as they come. */

import { get, getBytes } from './api.js';

export const WAYS = { board: "The board's output", speaker: 'Through this amplifier and speaker', recorded: 'Clips as recorded' };
const FADE_S = 0.02;
/** What a screen's loudspeakers get at most: nobody is to be startled by the first press. */
const FIRST_LEVEL = 0.5;

export class Listening {
  constructor() {
    this.way = 'board';
    this.isMatched = true;
    this.level = FIRST_LEVEL;
    this.recordings = new Map();
    this.sounding = new Map();
    /** Where what is heard comes in, and by way. @type {any} */
    this.out = null;
    /** @type {any} */
    this.paths = {};
  }

  /** Leads the board's node to the loudspeakers of this computer. */
  wire(context, node) {
    this.context = context;
    this.out = new GainNode(context, { gain: this.level });
    this.out.connect(context.destination);
    this.paths = Object.fromEntries(Object.keys(WAYS).map((way) => [way, new GainNode(context, { gain: 0 })]));
    Object.values(this.paths).forEach((path) => path.connect(this.out));
    node.connect(this.paths.board);
    this.node = node;
    this.recordings.clear();
    this.sounding.clear();
    this.part = null;
    this.chain();
    this.turn();
  }

  /** Takes what amplifier and speaker do, as /api/listen tells it; what plays is left alone where that is nothing new. */
  async describe() {
    const asked = this.asked = get('/api/listen'), part = await asked;
    if (asked !== this.asked) return;
    const told = JSON.stringify(part);
    if (told === this.told) return;
    this.told = told;
    this.described = part.impulse ? part : null;
    this.chain();
    this.turn();
  }

  /** Samples -> volts, clipped -> the speaker. All gains are such that full scale stays full scale; what differs is left to `turn`. */
  chain() {
    if (!this.context || !this.described) return;
    const { rate_hz, gain_v_per_unit, clip_v, impulse } = this.described;
    if (rate_hz !== this.context.sampleRate) return;
    this.part?.forEach((node) => node.disconnect());
    if (this.part) this.node.disconnect(this.part[0]);
    const drive = new GainNode(this.context, { gain: gain_v_per_unit / clip_v });
    const clip = new WaveShaperNode(this.context, { curve: new Float32Array([-1, 0, 1]) });
    const back = new GainNode(this.context, { gain: clip_v / gain_v_per_unit });
    const buffer = new AudioBuffer({ length: impulse.length, sampleRate: rate_hz });
    buffer.copyToChannel(Float32Array.from(impulse), 0);
    const speaker = new ConvolverNode(this.context, { disableNormalization: true, buffer });
    this.node.connect(drive).connect(clip).connect(back).connect(speaker).connect(this.paths.speaker);
    this.part = [drive, clip, back, speaker];
    this.norms = norms(impulse);
  }

  /** Which ways there are for this prop. */
  get ways() {
    return this.described ? ['board', 'speaker', 'recorded'] : ['board', 'recorded'];
  }

  choose(way) {
    this.way = way;
    this.turn();
  }

  match(isMatched) {
    this.isMatched = isMatched;
    this.turn();
  }

  setLevel(level) {
    this.level = level;
    this.out?.gain.setTargetAtTime(level, this.context.currentTime, FADE_S);
  }

  /** True: what the speaker passes best comes as loud as the board has it, all else less. Matched: as much power in all, for noise. */
  turn() {
    if (!this.context) return;
    for (const [way, path] of Object.entries(this.paths)) {
      const full = way === 'speaker' && this.norms ? 1 / (this.isMatched ? this.norms.power : this.norms.peak) : 1;
      path.gain.setTargetAtTime(way === this.way ? full : 0, this.context.currentTime, FADE_S);
    }
    if (this.way !== 'recorded') this.hush();
  }

  /** Fetches the recordings once they are wanted. */
  async load(clips) {
    for (const { name, file, channel } of clips) {
      const of = `${file} ${channel}`;
      if (this.recordings.get(name)?.of === of) continue;
      const { bytes } = await getBytes(`/api/clips/${encodeURIComponent(name)}.wav`);
      this.recordings.set(name, { of, buffer: await this.context.decodeAudioData(bytes) });
    }
  }

  /** Plays recordings as the board's voices begin and end. gain_db(clip): of the effect that played it. */
  follow(trace, names, gain_db) {
    if (this.way !== 'recorded') return;
    for (const { kind, index, value } of trace) {
      if (kind === 10) this.begin(index, names.clips[value], gain_db(names.clips[value]));
      else if (kind === 11 || kind === 12) this.end(index);
    }
  }

  begin(voice, clip, gain_db) {
    const { buffer } = this.recordings.get(clip) || {};
    if (!buffer) return;
    this.end(voice);
    const gain = new GainNode(this.context, { gain: 10 ** (gain_db / 20) });
    const source = new AudioBufferSourceNode(this.context, { buffer });
    source.connect(gain).connect(this.paths.recorded);
    source.start();
    this.sounding.set(voice, { source, gain });
  }

  end(voice) {
    const sound = this.sounding.get(voice);
    if (!sound) return;
    sound.gain.gain.setTargetAtTime(0, this.context.currentTime, FADE_S);
    sound.source.stop(this.context.currentTime + 8 * FADE_S);
    this.sounding.delete(voice);
  }

  /** One recording by itself; gives what can be stopped. ended(): when it is over. */
  hear(buffer, ended) {
    this.context.resume().catch(() => {});
    const source = new AudioBufferSourceNode(this.context, { buffer });
    source.onended = ended;
    source.connect(this.out);
    source.start();
    return source;
  }

  hush() {
    [...this.sounding.keys()].forEach((voice) => this.end(voice));
  }
}

/** Of an impulse response: root of the sum of squares, and the largest magnitude over 256 frequencies. */
export function norms(impulse) {
  const power = Math.sqrt(impulse.reduce((sum, value) => sum + value * value, 0)) || 1;
  let peak = 0;
  for (let bin = 1; bin < 256; bin++) {
    let real = 0, imaginary = 0;
    impulse.forEach((value, at) => {
      real += value * Math.cos(Math.PI * bin / 256 * at);
      imaginary += value * Math.sin(Math.PI * bin / 256 * at);
    });
    peak = Math.max(peak, Math.hypot(real, imaginary));
  }
  return { power, peak: peak || 1 };
}
