// The USB controller of the RP2040 as a device, and the wire to it, transaction by transaction. It takes the place of rp2040js's own,
// which hands buffers over without asking for address, endpoint, kind of DATA, STALL or NAK, and delivers what is sent at once.
// Source: RP2040 data sheet, 4.1.2.5 and 4.1.2.6; what it leaves open is said where it is decided.
import { createRequire } from 'node:module';

const { BasePeripheral } = createRequire(process.env.NODE_MODULES_OF ?? import.meta.url)('rp2040js');

const IRQ = 5;
const RESETS = 0x4000c, RESET_BIT = 1 << 24;
const ADDRESS = 0x00, MAIN = 0x40, LINE = 0x4c, EVENTS = 0x50, FINISHED = 0x58, STALL_ARM = 0x68, PADS = 0x74, POWER = 0x78;
const ENABLED = 0x90, FORCED = 0x94, PENDING = 0x98;
const SUSPENDED = 1 << 4, RESUME = 1 << 11, SETUP = 1 << 17, RESET = 1 << 19, OVERFLOW = 1 << 26, SEQUENCE = 1 << 31;
const INTERRUPT_OF = [[RESET, 12], [SUSPENDED, 14], [RESUME, 15], [SETUP, 16], [OVERFLOW, 7], [SEQUENCE, 5]];
const AVAILABLE = 1 << 10, STALL = 1 << 11, DATA1 = 1 << 13, FULL = 1 << 15, LENGTH = 0x3ff;
const ENDPOINT_ON = 1 << 31, EACH_BUFFER = 1 << 29, PULL_UP = 1 << 16;
const BUFFERS = 0x80, BUFFERS_END = 0x100;
const SETTLING_CYCLES = 3; // a period of 48 MHz in cycles of 125 MHz is 2.6

export class UsbController extends BasePeripheral {
  /** Takes the controller's place in a chip that has just been switched on. Rules that the firmware breaks go to chip.broken. */
  constructor(chip) {
    super(chip.mcu, 'USB');
    this.chip = chip;
    this.memory = chip.mcu.usbDPRAM.fill(0xa5); // what is in it after power-up is chance
    this.view = chip.mcu.usbDPRAMView;
    this.buffers = new Uint32Array(32); // as they were, to see what a write has changed
    this.changed = new Float64Array(32).fill(-Infinity); // when, in cycles
    this.#clear();
    chip.mcu.usbCtrl = this;
    chip.mcu.peripherals[0x50110] = this;
    const resets = chip.mcu.peripherals[RESETS];
    const write = resets.writeUint32.bind(resets);
    resets.writeUint32 = (offset, value) => {
      write(offset, value);
      this.held = (resets.reset & RESET_BIT) !== 0;
      if (this.held) {
        this.#clear();
      }
    };
  }

  #clear() {
    this.registers = new Map();
    this.events = 0;
    this.finished = 0;
    this.stallArm = 0;
    this.#interrupt();
  }

  // The processor's side.

  readUint32(offset) {
    return { [EVENTS]: this.events, [FINISHED]: this.finished, [STALL_ARM]: this.stallArm, [PENDING]: this.pending }[offset] ?? this.#register(offset);
  }

  writeUint32(offset, value) {
    if (this.held) {
      this.chip.broken.add('the USB controller is written to while it is held in reset');
    } else if (offset === EVENTS) {
      this.events &= ~this.rawWriteValue;
    } else if (offset === FINISHED) {
      this.finished &= ~this.rawWriteValue;
    } else if (offset === STALL_ARM) {
      this.stallArm = value & 3;
    } else {
      this.registers.set(offset, value);
    }
    this.#interrupt();
  }

  /** A word of the controller's memory has been written; AVAILABLE must come last (4.1.2.5.3). */
  DPRAMUpdated(offset, value) {
    if (offset < BUFFERS || offset >= BUFFERS_END) {
      return;
    }
    const place = (offset - BUFFERS) >> 2;
    const before = this.buffers[place];
    const offered = (value & AVAILABLE) !== 0;
    const rest = DATA1 | FULL | LENGTH;
    if (offered && (((before ^ value) & rest) !== 0 || this.chip.cycles - this.changed[place] < SETTLING_CYCLES)) {
      this.chip.broken.add(`USB place ${place} is AVAILABLE before the rest of its buffer is settled`);
    }
    if (offered && place < 2 && (this.events & SETUP) !== 0) {
      this.chip.broken.add('endpoint 0 goes on with a transfer though there is a SETUP');
    }
    if (offered && (value & LENGTH) > 64) {
      this.chip.broken.add(`USB place ${place} has a buffer of more than 64 bytes`);
    }
    if (((before ^ value) & rest) !== 0) {
      this.changed[place] = this.chip.cycles;
    }
    this.buffers[place] = value;
  }

  #register(offset) {
    return this.registers.get(offset) ?? 0;
  }

  get pending() {
    const raw = INTERRUPT_OF.reduce((sum, [event, bit]) => sum | (this.events & event ? 1 << bit : 0), this.finished ? 1 << 4 : 0);
    return (raw & this.#register(ENABLED)) | this.#register(FORCED);
  }

  #interrupt() {
    this.chip.mcu.setInterrupt(IRQ, this.pending !== 0);
  }

  #raise(event) {
    this.events |= event;
    this.#interrupt();
  }

  // The wire's side. What is answered: 'ack', 'nak', 'stall', 'none' (nobody is there), or data.

  /** Whether a computer sees a device: the pull-up on D+. */
  get attached() {
    return (this.#register(MAIN) & 3) === 1 && (this.#register(LINE) & PULL_UP) !== 0 && (this.#register(PADS) & 9) === 9 && (this.#register(POWER) & 12) === 12;
  }

  reset() {
    this.#raise(RESET);
  }

  /** No frame has begun for 3 ms. */
  suspend() {
    this.#raise(SUSPENDED);
  }

  resume() {
    this.#raise(RESUME);
  }

  /** SETUP is always taken, and ends what STALL endpoint 0 was armed with. Buffers stay as they are: as reported of the chip. */
  setup(address, bytes) {
    if (!this.#hears(address, 0)) {
      return 'none';
    }
    this.memory.set(bytes, 0);
    this.stallArm = 0;
    this.#raise(SETUP);
    return 'ack';
  }

  /** IN. lost: the computer does not get the packet whole and so does not acknowledge it. Data is {data1, bytes}. */
  in(address, endpoint, lost = false) {
    const place = 2 * endpoint;
    if (!this.#hears(address, place)) {
      return 'none';
    }
    const buffer = this.#buffer(place);
    if (this.#stalls(place, buffer)) {
      return 'stall';
    }
    if ((buffer & AVAILABLE) === 0 || (buffer & FULL) === 0) {
      return 'nak';
    }
    const at = this.#dataAt(place);
    const bytes = this.memory.slice(at, at + (buffer & LENGTH));
    if (!lost) {
      this.#finish(place, buffer & ~(AVAILABLE | FULL));
    }
    return { data1: (buffer & DATA1) !== 0, bytes };
  }

  /** OUT. A packet of the wrong kind of DATA is one that came before: it is acknowledged and forgotten (USB 2.0, 8.6.4; the data sheet
   *  does not say whether the chip's controller does so by itself: taken for granted here). */
  out(address, endpoint, data1, bytes) {
    const place = 2 * endpoint + 1;
    if (!this.#hears(address, place)) {
      return 'none';
    }
    const buffer = this.#buffer(place);
    if (this.#stalls(place, buffer)) {
      return 'stall';
    }
    if ((buffer & AVAILABLE) === 0 || (buffer & FULL) !== 0) {
      return 'nak';
    }
    if (((buffer & DATA1) !== 0) !== data1) {
      this.#raise(SEQUENCE);
      return 'ack';
    }
    if (bytes.length > (buffer & LENGTH)) {
      this.#raise(OVERFLOW);
      return 'none';
    }
    this.memory.set(bytes, this.#dataAt(place));
    this.#finish(place, (buffer & ~(AVAILABLE | LENGTH)) | FULL | bytes.length);
    return 'ack';
  }

  #hears(address, place) {
    const isOn = place < 2 || (this.view.getUint32(4 * place, true) & ENDPOINT_ON) !== 0;
    return this.attached && address === (this.#register(ADDRESS) & 0x7f) && isOn;
  }

  #buffer(place) {
    return this.view.getUint32(BUFFERS + 4 * place, true);
  }

  #stalls(place, buffer) {
    return (buffer & STALL) !== 0 && (place > 1 || (this.stallArm & (1 << place)) !== 0);
  }

  #dataAt(place) {
    return place < 2 ? 0x100 : this.view.getUint32(4 * place, true) & 0xffc0;
  }

  #finish(place, buffer) {
    this.view.setUint32(BUFFERS + 4 * place, buffer, true);
    this.buffers[place] = buffer;
    const told = place < 2 ? this.#register(LINE) : this.view.getUint32(4 * place, true);
    if ((told & EACH_BUFFER) !== 0) {
      this.finished |= 1 << place;
    }
    this.#interrupt();
  }
}
