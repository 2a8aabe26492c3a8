// What comes out of the pins of a board that plays the table in its flash memory, and nothing but that.
//   node pins.mjs ROM FLASH SCRIPT RESULT
// SCRIPT: JSON with `ms` to run, `joints` as rows of the table's section, `levels` as rows of milliseconds, pin and level (pins are high
// else), `volts` as rows of milliseconds, pin and volts. RESULT: JSON; times are cycles of 125 MHz since power-up.
import fs from 'node:fs';
import { Chip, HZ } from './chip.mjs';
import { listenTo } from './decoders.mjs';

const [romFile, flashFile, scriptFile, resultFile] = process.argv.slice(2);
const script = JSON.parse(fs.readFileSync(scriptFile));

let heard;

function power(chip) {
  const { mcu } = chip;
  mcu.gpio.forEach((pin) => pin.setInputValue(true));
  heard = listenTo(chip, script.joints);
  for (const [ms, pin, level] of script.levels ?? []) {
    mcu.clock.createAlarm(() => mcu.gpio[pin].setInputValue(level === 1)).schedule(ms * 1e6);
  }
  for (const [ms, pin, volts] of script.volts ?? []) {
    mcu.clock.createAlarm(() => chip.setVolts(pin, volts)).schedule(ms * 1e6);
  }
}

const chip = new Chip({ rom: fs.readFileSync(romFile), flash: fs.readFileSync(flashFile), onPower: power });
const begun = performance.now();
const busy = []; // cycles that the processor did not sleep, in each millisecond
for (let ms = 0; ms < script.ms; ms++) {
  const [cycles, slept] = [chip.cycles, chip.slept];
  chip.run(((ms + 1) * HZ) / 1000 - chip.cycles);
  busy.push((chip.cycles - cycles - (chip.slept - slept)) / (chip.cycles - cycles));
}
fs.writeFileSync(
  resultFile,
  JSON.stringify({
    joints: heard(), busy, resets: chip.resets, broken: [...chip.broken],
    speed: script.ms / (performance.now() - begun),
  }), // prettier-ignore
);
