// What the pins of a chip say, by what is joined to them: rows of the section of joints of a table. Times are cycles since power-up.
import { CYCLE_NS } from './chip.mjs';

const LIGHTS = 0, SHIFT_REGISTERS = 1, DRIVERS = 2, I2S = 8, PWM = 9, AMPLIFIER = 10;
const HIGH = 1;

/** Calls back with the level of a pin whenever it changes; what nobody drives is pulled by the wire. */
function listen(chip, pin, onLevel, undriven = 0) {
  let before = undriven;
  chip.mcu.gpio[pin].addListener((state) => {
    const level = state > HIGH ? undriven : state;
    if (level !== before) {
      before = level;
      onLevel(level, Math.round(chip.mcu.clock.nanos / CYCLE_NS) + chip.begun);
    }
  });
}

/** Edges of pins: rows of cycle, pin, level. */
class Edges {
  constructor(chip, pins) {
    this.edges = [];
    pins.forEach((pin) => listen(chip, pin, (level, at) => this.edges.push([at, pin, level])));
  }

  result() {
    return this.edges;
  }
}

/** A chain of shift registers with latches, as both kinds of chips have it: a bit is taken when the clock rises, all are shown when the latch
 *  rises; the bit that was taken last is the first one's lowest. */
class Chain {
  constructor(chip, [use, , pin, count]) {
    const length = use === SHIFT_REGISTERS ? 8 * Math.ceil(count / 8) : 288 * Math.ceil(count / 24);
    this.use = use;
    this.bits = new Array(length).fill(1); // of no use: what is there at power-up
    this.shown = []; // rows of cycle and outputs
    this.blanks = []; // rows of cycle and level
    this.shortest = { setup: Infinity, high: Infinity, low: Infinity, latch: Infinity, latchSetup: Infinity };
    let data = 0, dataAt = 0, clockAt = 0, roseAt = 0, latchAt = 0;
    listen(chip, pin, (level, at) => ([data, dataAt] = [level, at]));
    listen(chip, pin + 1, (level, at) => {
      this.#note(level ? 'low' : 'high', at - clockAt);
      clockAt = at;
      if (level) {
        this.#note('setup', at - dataAt);
        roseAt = at;
        this.bits.push(data);
        this.bits.shift();
      }
    });
    listen(chip, pin + 2, (level, at) => {
      if (level) {
        this.#note('latchSetup', at - roseAt);
        this.shown.push([at, this.#outputs()]);
      } else {
        this.#note('latch', at - latchAt);
      }
      latchAt = at;
    });
    listen(chip, pin + 3, (level, at) => this.blanks.push([at, level]), 1);
  }

  #note(what, cycles) {
    if (cycles > 0) {
      this.shortest[what] = Math.min(this.shortest[what], cycles);
    }
  }

  #outputs() {
    const lowestFirst = this.bits.slice().reverse();
    if (this.use === SHIFT_REGISTERS) {
      return lowestFirst;
    }
    const words = [];
    for (let at = 0; at < lowestFirst.length; at += 12) {
      words.push(lowestFirst.slice(at, at + 12).reduce((word, bit, place) => word | (bit << place), 0));
    }
    return words;
  }

  result() {
    return { shown: this.shown, blanks: this.blanks, shortest: this.shortest };
  }
}

/** Words of I2S: a bit when its clock rises; the word clock changes with the last bit of a word, and is low while the left one comes. */
class Words {
  constructor(chip, [, , pin]) {
    this.words = []; // rows of cycle, channel, bits, value
    let data = 0, channel = 0, before = 0, word = [];
    listen(chip, pin, (level) => (data = level));
    listen(chip, pin + 2, (level) => (channel = level));
    listen(chip, pin + 1, (level, at) => {
      if (!level) {
        return;
      }
      word.push(data);
      if (channel !== before) {
        this.words.push([at, before, word.length, parseInt(word.join(''), 2)]);
        word = [];
      }
      before = channel;
    });
  }

  result() {
    return this.words;
  }
}

const decoders = {
  [LIGHTS]: (chip, [, , pin, count]) => new Edges(chip, Array.from({ length: count }, (_, i) => pin + i)),
  [SHIFT_REGISTERS]: (chip, joint) => new Chain(chip, joint),
  [DRIVERS]: (chip, joint) => new Chain(chip, joint),
  [I2S]: (chip, joint) => new Words(chip, joint),
  [PWM]: (chip, [, , pin]) => new Edges(chip, [pin]),
  [AMPLIFIER]: (chip, [, , pin]) => new Edges(chip, [pin]),
};

/** Listens to a chip that has just been switched on; a function that tells what each joint has put out so far, null where it puts out nothing. */
export function listenTo(chip, joints) {
  const listeners = joints.map((joint) => decoders[joint[0]]?.(chip, joint));
  return () => listeners.map((listener) => listener?.result() ?? null);
}
