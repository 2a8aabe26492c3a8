// PWM slices that count up and down (RP2040 data sheet, 4.5.2), which rp2040js has not: 2 * (TOP + 1) cycles a pulse; high while the counter
// is below the compare value; what is written to TOP and CC counts from the next time that it comes to 0.
const CTRL = 0x00, COUNT = 0x08, ON = 1, UP_AND_DOWN = 2;

export function mendPulses(mcu, cycleNs) {
  mcu.pwm.channels.forEach((slice) => new Slice(slice, mcu.clock, cycleNs));
}

class Slice {
  constructor(slice, clock, cycleNs) {
    const [read, write] = [slice.readRegister.bind(slice), slice.writeRegister.bind(slice)];
    Object.assign(this, { slice, clock, cycleNs, begun: 0, top: 0 });
    this.wrap = clock.createAlarm(() => this.#begin());
    const outputs = [(level) => slice.setA(level), (level) => slice.setB(level)];
    this.falls = outputs.map((set) => clock.createAlarm(() => set(false)));
    this.rises = outputs.map((set) => clock.createAlarm(() => set(true)));
    this.outputs = outputs;
    slice.writeRegister = (offset, value) => {
      const runs = this.#runs();
      write(offset, value);
      if (offset === CTRL) {
        this.#switch(runs);
      }
    };
    slice.readRegister = (offset) => (offset === COUNT && this.#runs() ? this.#count() : read(offset));
  }

  #runs() {
    return (this.slice.csr & (ON | UP_AND_DOWN)) === (ON | UP_AND_DOWN);
  }

  /** CTRL has been written, which lets the counter of rp2040js go. */
  #switch(ran) {
    this.slice.timer.enable &&= !this.#runs();
    if (this.#runs() && !ran) {
      this.#begin();
    } else if (ran && !this.#runs()) {
      [this.wrap, ...this.falls, ...this.rises].forEach((alarm) => alarm.cancel());
    }
  }

  #count() {
    const cycles = Math.floor((this.clock.nanos - this.begun) / this.cycleNs);
    return cycles <= this.top ? cycles : Math.max(0, 2 * this.top + 1 - cycles);
  }

  #begin() {
    const { slice, cycleNs } = this;
    this.begun = this.clock.nanos;
    this.top = slice.top;
    const period = 2 * (slice.top + 1);
    slice.pwm.channelInterrupt(slice.index);
    [slice.cc & 0xffff, slice.cc >>> 16].forEach((compare, output) => {
      this.outputs[output](compare > 0);
      if (compare > 0 && compare <= slice.top) {
        this.falls[output].schedule(compare * cycleNs);
        this.rises[output].schedule((period - compare) * cycleNs);
      }
    });
    this.wrap.schedule(period * cycleNs);
  }
}
