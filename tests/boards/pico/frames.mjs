// What the player has computed: samples and duties, read from RAM whenever fxp_frame returns, and what that took. Nothing of the board's
// program is changed for it.
import { createHash } from 'node:crypto';

const RAM = 0x20000000;
const CHANNELS = 0, SAMPLES_PER_FRAME = 6; // in struct fxp (fxp.h)
const FRAME_HEARD = 12; // interrupt DMA_1: sound.c has it come whenever a frame has been heard to its end
const BOTH_BUFFERS = 2; // are free when a run begins, so its first frames follow each other at once

class Run {
  samples = createHash('sha256');
  duties = createHash('sha256');
  calls = []; // of fxp_frame: at which cycle, cycles slept and frames heard until then, and cycles that it took

  /** Hashes are SHA-256 as in vectors (firmware_spec/vectors/README.md). late: frames that were not there when the one before had been heard.
   *  loads: share of the time between the begins of two frames in which the processor did not sleep. longest: cycles of a call. */
  told() {
    const steady = this.calls.slice(BOTH_BUFFERS);
    const [first, last] = [steady[0], steady[steady.length - 1]];
    return {
      frames: this.calls.length,
      samples: this.samples.digest('hex'),
      duties: this.duties.digest('hex'),
      late: steady.length && last.heard - first.heard - (steady.length - 1),
      loads: steady.slice(1).map((call, i) => 1 - (call.slept - steady[i].slept) / (call.at - steady[i].at)),
      longest: steady.reduce((most, call) => Math.max(most, call.took), 0),
    };
  }
}

export class Frames {
  /** chip: a Chip; opens, plays: addresses of fxp_open_summed and fxp_frame. */
  constructor(chip, opens, plays) {
    this.chip = chip;
    this.run = new Run();
    chip.onInstruction = (at) => {
      if (at === opens) {
        this.ended = this.run;
        this.run = new Run();
      } else if (at === plays) {
        this.call = this.#called();
      } else if (at === this.call?.returnsTo) {
        this.#returned();
      }
    };
  }

  /** fxp_frame(player, closed, struck, samples, duties): four arguments are in registers, the fifth on the stack. */
  #called() {
    const { core, sram } = this.chip.mcu;
    const memory = new DataView(sram.buffer);
    const place = (address) => (address >>> 0) - RAM;
    const [player, samples] = [core.registers[0], core.registers[3]].map(place);
    const duties = place(memory.getUint32(place(core.SP), true));
    return {
      at: this.chip.cycles,
      slept: this.chip.slept,
      heard: this.chip.interrupts[FRAME_HEARD],
      returnsTo: (core.LR & ~1) >>> 0,
      samples: [samples, samples + 2 * memory.getUint16(player + SAMPLES_PER_FRAME, true)],
      duties: [duties, duties + 2 * memory.getUint8(player + CHANNELS)],
    };
  }

  #returned() {
    const { at, slept, heard, samples, duties } = this.call;
    this.run.samples.update(this.chip.mcu.sram.subarray(...samples));
    this.run.duties.update(this.chip.mcu.sram.subarray(...duties));
    this.run.calls.push({ at, slept, heard, took: this.chip.cycles - at });
    this.call = undefined;
  }
}
