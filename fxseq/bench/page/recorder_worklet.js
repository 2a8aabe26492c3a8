/** Passes on what a microphone gives, block by block, for as long as it is there. */

const BLOCK = 1024;

class Recorder extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(BLOCK);
    this.filled = 0;
  }

  process([[samples]]) {
    if (!samples) return true;
    for (const sample of samples) {
      this.block[this.filled] = sample;
      this.filled += 1;
      if (this.filled === BLOCK) this.pass();
    }
    return true;
  }

  pass() {
    this.port.postMessage(this.block);
    this.block = new Float32Array(BLOCK);
    this.filled = 0;
  }
}

registerProcessor('recorder', Recorder);
