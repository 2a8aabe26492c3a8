// usb_bus.mjs IMAGE: runs a program in the RAM of an RP2040 and lets a test be the computer at its USB wire. Commands come as lines of
// JSON, each is answered by one: ["power"], ["run", us], ["attached"], ["reset"], ["suspend"], ["resume"], ["setup", address, hex],
// ["in", address, endpoint, lost], ["out", address, endpoint, data1, hex], ["read", address], ["write", address, word], ["broken"].
import fs from 'node:fs';
import readline from 'node:readline';
import { Chip } from './chip.mjs';
import { UsbController } from './usb.mjs';

const RAM = 0x20000000, CYCLES_PER_US = 125;
const image = fs.readFileSync(process.argv[2]);
let chip, usb;

function power() {
  chip = new Chip({ rom: new Uint8Array(16384), flash: new Uint8Array(0), onPower: (powered) => (usb = new UsbController(powered)) });
  const { core, sram, sramView } = chip.mcu;
  sram.set(image);
  core.VTOR = RAM;
  core.SP = sramView.getUint32(0, true);
  core.PC = sramView.getUint32(4, true) & ~1;
}

const hex = (bytes) => Buffer.from(bytes).toString('hex');
const bytesOf = (text) => Buffer.from(text, 'hex');

const commands = {
  power,
  run: (us) => chip.run(us * CYCLES_PER_US),
  attached: () => usb.attached,
  reset: () => usb.reset(),
  suspend: () => usb.suspend(),
  resume: () => usb.resume(),
  setup: (address, bytes) => usb.setup(address, bytesOf(bytes)),
  in: (address, endpoint, lost) => {
    const answer = usb.in(address, endpoint, lost);
    return answer.bytes ? [answer.data1, hex(answer.bytes)] : answer;
  },
  out: (address, endpoint, data1, bytes) => usb.out(address, endpoint, data1, bytesOf(bytes)),
  read: (address) => chip.mcu.readUint32(address),
  write: (address, word) => chip.mcu.writeUint32(address, word),
  broken: () => [...chip.broken, ...(chip.resets ? ['the watchdog has reset the chip'] : [])],
};

for await (const line of readline.createInterface({ input: process.stdin })) {
  const [name, ...values] = JSON.parse(line);
  console.log(JSON.stringify(commands[name](...values) ?? null));
}
