// The WebAssembly module as `fxp_host --batch` (firmware_spec/ports/host/README.md): cases in, results out, both binary, until the
// end of the input. Thirty times as fast as calls from Python.
// node wasm_batch.mjs player.wasm
import { closeSync, readFileSync, readSync, writeSync } from "node:fs";

const [PRESS, RELEASE, SELECT, VOLUME] = [0, 1, 2, 3];
const { exports: player } = new WebAssembly.Instance(new WebAssembly.Module(readFileSync(process.argv[2])));
const { buffer } = player.memory; // never grows

function taken(size) {
  const bytes = new Uint8Array(size);
  let have = 0;
  while (have < size) {
    const count = readSync(0, bytes, have, size - have);
    if (count === 0) return null;
    have += count;
  }
  return bytes;
}

function give(bytes) {
  for (let sent = 0; sent < bytes.length;) sent += writeSync(1, bytes, sent);
}

function pressesOf(bytes) {
  const view = new DataView(bytes.buffer);
  const press = (at) => ({
    frame: view.getUint32(at, true),
    kind: bytes[at + 4],
    index: bytes[at + 5],
    value: view.getUint16(at + 6, true),
  });
  return Array.from({ length: bytes.length / 8 }, (_, nth) => press(8 * nth));
}

// What `play` takes of each frame: contacts closed at its end, and those that were closed at any time in it.
function contactsOf(presses, frames) {
  const contacts = new Uint32Array(2 * frames);
  let [closed, next] = [0, 0];
  for (let frame = 0; frame < frames; frame++) {
    for (; next < presses.length && presses[next].frame === frame; next++) {
      const bit = 1 << presses[next].index;
      if (presses[next].kind === RELEASE) closed &= ~bit;
      if (presses[next].kind !== PRESS) continue;
      closed |= bit;
      contacts[2 * frame + 1] |= bit;
    }
    contacts[2 * frame] = closed;
  }
  return contacts;
}

function turn({ kind, index, value }) {
  const status = kind === SELECT ? player.select(index, value) : player.volume(value);
  if (status !== 0) throw new Error(`turn refused: ${status}`);
}

function copyOf(start, size) {
  return new Uint8Array(buffer).slice(start, start + size);
}

// Parts of the answer behind its head: trace, samples and duties, each of all frames.
function played(presses, frames) {
  const contacts = contactsOf(presses, frames);
  const turns = presses.filter(({ kind }) => kind === SELECT || kind === VOLUME);
  const [trace, samples, duties] = [[], [], []];
  for (let frame = 0; frame < frames;) {
    while (turns.length && turns[0].frame === frame) turn(turns.shift());
    const end = Math.min(frame + player.frames_most(), turns.length ? turns[0].frame : frames);
    new Uint32Array(buffer, player.contacts()).set(contacts.subarray(2 * frame, 2 * end));
    const done = player.play(end - frame);
    frame += done;
    samples.push(copyOf(player.samples(), 2 * done * player.samples_per_frame()));
    duties.push(copyOf(player.duties(), 2 * done * player.channels()));
    const events = player.take_trace();
    if (events > player.trace_room()) throw new Error(`${events} events within one call`);
    trace.push(copyOf(player.trace(), 8 * events));
  }
  return [trace, samples, duties].map((parts) => Buffer.concat(parts));
}

function answer(table, presses, frames) {
  new Uint8Array(buffer, player.slot()).set(table);
  const status = -player.stage(table.length);
  if (status !== 0) return [Uint32Array.of(status, player.offset(), 0, 0, 0, 0)];
  player.start();
  const [trace, ...rest] = played(presses, frames);
  const head = Uint32Array.of(0, 0, player.samples_per_frame(), player.channels(), trace.length / 8, player.saturated());
  return [head, trace, ...rest];
}

for (let head = taken(12); head !== null; head = taken(12)) {
  const [length, presses, frames] = new Uint32Array(head.buffer);
  const table = taken(length);
  for (const part of answer(table, pressesOf(taken(8 * presses)), frames)) give(new Uint8Array(part.buffer, part.byteOffset, part.byteLength));
}
closeSync(1);
