// A computer at the chip's USB wire that sets it up as a serial port and carries bytes, as uart.mjs does for UART0. One transaction
// follows the other in the chip's time; what is put off by NAK is asked for again. Sections are of the USB 2.0 specification, from memory.
import { UsbController } from './usb.mjs';

const ADDRESS = 5, PACKET = 64;
const DEBOUNCE_US = 100e3, RESET_US = 10e3, RECOVERY_US = 10e3, NEW_ADDRESS_US = 2e3; // 7.1.7.3, 7.1.7.5, 9.2.6.3
const NAK_US = 50; // a computer would ask sooner, at no use to the test
const PATIENCE = 5e6 / NAK_US; // 9.2.6.1: a request takes at most 5 s

const wireUs = (bytes) => 10 + 0.7 * bytes; // about: token, sync, CRC, handshake and gaps; 12 Mbit/s
const setup = (type, code, value = 0, index = 0, length = 0) =>
  Uint8Array.of(type, code, value & 255, value >> 8, index & 255, index >> 8, length & 255, length >> 8);

export class UsbLine {
  /** Listens to the USB wire of a chip that has just been switched on; `onByte` gets each byte that it sends. */
  constructor(chip, onByte) {
    this.usb = new UsbController(chip);
    this.onByte = onByte;
    this.toChip = [];
    this.requests = [];
    this.address = 0;
    const turns = this.#talk();
    const alarm = chip.mcu.clock.createAlarm(() => alarm.schedule(Math.max(1, turns.next().value) * 1000));
    alarm.schedule(1000);
  }

  /** Bytes for the chip, after those that wait. */
  feed(bytes) {
    this.toChip.push(...bytes);
  }

  /** A program opens the port, or closes it: DTR and RTS (CDC PSTN 1.2, 6.3.12). */
  listen(listens) {
    this.requests.push(setup(0x21, 0x22, listens ? 3 : 0));
  }

  /** All that happens at the wire, step by step: each yields how long it took in microseconds. */
  *#talk() {
    while (!this.usb.attached) {
      yield 1000;
    }
    yield DEBOUNCE_US;
    this.usb.reset();
    yield RESET_US + RECOVERY_US;
    yield* this.#setUp();
    for (;;) {
      if (this.requests.length > 0) {
        yield* this.#control(this.requests.shift());
      }
      const sent = yield* this.#send();
      const heard = yield* this.#hear();
      if (!sent && !heard) {
        yield NAK_US;
      }
    }
  }

  *#setUp() {
    yield* this.#control(setup(0x00, 5, ADDRESS));
    this.address = ADDRESS;
    yield NEW_ADDRESS_US;
    const [, , low, high] = yield* this.#control(setup(0x80, 6, 0x0200, 0, 9));
    const configuration = yield* this.#control(setup(0x80, 6, 0x0200, 0, low | (high << 8)));
    const endpoints = bulkEndpoints(configuration);
    this.in = { endpoint: endpoints.in, data1: false };
    this.out = { endpoint: endpoints.out, data1: false };
    yield* this.#control(setup(0x00, 9, configuration[5]));
    yield* this.#control(setup(0x21, 0x20, 0, 0, 7), Uint8Array.of(0, 0xc2, 1, 0, 0, 0, 8)); // 115200, 8N1
  }

  /** A control transfer (8.5.3); returns what it brought. */
  *#control(request, data = new Uint8Array(0)) {
    const brings = (request[0] & 0x80) !== 0;
    const length = request[6] | (request[7] << 8);
    const answer = [];
    this.usb.setup(this.address, request);
    yield wireUs(8);
    for (let data1 = true; brings && answer.length < length; data1 = !data1) {
      const packet = yield* this.#until(() => this.usb.in(this.address, 0), data1);
      answer.push(...packet.bytes);
      if (packet.bytes.length < PACKET) {
        break;
      }
    }
    if (data.length > 0) {
      yield* this.#until(() => this.usb.out(this.address, 0, true, data));
    }
    if (brings) {
      yield* this.#until(() => this.usb.out(this.address, 0, true, new Uint8Array(0)));
    } else {
      yield* this.#until(() => this.usb.in(this.address, 0), true);
    }
    return answer;
  }

  /** Tries until the chip no longer puts us off. */
  *#until(attempt, data1) {
    for (let turn = 0; turn < PATIENCE; turn++) {
      const answer = attempt();
      yield wireUs(answer.bytes?.length ?? 0);
      if (answer === 'ack' || (answer.bytes && answer.data1 === data1)) {
        return answer;
      }
      if (answer !== 'nak') {
        throw new Error(`a request was answered by ${JSON.stringify(answer)}`);
      }
      yield NAK_US;
    }
    throw new Error('a request was not answered in 5 s');
  }

  *#send() {
    if (this.toChip.length === 0) {
      return false;
    }
    const bytes = Uint8Array.from(this.toChip.slice(0, PACKET));
    const answer = this.usb.out(this.address, this.out.endpoint, this.out.data1, bytes);
    yield wireUs(bytes.length);
    if (answer !== 'ack') {
      return false;
    }
    this.out.data1 = !this.out.data1;
    this.toChip.splice(0, bytes.length);
    return true;
  }

  *#hear() {
    const answer = this.usb.in(this.address, this.in.endpoint);
    yield wireUs(answer.bytes?.length ?? 0);
    if (!answer.bytes) {
      return false;
    }
    if (answer.data1 === this.in.data1) {
      this.in.data1 = !this.in.data1;
      answer.bytes.forEach(this.onByte);
    }
    return true;
  }
}

/** Numbers of the two bulk endpoints (9.6.6). */
function bulkEndpoints(configuration) {
  const found = {};
  for (let at = 0; at < configuration.length; at += configuration[at]) {
    const [, kind, address, attributes] = configuration.slice(at);
    if (kind === 5 && (attributes & 3) === 2) {
      found[address & 0x80 ? 'in' : 'out'] = address & 15;
    }
  }
  return found;
}
