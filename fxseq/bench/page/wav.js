/** Sound files of one channel and 16 bit: read for drawing, sample by sample, and written of what a microphone gives. */

const HEAD_BYTES = 44, FULL_SCALE = 32768;

/** Samples, full scale 1, and their rate. */
export function readWav(bytes) {
  const view = new DataView(bytes);
  let at = 12, rate_hz = 0;
  while (word(view, at) !== 'data') {
    if (word(view, at) === 'fmt ') rate_hz = view.getUint32(at + 12, true);
    at += 8 + view.getUint32(at + 4, true);
  }
  const whole = new Int16Array(bytes.slice(at + 8, at + 8 + view.getUint32(at + 4, true)));
  return { samples: Float32Array.from(whole, (sample) => sample / FULL_SCALE), rate_hz };
}

/** The samples as a file. */
export function writeWav(samples, rate_hz) {
  const bytes = new ArrayBuffer(HEAD_BYTES + 2 * samples.length), view = new DataView(bytes);
  const text = (at, letters) => [...letters].forEach((letter, place) => view.setUint8(at + place, letter.charCodeAt(0)));
  text(0, 'RIFF');
  view.setUint32(4, bytes.byteLength - 8, true);
  text(8, 'WAVEfmt ');
  view.setUint32(16, 16, true);        // length of the format
  view.setUint16(20, 1, true);         // PCM
  view.setUint16(22, 1, true);         // channels
  view.setUint32(24, rate_hz, true);
  view.setUint32(28, 2 * rate_hz, true);
  view.setUint16(32, 2, true);         // bytes a frame
  view.setUint16(34, 16, true);        // bits
  text(36, 'data');
  view.setUint32(40, 2 * samples.length, true);
  samples.forEach((sample, place) => view.setInt16(HEAD_BYTES + 2 * place, Math.max(-FULL_SCALE, Math.min(FULL_SCALE - 1, Math.round(sample * FULL_SCALE))), true));
  return bytes;
}

function word(view, at) {
  return String.fromCharCode(...[0, 1, 2, 3].map((place) => view.getUint8(at + place)));
}
