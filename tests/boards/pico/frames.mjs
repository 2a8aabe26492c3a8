// What the player has computed: samples and duties, read from RAM whenever fxp_frame returns. Nothing of the board's program is changed for it.
import { createHash } from 'node:crypto';

const RAM = 0x20000000;
const CHANNELS = 0, SAMPLES_PER_FRAME = 6; // in struct fxp (fxp.h)

class Run {
  frames = 0;
  samples = createHash('sha256');
  duties = createHash('sha256');

  add(samples, duties) {
    this.frames++;
    this.samples.update(samples);
    this.duties.update(duties);
  }

  /** SHA-256 as in vectors (firmware_spec/vectors/README.md). */
  told() {
    return { frames: this.frames, samples: this.samples.digest('hex'), duties: this.duties.digest('hex') };
  }
}

export class Frames {
  /** chip: a Chip; opens, plays: addresses of fxp_open_summed and fxp_frame. */
  constructor(chip, opens, plays) {
    this.run = new Run();
    chip.onInstruction = (at) => {
      if (at === opens) {
        this.ended = this.run;
        this.run = new Run();
      } else if (at === plays) {
        this.call = this.#called(chip.mcu);
      } else if (this.call && at === this.call.returnsTo) {
        this.#returned(chip.mcu);
      }
    };
  }

  /** fxp_frame(player, closed, struck, samples, duties): four arguments are in registers, the fifth on the stack. */
  #called({ core, sram }) {
    const memory = new DataView(sram.buffer);
    const place = (address) => (address >>> 0) - RAM;
    const [player, samples] = [core.registers[0], core.registers[3]].map(place);
    const duties = place(memory.getUint32(place(core.SP), true));
    return {
      returnsTo: (core.LR & ~1) >>> 0,
      samples: [samples, 2 * memory.getUint16(player + SAMPLES_PER_FRAME, true)],
      duties: [duties, 2 * memory.getUint8(player + CHANNELS)],
    };
  }

  #returned({ sram }) {
    const [samples, duties] = [this.call.samples, this.call.duties].map(([begin, count]) => sram.subarray(begin, begin + count));
    this.run.add(samples, duties);
    this.call = undefined;
  }
}
