/** How a lamp looks on the screen: its disc and the glow around it, of a distance in radii. Looks right, no physics. */

/** Height, and width in radii, of the two glows around the disc. */
const GLOWS = [[0.34, 1.7], [0.08, 3.2]];
/** In radii: where a glow and a disc have come to nothing. */
export const REACH = 5, DISC_REACH = 1.25;

/** Linear light 0..1 as a code value 0..1 (IEC 61966-2-1, sRGB). */
export function encoded(linear) {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055;
}

/** And back. */
export function decoded(code) {
  return code <= 0.04045 ? code / 12.92 : ((code + 0.055) / 1.055) ** 2.4;
}

export function codes(rgb) {
  return rgb.map((value) => Math.round(255 * encoded(value)));
}

export function glow(distance) {
  const sum = GLOWS.reduce((light, [height, width]) => light + height * Math.exp(-((distance / width) ** 2)), 0);
  return sum * Math.max(0, 1 - (distance / REACH) ** 4);
}

export function disc(distance) {
  return Math.max(0, Math.min(1, (1.08 - distance) / 0.16));
}
