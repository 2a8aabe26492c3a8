// A serial line at the chip's UART0, at its baud rate: bytes wait on either side as they do in the chip's FIFOs of 32.
import { CYCLE_NS } from './chip.mjs';

const FIFO = 32;

export class Line {
  /** Listens to UART0 of a chip that has just been switched on; `onByte` gets each byte when its stop bit is over. */
  constructor(chip, onByte) {
    this.uart = chip.mcu.uart[0];
    this.clock = chip.mcu.clock;
    this.chip = chip;
    this.toChip = [];
    this.fromChip = [];
    this.sending = this.clock.createAlarm(() => {
      onByte(this.fromChip.shift());
      this.#schedule(this.sending, this.fromChip);
      this.uart.checkInterrupts();
    });
    this.receiving = this.clock.createAlarm(() => {
      this.#deliver(this.toChip.shift());
      this.#schedule(this.receiving, this.toChip);
    });
    this.uart.onByte = (byte) => {
      if (this.fromChip.push(byte) === 1) {
        this.#schedule(this.sending, this.fromChip);
      }
    };
    this.uart.checkInterrupts = () => this.#checkInterrupts();
    const flags = this.uart.readUint32.bind(this.uart);
    this.uart.readUint32 = (offset) => (offset === 0x18 ? this.#flags(flags(offset)) : flags(offset));
  }

  /** Bytes for the chip, after those that wait. */
  feed(bytes) {
    const rested = this.toChip.length === 0;
    for (const byte of bytes) {
      this.toChip.push(byte);
    }
    if (rested) {
      this.#schedule(this.receiving, this.toChip);
    }
  }

  #deliver(byte) {
    if (this.uart.rxFIFO.full) {
      this.chip.broken.add('UART0 has lost a byte');
    } else if (this.uart.enabled) {
      this.uart.feedByte(byte);
    }
  }

  #flags(flags) {
    const full = this.fromChip.length >= FIFO ? 1 << 5 : 0;
    return this.fromChip.length > 0 ? (flags & ~(1 << 7)) | full | (1 << 3) : flags;
  }

  /** That of sending comes when the FIFO has room again; rp2040js has it always. */
  #checkInterrupts() {
    const { uart } = this;
    uart.interruptStatus = (uart.interruptStatus & ~(1 << 5)) | (this.fromChip.length <= FIFO / 8 ? 1 << 5 : 0);
    uart.rp2040.setInterrupt(uart.irq, (uart.interruptStatus & uart.interruptMask) !== 0);
  }

  #schedule(alarm, bytes) {
    if (bytes.length > 0) {
      alarm.schedule(10e9 / (this.uart.baudRate || 115200));
    }
  }
}
