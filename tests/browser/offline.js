/**
 * Plays the page's worklet.js without a browser: quantum by quantum, each message given between two of them.
 * On stdin {worklet, wasm, table, meters, rate_hz, length, events, later}; on stdout {samples, reports}.
 */
const { readFileSync } = require('node:fs');
const { runInThisContext } = require('node:vm');

const QUANTUM = 128;
const given = JSON.parse(readFileSync(0, 'utf8'));
const told = [];
let Board = null;

globalThis.sampleRate = given.rate_hz;
globalThis.currentFrame = 0;
globalThis.registerProcessor = (name, Processor) => { Board = Processor; };
globalThis.AudioWorkletProcessor = class {
  constructor() {
    this.port = { postMessage: (message) => told.push(structuredClone(message)) };
  }
};
runInThisContext(readFileSync(given.worklet, 'utf8'), { filename: given.worklet });

const board = new Board({ processorOptions: { module: new WebAssembly.Module(readFileSync(given.wasm)) } });
const give = (data) => board.port.onmessage({ data });
const swap = (state) => give({ table: Uint8Array.from(Buffer.from(given.table, 'base64')).buffer, ...state });

swap({ revision: 0, meters: given.meters });
give({ events: given.events });
const samples = [];
for (let quantum = 0; quantum * QUANTUM < given.length; quantum++) {
  for (const { message } of given.later.filter((one) => one.quantum === quantum)) {
    if (message.events) give({ events: message.events });
    if (message.swap) swap(message.swap);
  }
  const output = new Float32Array(QUANTUM);
  globalThis.currentFrame = quantum * QUANTUM;
  board.process([], [[output]]);
  for (const sample of output) samples.push(sample * 32768);
}
process.stdout.write(JSON.stringify({ samples, reports: told.filter(({ shares }) => shares) }));
