/** Samples as a curve: from afar the lowest and highest of each column, from near by each sample. */

/** Samples that are so far apart have a dot each. */
const DOTS_PX = 6, DOT_PX = 1.6;

export class SoundCurve {
  /**
   * Draws what of a sound is in a view.
   * sound: {samples, rate_hz, at_ms}, at_ms of its first sample. view: {from_ms, to_ms}. lane: {width, height}. colourAt(at_ms).
   */
  paint(pen, sound, view, lane, colourAt) {
    const per_px = (view.to_ms - view.from_ms) * sound.rate_hz / 1000 / lane.width;
    if (per_px >= 1) this.fromAfar(pen, sound, view, lane, colourAt);
    else this.nearBy(pen, sound, view, lane, colourAt, per_px);
  }

  fromAfar(pen, sound, view, { width, height }, colourAt) {
    this.columns(sound, view, width).forEach((column, x) => {
      if (!column) return;
      const [low, high] = column;
      pen.fillStyle = colourAt(view.from_ms + (x + 0.5) / width * (view.to_ms - view.from_ms));
      pen.fillRect(x, height / 2 * (1 - high), 1, Math.max(height / 2 * (high - low), 1));
    });
  }

  /** Lowest and highest sample of each column, found once for a view; undefined where there is no sample. @returns {any} */
  columns(sound, view, width) {
    const found = [sound.samples, view.from_ms, view.to_ms, width];
    if (this.found?.every((value, at) => value === found[at])) return this.kept;
    const { samples } = sound, placeOf = (x) => Math.floor(placeAt(sound, view.from_ms + x / width * (view.to_ms - view.from_ms)));
    this.found = found;
    this.kept = Array.from({ length: width }, (_, x) => {
      const first = Math.max(placeOf(x), 0), next = Math.min(Math.max(placeOf(x + 1), first + 1), samples.length);
      if (first >= samples.length || placeOf(x + 1) <= 0) return undefined;
      let low = 0, high = 0;
      for (let at = first; at < next; at++) {
        low = Math.min(low, samples[at]);
        high = Math.max(high, samples[at]);
      }
      return [low, high];
    });
    return this.kept;
  }

  nearBy(pen, sound, view, { width, height }, colourAt, per_px) {
    const { samples, rate_hz, at_ms } = sound;
    const first = Math.max(Math.floor(placeAt(sound, view.from_ms)), 0), last = Math.min(Math.ceil(placeAt(sound, view.to_ms)), samples.length - 1);
    const timeOf = (place) => at_ms + place / rate_hz * 1000;
    const spot = (place) => [(timeOf(place) - view.from_ms) / (view.to_ms - view.from_ms) * width, height / 2 * (1 - samples[place])];
    pen.lineWidth = 1.5;
    for (let place = first; place <= last; place++) {
      const [x, y] = spot(place);
      pen.strokeStyle = pen.fillStyle = colourAt(timeOf(place));
      if (place < last) {
        pen.beginPath();
        pen.moveTo(x, y);
        pen.lineTo(...spot(place + 1));
        pen.stroke();
      }
      if (per_px * DOTS_PX < 1) pen.fillRect(x - DOT_PX, y - DOT_PX, 2 * DOT_PX, 2 * DOT_PX);
    }
  }
}

/** Which sample is at a time, in parts of one. */
function placeAt({ rate_hz, at_ms }, time_ms) {
  return (time_ms - at_ms) * rate_hz / 1000;
}
