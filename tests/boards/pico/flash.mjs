// A serial flash chip of 2 MB behind the RP2040's SSI: its commands, the time that they take, and cuts of power in the middle of
// one. Commands and typical times: data sheet of the W25Q16JV, from memory.

const PAGE = 256, SECTOR = 4096, BLOCK = 65536;
export const FLASH_BYTES = 2 * 1024 * 1024;
const MS = 1e6; // in ns
const TIMES = { 0x02: 0.4 * MS, 0x20: 45 * MS, 0xd8: 150 * MS };
const SERIAL_NUMBER = [0xe6, 0x60, 0x3c, 0x59, 0x07, 0x1b, 0x2a, 0x94];

/** Ways in which a cut leaves a byte that was `old` and was to become `wanted`. share: how far in the area it is, 0 to 1. */
export const TEARS = {
  untouched: (old) => old,
  first: (old, wanted, share) => (share < 0.5 ? wanted : old),
  last: (old, wanted, share) => (share < 0.5 ? old : wanted),
  bits: (old, wanted, share, random) => (random() & old) | (~random() & wanted & old) | (wanted & ~old & random()),
  anything: (old, wanted, share, random) => [old, wanted, random()][random() % 3],
  done: (old, wanted) => wanted,
};

function randomBytes(seed) {
  let state = seed >>> 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 11) & 255;
  };
}

export class FlashChip {
  /** now: gives the time in ns; report: takes a rule that the firmware broke; cut: {at, tear, seed, done}: the command that is cut,
   *  counted from 1, how (TEARS), and what is called then. */
  constructor(memory, now, report, cut) {
    this.memory = memory;
    this.now = now;
    this.report = report;
    this.cut = cut;
    this.commands = 0; // erasures and writes so far
    this.busyUntil = 0;
    this.serialNumber = SERIAL_NUMBER;
    this.changed = new Set(); // sectors since the cache was last flushed
    this.writable = false;
    this.select(false);
  }

  get busy() {
    return this.now() < this.busyUntil;
  }

  select(selected) {
    if (this.selected && !selected) {
      this.#finish();
    }
    this.selected = selected;
    this.sent = [];
  }

  /** One byte each way. */
  shift(byte) {
    if (!this.selected) {
      return 0xff;
    }
    this.sent.push(byte);
    const place = this.sent.length - 1;
    const command = this.sent[0];
    if (command === 0x05 && place > 0) {
      return (this.busy ? 1 : 0) | (this.writable ? 2 : 0);
    }
    if (this.busy) {
      if (command !== 0x05) {
        this.report(`command ${command.toString(16)} while the flash chip is busy`);
      }
      return 0xff;
    }
    return this.#answer(command, place);
  }

  #answer(command, place) {
    if (command === 0x03 && place >= 4) {
      return this.memory[(this.#address() + place - 4) % FLASH_BYTES];
    }
    if (command === 0x4b && place >= 5) {
      return this.serialNumber[(place - 5) % 8];
    }
    if (command === 0x9f && place >= 1) {
      return [0xef, 0x40, 0x15][(place - 1) % 3];
    }
    return 0xff;
  }

  #address() {
    return ((this.sent[1] << 16) | (this.sent[2] << 8) | this.sent[3]) % FLASH_BYTES;
  }

  #finish() {
    const command = this.sent[0];
    if (command === undefined || this.busy) {
      return;
    }
    if (command === 0x06 || command === 0x04) {
      this.writable = command === 0x06;
    } else if (command in TIMES && this.sent.length >= 4) {
      this.#change(command);
    }
  }

  #change(command) {
    if (!this.writable) {
      this.report(`command ${command.toString(16)} without permission to write`);
      return;
    }
    const bytes = command === 0x02 ? PAGE : command === 0x20 ? SECTOR : BLOCK;
    const begin = this.#address() - (this.#address() % bytes);
    const wanted = command === 0x02 ? this.#programmed(begin) : new Uint8Array(bytes).fill(0xff);
    this.writable = false;
    this.commands++;
    if (this.cut && this.commands === this.cut.at) {
      this.#tear(command, begin, wanted);
      return;
    }
    this.memory.set(wanted, begin);
    this.changed.add(Math.floor(begin / SECTOR));
    this.busyUntil = this.now() + TIMES[command];
  }

  /** What a page becomes: bytes wrap round within it, and bits only go from 1 to 0. */
  #programmed(begin) {
    const page = this.memory.slice(begin, begin + PAGE);
    this.sent.slice(4).forEach((byte, i) => {
      const at = (this.#address() + i) % PAGE;
      if (byte !== 0xff && page[at] !== 0xff) {
        this.report(`a write to ${(begin + at).toString(16)}, which is not erased`);
      }
      page[at] &= byte;
    });
    return page;
  }

  /** A write leaves alone what it was not to change; an erasure may leave anything anywhere in its sector. That neither harms what lies
   *  beside is an assumption: data sheets say that part of a page can be written without effect on its other bytes (W25Q16BV, 11.2.17), but not
   *  what a failing power does meanwhile (firmware_spec/ports/pico/README.md). */
  #tear(command, begin, wanted) {
    const random = randomBytes(this.cut.seed);
    const tear = TEARS[this.cut.tear];
    wanted.forEach((byte, i) => {
      const old = this.memory[begin + i];
      this.memory[begin + i] = command === 0x02 && old === byte ? old : tear(old, byte, i / wanted.length, random);
    });
    this.cut.done();
  }
}

/** The SSI and the chip select, as far as commands in frames of 8 bits and reading in place by command 03 need them. */
export class FlashPort {
  /** flash: a FlashChip; cycleNs: of the system clock */
  constructor(flash, cycleNs) {
    this.flash = flash;
    this.cycleNs = cycleNs;
    this.registers = new Map();
    this.received = []; // [byte, when it is there in ns]
    this.selectRegisters = new Map();
  }

  get #enabled() {
    return (this.registers.get(0x08) ?? 1) === 1;
  }

  /** Whether memory can be read in place. */
  get readable() {
    const ctrl = this.registers.get(0x00) ?? 0;
    const isEepromRead = (ctrl & 0x7f0300) === 0x1f0300; // plain SPI, frames of 32 bits, reads after a command
    const hasCommand = (this.registers.get(0xf4) ?? 0) === ((0x03 << 24) | (2 << 8) | (6 << 2)); // 03, 24 bits of address
    return this.#enabled && isEepromRead && hasCommand && !this.flash.selected && !this.flash.busy;
  }

  read(offset) {
    const now = this.flash.now();
    const there = this.received.filter(([, ready]) => ready <= now).length;
    if (offset === 0x60) {
      return there > 0 ? this.received.shift()[0] : 0;
    }
    if (offset === 0x24) {
      return there;
    }
    if (offset === 0x20) {
      return this.received.length - there;
    }
    if (offset === 0x28) {
      const waiting = this.received.length - there;
      return (waiting > 0 ? 1 : 0) | (waiting < 16 ? 2 : 0) | (waiting === 0 ? 4 : 0) | (there > 0 ? 8 : 0);
    }
    return this.registers.get(offset) ?? 0;
  }

  write(offset, value) {
    if (offset !== 0x60) {
      this.registers.set(offset, value);
      if (offset === 0x08) {
        this.received = [];
      }
      return;
    }
    if (!this.#enabled || ((this.registers.get(0x00) ?? 0x070000) & 0x1f0300) !== 0x070000) {
      this.flash.report('a byte for the flash chip without frames of 8 bits');
      return;
    }
    if (this.received.length >= 32) {
      this.flash.report('more than the 16 bytes on their way that the SSI can hold');
    }
    const last = this.received.length > 0 ? this.received[this.received.length - 1][1] : 0;
    const perByte = 8 * Math.max(this.registers.get(0x14) ?? 2, 2) * this.cycleNs;
    this.received.push([this.flash.shift(value & 255), Math.max(this.flash.now(), last) + perByte]);
  }

  /** IO_QSPI: the override of SS decides. */
  writeSelect(offset, value) {
    this.selectRegisters.set(offset, value);
    if (offset === 0x0c) {
      this.flash.select(((value >> 8) & 3) === 2);
    }
  }

  readSelect(offset) {
    return this.selectRegisters.get(offset) ?? 0;
  }
}
