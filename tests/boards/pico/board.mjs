// A board with the chip on it, switched on: UART0, or with --usb its USB serial port, is a TCP port, whose URL it prints, and FLASH is a
// file of 2 MB that outlives it.
//   node board.mjs ROM FLASH [--usb] [--speed X] [--cut K:TEAR:SEED] [--close PIN:FROM_MS:UNTIL_MS]...
//     [--volts PIN:VOLTS]... [--pins JOINTS:RESULT] [--player OPEN:FRAME]
// RESULT is a file that gets what the pins have said at the end, by the joints in the file JOINTS (decoders.mjs).
// It runs until SIGTERM, at most X times as fast as the chip (1). Lines on its standard input: `PIN 0` and `PIN 1` pull a pin low and
// let it go high; `hang` stops the processor; `unplug` and `plug` are for USB; `figures` prints a line of JSON; so does `run`, of what was
// played up to the last start of the player, where --player says where functions are (frames.mjs). Exit status: 2 where the firmware
// broke a rule, which standard error tells; 3 where the power was cut.
import fs from 'node:fs';
import net from 'node:net';
import readline from 'node:readline';
import { Chip, HZ } from './chip.mjs';
import { listenTo } from './decoders.mjs';
import { Frames } from './frames.mjs';
import { Line } from './uart.mjs';
import { UsbLine } from './usb_line.mjs';

const TURN_S = 0.002; // of the chip's time, between two looks at the line
const START_S = 0.5; // after which a caller is let in though the firmware has not slept yet
const [romFile, flashFile, ...options] = process.argv.slice(2);
const given = (name) => options.flatMap((option, i) => (option === name ? [options[i + 1]] : []));
const numbers = (name) => given(name).map((text) => text.split(':').map(Number));
const [jointsFile, resultFile] = (given('--pins')[0] ?? '').split(':');
const speed = Number(given('--speed')[0] ?? 1);
let line, socket, heard;
let out = [];
let isOpen = false;

function end(status) {
  fs.writeFileSync(flashFile, chip.memory);
  if (resultFile) {
    fs.writeFileSync(resultFile, JSON.stringify(heard()));
  }
  for (const rule of chip.broken) {
    console.error(rule);
  }
  process.exit(chip.broken.size > 0 ? 2 : status);
}

function cut() {
  const [at, tear, seed] = (given('--cut')[0] ?? '').split(':');
  return tear && { at: Number(at), tear, seed: Number(seed), done: () => end(3) };
}

function power(chip) {
  line = new (options.includes('--usb') ? UsbLine : Line)(chip, (byte) => out.push(byte));
  chip.mcu.gpio.forEach((pin) => pin.setInputValue(true));
  heard = resultFile && listenTo(chip, JSON.parse(fs.readFileSync(jointsFile)));
  for (const [pin, volts] of numbers('--volts')) {
    chip.setVolts(pin, volts);
  }
  for (const [pin, from, until] of numbers('--close')) {
    const { clock, gpio } = chip.mcu;
    clock.createAlarm(() => gpio[pin].setInputValue(false)).schedule(from * 1e6);
    clock.createAlarm(() => gpio[pin].setInputValue(true)).schedule(until * 1e6);
  }
}

const chip = new Chip({ rom: fs.readFileSync(romFile), flash: fs.readFileSync(flashFile), cut: cut(), onPower: power });

const [frames] = numbers('--player').map(([opens, plays]) => new Frames(chip, opens, plays));

const server = net.createServer((caller) => {
  socket = caller;
  socket.setNoDelay(true);
  line.listen?.(true);
  socket.on('data', (bytes) => line.feed(bytes));
  socket.on('error', () => {});
  socket.on('close', () => {
    line.listen?.(false);
    socket = socket === caller ? undefined : socket;
  });
});
process.on('SIGTERM', () => end(0));

function figures() {
  const { core, clkSys, clkPeri, usbCtrl } = chip.mcu;
  return {
    cycles: chip.cycles, slept: chip.slept, resets: chip.resets, clkSys, clkPeri, baud: chip.mcu.uart[0].baudRate,
    inBootRom: core.PC < 0x4000, fetchedInPlace: chip.fetchedInPlace, commands: chip.flash.commands, usbOn: (usbCtrl.readUint32(0x4c) & (1 << 16)) !== 0,
    usbNames: line.names, brownOut: chip.brownOut,
  }; // prettier-ignore
}

readline.createInterface({ input: process.stdin }).on('line', (text) => {
  const [pin, level] = text.split(' ').map(Number);
  if (text === 'figures') {
    console.log(JSON.stringify(figures()));
  } else if (text === 'run') {
    console.log(JSON.stringify(frames.ended.told()));
  } else if (text === 'plug' || text === 'unplug') {
    line.plugged = text === 'plug';
  } else if (text === 'hang') {
    Object.assign(chip.mcu.core, { waiting: true, enabledInterrupts: 0 });
  } else {
    chip.mcu.gpio[pin].setInputValue(level === 1);
  }
});

/** Once the firmware has come to its loop: a caller who waits for the start of a slow emulator would think that nobody is there. */
function open() {
  if (!isOpen && (chip.slept > 0 || chip.cycles > START_S * HZ)) {
    isOpen = true;
    server.listen(0, '127.0.0.1', () => console.log(`socket://127.0.0.1:${server.address().port}`));
  }
}

const begun = performance.now();

function turn() {
  const ahead = chip.cycles / HZ - ((performance.now() - begun) / 1000) * speed;
  if (ahead > TURN_S) {
    setTimeout(turn, (ahead / speed) * 1000);
    return;
  }
  chip.run(TURN_S * HZ);
  open();
  if (out.length > 0) {
    socket?.write(Uint8Array.from(out));
    out = [];
  }
  setImmediate(turn);
}

turn();
