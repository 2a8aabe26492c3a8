// An RP2040 with its flash chip: rp2040js (npm, MIT), with what it lacks or has wrong for this port mended here. It starts as the
// chip does, at the reset vector of the boot ROM. Time is counted in cycles of 125 MHz.
import { createRequire } from 'node:module';
import { FLASH_BYTES, FlashChip, FlashPort } from './flash.mjs';
import { mendPulses } from './pulses.mjs';

const { RP2040 } = createRequire(process.env.NODE_MODULES_OF ?? import.meta.url)('rp2040js');

export const HZ = 125e6;
export const CYCLE_NS = 8;
const RAM = 0x20000000, RAM_BYTES = 264 * 1024;
const XIP = 0x10000000, XIP_END = 0x14000000;
const SECTOR = 4096;
const PAD_AT_RESET = 0x56; // 2.19.6.3: input on, pull-down on, Schmitt trigger, 4 mA
const FIRST_ANALOGUE_PIN = 26, ADC_MOST = 4095, SUPPLY_V = 3.3;
const FOREVER = 63; // a DMA channel that nothing paces
const QUIET = { debug() {}, info() {}, warn() {}, error() {} };

export class Chip {
  /** rom: bytes of the boot ROM; flash: bytes of the flash chip, at most 2 MB, which stay the caller's; cut: as of FlashChip.
   *  onPower: called with this after each reset, to listen to pins and the like, since all of `mcu` is new then. `onInstruction`, if set, is
   *  called with the address of each before it is carried out. */
  constructor({ rom, flash, cut, onPower = () => {} }) {
    this.rom = new Uint32Array(rom.buffer.slice(rom.byteOffset, rom.byteOffset + rom.length));
    this.broken = new Set(); // rules that the firmware broke, in words
    this.cycles = 0; // since the first power-up
    this.slept = 0; // of these, in WFI
    this.resets = 0;
    this.interrupts = new Uint32Array(32); // how often each has come
    this.fetchedInPlace = 0; // instructions that were run in flash memory
    this.onPower = onPower;
    this.memory = new Uint8Array(FLASH_BYTES).fill(0xff);
    this.memory.set(flash);
    this.flash = new FlashChip(this.memory, () => this.cycles * CYCLE_NS, (rule) => this.broken.add(rule), cut);
    this.#power(new Uint32Array(8));
  }

  /** Everything anew but the flash chip and the scratch registers of the watchdog. */
  #power(scratch) {
    const mcu = new RP2040();
    this.mcu = mcu;
    this.port = new FlashPort(this.flash, CYCLE_NS);
    this.machines = []; // that run, and when each is due
    this.begun = this.cycles; // the clock of `mcu` begins at 0
    mcu.logger = QUIET;
    mcu.loadBootrom(this.rom);
    mcu.flash = this.memory;
    mcu.flashView = new DataView(this.memory.buffer);
    mcu.peripherals[0x40058].scratchData = scratch;
    mcu.peripherals[0x40058].onWatchdogTrigger = () => {
      this.restarts = true;
      mcu.peripherals[0x40058].timer.enable = false; // or rp2040js may call this again and again without time going on
    };
    mcu.gpio.forEach((pin) => (pin.padValue = PAD_AT_RESET));
    mcu.qspi.forEach((pin) => {
      pin.padValue = PAD_AT_RESET;
      pin.setInputValue(true); // SS is pulled up: nobody holds the BOOTSEL button
    });
    this.#mendMemory();
    this.#mendSleep();
    this.#mendDma();
    this.#mendPeripherals();
    mendPulses(mcu, CYCLE_NS);
    this.restarts = false;
    this.onPower(this);
  }

  /** RAM first, where all of the firmware runs and what it works on is, and flash memory only while it can be read. */
  #mendMemory() {
    const { mcu } = this;
    const halves = new Uint16Array(mcu.sram.buffer);
    const words = new Uint32Array(mcu.sram.buffer);
    const [read8, read16, read32] = [mcu.readUint8, mcu.readUint16, mcu.readUint32].map((read) => read.bind(mcu));
    mcu.readUint8 = (address) => {
      const at = (address >>> 0) - RAM;
      return at >= 0 && at < RAM_BYTES ? mcu.sram[at] : this.#inPlace(address) ? this.memory[this.#offset(address)] : read8(address);
    };
    mcu.readUint16 = (address) => {
      const at = (address >>> 0) - RAM;
      if (at >= 0 && at < RAM_BYTES) {
        return halves[at >> 1];
      }
      return this.#inPlace(address) ? mcu.flashView.getUint16(this.#offset(address), true) : read16(address);
    };
    mcu.readUint32 = (address) => {
      const at = (address >>> 0) - RAM;
      if (at >= 0 && at < RAM_BYTES && (at & 3) === 0) {
        return words[at >> 2];
      }
      return this.#inPlace(address) ? mcu.flashView.getUint32(this.#offset(address), true) : read32(address);
    };
    const [write16, write32] = [mcu.writeUint16, mcu.writeUint32].map((write) => write.bind(mcu));
    mcu.writeUint16 = (address, value) => {
      const at = (address >>> 0) - RAM;
      if (at >= 0 && at < RAM_BYTES && (at & 1) === 0) {
        halves[at >> 1] = value;
      } else {
        write16(address, value);
      }
    };
    mcu.writeUint32 = (address, value) => {
      const at = (address >>> 0) - RAM;
      if (at >= 0 && at < RAM_BYTES && (at & 3) === 0) {
        words[at >> 2] = value;
      } else {
        write32(address, value);
      }
    };
  }

  #offset(address) {
    return address & (FLASH_BYTES - 1) & 0xffffff;
  }

  #inPlace(address) {
    if (address < XIP || address >= XIP_END) {
      return false;
    }
    if (address === (this.mcu.core.PC & ~1)) {
      this.fetchedInPlace++;
    }
    const where = `${address.toString(16)} is read by ${this.mcu.core.PC.toString(16)}`;
    if (!this.port.readable) {
      this.broken.add(`${where} while the flash chip cannot be read in place`);
    } else if (address < XIP + 0x2000000 && this.flash.changed.has(Math.floor(this.#offset(address) / SECTOR))) {
      this.broken.add(`${where} from the cache, which is older than flash memory`);
    }
    return true;
  }

  /** rp2040js takes an interrupt in WFI though interrupts are held back, and sleeps on one that is pending already. */
  #mendSleep() {
    const { core } = this.mcu;
    core.setInterrupt = (irq, value) => {
      const bit = 1 << irq;
      if (!value) {
        core.pendingInterrupts &= ~bit;
      } else if ((core.pendingInterrupts & bit) === 0) {
        core.pendingInterrupts |= bit;
        core.interruptsUpdated = true;
        this.interrupts[irq]++;
      }
    };
  }

  #sleeps() {
    const { core } = this.mcu;
    if (core.waiting && ((core.pendingInterrupts & core.enabledInterrupts) !== 0 || core.pendingSystick)) {
      core.waiting = false;
    }
    return core.waiting;
  }

  /** A transfer takes a cycle, a PWM wrap asks for one transfer, and a timer's fraction is not upside down. */
  #mendDma() {
    const { dma } = this.mcu;
    const setDREQ = dma.setDREQ.bind(dma);
    const isWrap = (request) => request >= 24 && request <= 31;
    dma.setDREQ = (request) => {
      if (!isWrap(request)) {
        setDREQ(request);
        return;
      }
      dma.channels
        .filter((channel) => channel.treq === request && channel.active)
        .forEach((channel) => channel.transferAlarm.schedule(CYCLE_NS));
    };
    dma.getTimer = (request) => {
      const fraction = request >= 59 && request <= 62 ? dma[`timer${request - 59}`] : 0;
      const [numerator, denominator] = [fraction >>> 16, fraction & 0xffff];
      return numerator === 0 ? 0 : ((denominator / numerator) * CYCLE_NS) / 1000;
    };
    for (const channel of dma.channels) {
      channel.scheduleTransfer = () => {
        if (dma.dreq[channel.treqValue] || channel.treqValue === FOREVER) {
          channel.transferAlarm.schedule(CYCLE_NS);
        } else if (dma.getTimer(channel.treqValue) > 0) {
          channel.transferAlarm.schedule(dma.getTimer(channel.treqValue) * 1000);
        }
      };
    }
  }

  #mendPeripherals() {
    const { peripherals, pio } = this.mcu;
    const [ssi, select] = [peripherals[0x18000], peripherals[0x40018]];
    ssi.readUint32 = (offset) => this.port.read(offset);
    ssi.writeUint32 = (offset, value) => this.port.write(offset, value);
    select.readUint32 = (offset) => this.port.readSelect(offset);
    select.writeUint32 = (offset, value) => this.port.writeSelect(offset, value);
    peripherals[0x14000] = Object.assign(Object.create(select), {
      readUint32: () => 3, // the cache is flushed, and empty
      writeUint32: (offset) => offset === 4 && this.flash.changed.clear(),
    });
    pio.forEach((block) => this.#mendPio(block));
    peripherals[0x40064].readUint32 = () => 0; // chip reset: nobody asked for one by the debugger
    peripherals[0x40064].writeUint32 = (offset, value) => offset === 4 && (this.brownOut = value);
    peripherals[0x4000c].readUint32 = (offset) => {
      const { reset } = peripherals[0x4000c];
      return offset === 8 ? ~reset & 0x1ffffff : offset === 0 ? reset : 0;
    };
  }

  /** It would run freely, by a timer of JavaScript; #advance keeps it in step. */
  #mendPio(block) {
    const write = block.writeUint32.bind(block);
    block.run = () => {};
    block.writeUint32 = (offset, value) => {
      write(offset, value);
      if (offset === 0) {
        this.#noteMachines(value >> 4, block);
      }
    };
  }

  /** Which machines run, and when each is due; those that are enabled or restarted just now at once. */
  #noteMachines(restarted, block) {
    const enabled = this.mcu.pio.flatMap(({ machines }) => machines.filter((machine) => machine.enabled));
    this.machines = enabled.map((machine) => {
      const known = this.machines.find((running) => running.machine === machine);
      const goesOn = known && !(machine.pio === block && (restarted >> machine.index) & 1);
      return goesOn ? known : { machine, due: this.cycles };
    });
  }

  /** What its converter finds at a pin from 26 on. */
  setVolts(pin, volts) {
    this.mcu.adc.channelValues[pin - FIRST_ANALOGUE_PIN] = Math.min(ADC_MOST, Math.floor((volts / SUPPLY_V) * (ADC_MOST + 1)));
  }

  /** Runs for so many cycles, or until `until` says so after an instruction or a sleep. */
  run(cycles, until = () => false) {
    const end = this.cycles + cycles;
    while (this.cycles < end && !until()) {
      if (this.#sleeps()) {
        this.#sleep(end);
      } else {
        this.onInstruction?.(this.mcu.core.PC);
        this.#advance(this.mcu.core.executeInstruction());
      }
      if (this.restarts) {
        this.resets++;
        this.#power(this.mcu.peripherals[0x40058].scratchData);
      }
    }
  }

  /** To the next thing that happens, by the clock or the PIO. */
  #sleep(end) {
    const cycles = Math.max(1, Math.min(this.#nextAlarm(), this.#pioDue(), end) - this.cycles);
    this.#advance(cycles);
    this.slept += cycles;
  }

  /** Time goes on, and with it the PIO, in step with the processor. */
  #advance(cycles) {
    const { clock } = this.mcu;
    const end = this.cycles + cycles;
    const alarm = clock.nextAlarm;
    if ((alarm === null || alarm.nanos > clock.nanosCounter + cycles * CYCLE_NS) && this.#pioDue() > end) {
      clock.nanosCounter += cycles * CYCLE_NS; // as `tick` does; nothing is due within most instructions
      this.cycles = end;
      return;
    }
    while (this.cycles < end) {
      const next = Math.max(this.cycles, Math.min(end, this.#nextAlarm(), this.#pioDue()));
      clock.tick((next - this.cycles) * CYCLE_NS);
      this.cycles = next;
      if (this.machines.length > 0) {
        this.#stepPio();
      }
    }
  }

  #nextAlarm() {
    const { clock } = this.mcu;
    return clock.nextAlarm === null ? Infinity : this.cycles + Math.ceil((clock.nextAlarm.nanos - clock.nanosCounter) / CYCLE_NS);
  }

  /** When the next state machine has something to do. */
  #pioDue() {
    let due = Infinity;
    for (const running of this.machines) {
      if (running.due < due && !starves(running.machine)) {
        due = running.due;
      }
    }
    return due;
  }

  #stepPio() {
    for (const running of this.machines) {
      const { machine } = running;
      if (running.due <= this.cycles && !starves(machine)) {
        const divider = (machine.clockDivInt || 65536) + machine.clockDivFrac / 256;
        running.due = this.cycles + divider * stepMachine(machine);
        machine.pio.checkChangedPins();
      }
    }
  }
}

const OUT_WAITS = 5, TX_WAITS = 3, RX_WAITS = 2; // WaitType of rp2040js

/** Whether a machine waits for a FIFO that only somebody else can move. */
function starves(machine) {
  if (!machine.waiting) {
    return false;
  }
  const { waitType } = machine;
  return ((waitType === OUT_WAITS || waitType === TX_WAITS) && machine.txFIFO.empty) || (waitType === RX_WAITS && machine.rxFIFO.full);
}

/** One step of a machine: how many of its cycles it takes. A loop of one instruction that counts X or Y down is gone through at once. */
function stepMachine(machine) {
  if (machine.waiting) {
    machine.checkWait();
    return machine.waiting ? 1 : 1 + Math.max(0, machine.waitDelay);
  }
  const { pc, cycles } = machine;
  machine.step();
  const taken = Math.max(1, machine.cycles - cycles);
  return machine.pc === pc ? taken + countdown(machine) : taken;
}

/** The turns to come of such a loop, but the last; its first has set what it sets aside. */
function countdown(machine) {
  const instruction = machine.pio.instructions[machine.pc];
  const delay = (instruction >> 8) & (0x1f >> machine.sidesetCount);
  const isLoop = (instruction & 0xe01f) === machine.pc && delay === 0;
  const counter = isLoop ? { 0x40: 'x', 0x80: 'y' }[instruction & 0xe0] : undefined;
  if (counter === undefined) {
    return 0;
  }
  const turns = machine[counter] >>> 0;
  machine[counter] = 0;
  return turns;
}
