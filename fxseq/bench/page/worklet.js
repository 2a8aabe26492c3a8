/** Plays a table in the audio thread: edges of contacts in; samples out; what the lamps do, what was traced, what it takes and how loud it is, reported. */

const PRESS = 0, RELEASE = 1, SELECT = 2, VOLUME = 3, HELD = 4;
const LONGEST_HELD = 65535;
const FULL_VOLUME = 256, VOLUME_STEP = 4;
/** A table that starts in mid-sound cuts it: from its last sample to the new sound it takes so long, so that there is no click. */
const CUT_RAMP_S = 0.003;
/** About one picture at 60 a second. */
const REPORT_S = 1 / 60;

/** Follows current and level, frame by frame, with the numbers that the bench has worked out (meters.py). */
class Meter {
  constructor(meters) {
    this.meters = meters;
    this.taps = new Float32Array(0);
    this.volts = new Float32Array(0);
    this.keeps = 0;
    this.frames = this.sum_ma = this.highest_ma = this.loudest = 0;
    this.square = 0; // of the A-weighted pressure over the reference pressure, averaged as the time weighting says
    if (meters.sound) {
      this.taps = Float32Array.from(meters.sound.a_weighted);
      this.keeps = Math.exp(-1 / (meters.sound.fast_s * sampleRate));
    }
    this.clear();
  }

  clear() {
    this.frames = this.sum_ma = this.highest_ma = this.loudest = 0;
  }

  /** Takes one frame: samples as the player gives them, 16 bit, and duties, of which `full` is the highest. */
  follow(samples, duties, full) {
    const { base_ma, channel_ma, sound } = this.meters;
    let now_ma = base_ma;
    for (let channel = 0; channel < duties.length; channel++) now_ma += channel_ma[channel] * duties[channel] / full;
    if (sound) now_ma += this.hear(samples);
    this.sum_ma += now_ma;
    this.frames += 1;
    this.highest_ma = Math.max(this.highest_ma, now_ma);
  }

  /** What the amplifier takes for these samples. */
  hear(samples) {
    const { step, volts_per_unit, most_v, ma_per_v2, ma_per_v } = this.meters.sound;
    const reach = this.taps.length - 1;
    if (this.volts.length !== reach + samples.length) this.volts = new Float32Array(reach + samples.length);
    this.volts.copyWithin(0, samples.length);
    let taken_ma = 0;
    for (let at = 0; at < samples.length; at++) {
      const given = Math.min(Math.floor((samples[at] + (step >> 1)) / step) * step, 32768 - step);
      const volt = Math.max(-most_v, Math.min(most_v, given / 32768 * volts_per_unit));
      this.volts[reach + at] = volt;
      taken_ma += ma_per_v2 * volt * volt + ma_per_v * Math.abs(volt);
    }
    this.weigh(samples.length);
    return taken_ma / samples.length;
  }

  /** The level's square goes on by so many samples, those that came last. */
  weigh(count) {
    const { taps, volts, keeps } = this;
    if (volts.every((volt) => volt === 0)) {
      this.square *= keeps ** count;
      return;
    }
    for (let at = 0, end = taps.length - 1; at < count; at++, end++) {
      let pressure = 0;
      for (let tap = 0; tap < taps.length; tap++) pressure += taps[tap] * volts[end - tap];
      this.square = pressure * pressure + (this.square - pressure * pressure) * keeps;
      if (this.square > this.loudest) this.loudest = this.square;
    }
  }

  /** Since the last one: mean and highest current, and the highest level, in dB(A) at the hand; null where there is none. */
  report() {
    const loudest = Math.max(this.loudest, this.square);
    const found = { mean_ma: this.sum_ma / this.frames, highest_ma: this.highest_ma, level_db: loudest > 0 ? 10 * Math.log10(loudest) : null };
    this.clear();
    return found;
  }
}

class Board extends AudioWorkletProcessor {
  constructor({ processorOptions: { module } }) {
    super();
    /** @type {any} its functions (player.c) and its memory */
    this.player = new WebAssembly.Instance(module, {}).exports;
    this.memory = this.player.memory.buffer;
    this.closed = 0;
    this.inputs = [];       // names of those of the table that plays
    this.events = [];       // {kind, index, value, frame?} in the order in which they came
    this.taken = [];        // the same since power-up, each with the frame that took it, as far as they are not reported
    this.kept = new Float32Array(0); // samples of the last frames that found no room in the quantum before
    this.last = 0;
    this.ramp = 0;
    this.rampFrom = 0;
    this.gaps = 0;
    this.expected = -1;
    this.playing = false;
    this.sizes = { frame: 0, channels: 0, full: 1 };
    this.light = new Float32Array(0);
    this.frames = this.unreported = this.low = this.high = 0;
    this.clearReport();
    this.port.onmessage = ({ data }) => this.take(data);
    this.port.postMessage({ ready: true });
  }

  take(message) {
    if (message.table) this.swap(message);
    else this.events.push(...message.events);
  }

  /**
   * Checks a table and, if it is sound, plays it from power-up, with selectors, volume and contacts as they are on the page.
   * inputs: names of its inputs. isUnderHand: what is held goes on being held, and is not pressed anew (SPEC 5.2).
   */
  swap({ table, revision, inputs = [], isUnderHand = false, ...state }) {
    const { player } = this;
    const fits = table.byteLength <= player.slot_bytes();
    if (fits) new Uint8Array(this.memory, player.slot(), table.byteLength).set(new Uint8Array(table));
    const status = player.stage(fits ? table.byteLength : player.slot_bytes() + 1);
    if (status !== 0) return this.port.postMessage({ refused: status, offset: player.offset(), revision });
    this.report();
    const held = isUnderHand ? this.heldSamples() : new Map();
    player.start();
    this.inputs = inputs;
    this.powerUp(state, held);
    return this.port.postMessage({ started: revision });
  }

  /** By name: for how many samples an input has been down. */
  heldSamples() {
    return new Map(this.inputs.map((name, index) => [name, this.player.down_for(index) * this.sizes.frame]));
  }

  /** @param {any} state @param {Map<string, number>} held */
  powerUp({ meters, closed = 0, positions = [], volume = FULL_VOLUME }, held) {
    const { player } = this;
    this.rampFrom = this.last;
    this.ramp = this.playing ? Math.round(CUT_RAMP_S * sampleRate) : 0;
    this.kept = new Float32Array(0);
    this.sizes = { frame: player.samples_per_frame(), channels: player.channels(), full: 2 ** player.pwm_bits() - 1 };
    this.playing = true;
    this.events = this.unplayed();
    this.meter = meters && this.successor(meters);
    this.clearReport();
    positions.forEach((position, selector) => player.select(selector, position));
    this.taken = positions.map((value, index) => ({ frame: 0, kind: SELECT, index, value }));
    this.settle(volume);
    this.closed = this.events.reduce((bits, { index }) => bits & ~(1 << index), closed);
    for (let index = 0; index < 32; index++) if (this.closed >>> index & 1) this.close(index, held.get(this.inputs[index]) ?? 0);
  }

  /** A contact that is closed at the start, and has been for so many samples. */
  close(index, samples) {
    const frames = Math.min(Math.round(samples / this.sizes.frame), LONGEST_HELD), frame = this.player.frame() >>> 0;
    if (frames === 0) return this.note(frame, PRESS, index);
    this.player.held(index, frames);
    return this.note(frame, HELD, index, frames);
  }

  /** Edges that came just before a table, without which a tap would be lost. What had been held and is let go is open already. */
  unplayed() {
    const edges = this.events.filter(({ kind, frame }) => kind <= RELEASE && frame === undefined);
    return edges.filter(({ kind, index }, at) => kind === PRESS || edges.slice(0, at).some((edge) => edge.index === index));
  }

  /** A meter for what plays now, on which the level falls from where it was. */
  successor(meters) {
    const meter = new Meter(meters);
    meter.square = this.meter?.square ?? 0;
    return meter;
  }

  note(frame, kind, index, value = 0) {
    this.taken.push({ frame, kind, index, value });
  }


  /** A player powers up at full volume and goes to another in steps: these are played unheard. */
  settle(volume) {
    if (volume === FULL_VOLUME) return;
    this.note(0, VOLUME, 0, volume);
    this.player.volume(volume);
    for (let left = Math.ceil((FULL_VOLUME - volume) / VOLUME_STEP); left > 0; left--) {
      this.contacts(0, 0);
      this.player.play(1);
    }
  }

  contacts(closed, struck) {
    new Uint32Array(this.memory, this.player.contacts(), 2).set([closed, struck]);
  }

  /** What is due at a frame. Of one contact a frame takes a press and its release, but nothing after a release: that waits for the next. */
  due(frame) {
    let struck = 0, released = 0;
    const later = [];
    for (const event of this.events) {
      const bit = 1 << event.index;
      if (event.frame > frame || (event.kind <= RELEASE && released & bit)) {
        later.push(event);
        continue;
      }
      this.note(frame, event.kind, event.index, event.value);
      if (event.kind === PRESS) {
        this.closed |= bit;
        struck |= bit;
      } else if (event.kind === RELEASE) {
        this.closed &= ~bit;
        released |= bit;
      } else if (event.kind === SELECT) {
        this.player.select(event.index, event.value);
      } else if (event.kind === VOLUME) {
        this.player.volume(event.value);
      }
    }
    this.events = later;
    return struck;
  }

  /** One frame: its samples, -1..1; its duties go into the report. */
  frame() {
    const { player } = this;
    const struck = this.events.length ? this.due(player.frame() >>> 0) : 0;
    this.contacts(this.closed >>> 0, (this.closed | struck) >>> 0);
    player.play(1);
    const duties = new Uint16Array(this.memory, player.duties(), this.sizes.channels);
    for (let channel = 0; channel < duties.length; channel++) this.light[channel] += duties[channel];
    this.frames += 1;
    const samples = new Int16Array(this.memory, player.samples(), this.sizes.frame);
    this.meter?.follow(samples, duties, this.sizes.full);
    return Float32Array.from(samples, (sample) => sample / 32768);
  }

  fill(output) {
    let filled = 0;
    while (filled < output.length) {
      if (this.kept.length === 0) this.kept = this.frame();
      const part = this.kept.subarray(0, output.length - filled);
      output.set(part, filled);
      filled += part.length;
      this.kept = this.kept.subarray(part.length);
    }
  }

  /** From the sound that was cut to the new one. */
  addRamp(output) {
    const length = Math.round(CUT_RAMP_S * sampleRate);
    for (let at = 0; at < output.length && this.ramp > 0; at++) {
      this.ramp -= 1;
      output[at] += (this.rampFrom - output[at]) * this.ramp / length;
    }
  }

  process(inputs, [[output]]) {
    if (this.playing && this.expected >= 0 && currentFrame !== this.expected) this.gaps += 1;
    this.expected = currentFrame + output.length;
    if (!this.playing) return true;
    this.fill(output);
    if (this.ramp > 0) this.addRamp(output);
    this.last = output[output.length - 1];
    for (const sample of output) {
      if (sample < this.low) this.low = sample;
      if (sample > this.high) this.high = sample;
    }
    this.unreported += output.length;
    if (this.unreported >= REPORT_S * sampleRate) this.report();
    return true;
  }

  clearReport() {
    this.light = new Float32Array(this.sizes.channels);
    this.frames = this.unreported = this.low = this.high = 0;
  }

  takeTrace() {
    const count = Math.min(this.player.take_trace(), this.player.trace_room());
    const view = new DataView(this.memory, this.player.trace(), 8 * count);
    return Array.from({ length: count }, (_, at) => ({
      frame: view.getUint32(8 * at, true), kind: view.getUint8(8 * at + 4), index: view.getUint8(8 * at + 5), value: view.getUint16(8 * at + 6, true),
    }));
  }

  /** shares: of each channel, the mean share of full duty since the last report, 0..1. low, high: of the samples. taken: presses, by their frames. */
  report() {
    if (!this.playing || this.frames === 0) return;
    const shares = this.light.map((sum) => sum / this.frames / this.sizes.full);
    this.port.postMessage({
      shares, low: this.low, high: this.high, trace: this.takeTrace(), frame: this.player.frame() >>> 0, samples: this.unreported,
      saturated: this.player.saturated(), gaps: this.gaps, taken: this.taken, ...this.meter?.report(),
    });
    this.taken = [];
    this.clearReport();
  }
}

registerProcessor('board', Board);
