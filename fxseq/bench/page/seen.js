/** What the screen shows at points all over the picture, of any light of its lamps: the same sums as picture.js draws with, without drawing. */

import { REACH, codes, decoded, disc, encoded, glow } from './glow.js';

/** A field of view of 10 degrees. W3C WCAG 2.2 takes it as 341 by 256 CSS pixels. [CSS px] */
export const FIELD_PX = [341, 256];
/** Points along each side of a field: one stands for about 21 by 16 pixels. Even, for fields overlap by half. */
export const POINTS_A_SIDE = 16;
const LINEAR = Float32Array.from({ length: 256 }, (_, code) => decoded(code / 255));

/**
 * The points that lamps can light. lamps: [{x_px, y_px, radius_px, rgb}] in pixels of the picture. ground: ImageData of the unlit picture.
 * ratio: pixels of the picture in a CSS pixel.
 * points: [{across, down}] in a grid of `columns` by `rows`. Point p is lit by entries from[p] to from[p + 1]: of which lamp, and the codes
 * that its glow adds and its disc lays over where it is full.
 */
export function newSeen(lamps, ground, ratio) {
  const pitch_px = FIELD_PX.map((side) => side / POINTS_A_SIDE * ratio);
  const columns = Math.ceil(ground.width / pitch_px[0]), rows = Math.ceil(ground.height / pitch_px[1]);
  const reached = reachedBy(lamps, pitch_px, columns, rows);
  const places = [...reached.keys()].sort((one, other) => one - other);
  const entries = places.flatMap((place) => reached.get(place));
  const from = new Uint32Array(places.length + 1);
  places.forEach((place, at) => { from[at + 1] = from[at] + reached.get(place).length; });
  const points = places.map((place) => ({ across: place % columns, down: Math.floor(place / columns) }));
  return {
    columns, rows, points, from, lamps: lamps.length,
    unlit: Float32Array.from(points.flatMap(({ across, down }) => groundAt(ground, (across + 0.5) * pitch_px[0], (down + 0.5) * pitch_px[1]))),
    lamp: Uint16Array.from(entries, ({ lamp }) => lamp),
    colour: Float32Array.from(entries.flatMap(({ lamp }) => codes(lamps[lamp].rgb))),
    glow: Float32Array.from(entries, ({ distance }) => encoded(glow(distance))),
    disc: Float32Array.from(entries, ({ distance }) => encoded(disc(distance))),
  };
}

/** By place in the grid: which lamps reach the point in its middle, and from how far in radii. */
function reachedBy(lamps, pitch_px, columns, rows) {
  const [wide_px, high_px] = pitch_px;
  const reached = new Map();
  lamps.forEach(({ x_px, y_px, radius_px }, lamp) => {
    const reach_px = radius_px * REACH;
    const first = (at_px, pitch_px) => Math.max(Math.floor((at_px - reach_px) / pitch_px), 0);
    for (let down = first(y_px, high_px); down < rows && down * high_px < y_px + reach_px; down++) {
      for (let across = first(x_px, wide_px); across < columns && across * wide_px < x_px + reach_px; across++) {
        const distance = Math.hypot((across + 0.5) * wide_px - x_px, (down + 0.5) * high_px - y_px) / radius_px;
        if (distance >= REACH) continue;
        const place = down * columns + across;
        if (!reached.has(place)) reached.set(place, []);
        reached.get(place).push({ lamp, distance });
      }
    }
  });
  return reached;
}

function groundAt({ width, height, data }, x_px, y_px) {
  const at = 4 * (Math.min(Math.floor(y_px), height - 1) * width + Math.min(Math.floor(x_px), width - 1));
  return [data[at], data[at + 1], data[at + 2]];
}

/** Linear red, green and blue of each point in turn, 0..1, with the lamps at these shares of full light. */
export function coloursSeen(seen, shares) {
  const { unlit, from, lamp, glow: glows, disc: discs, colour } = seen;
  const alphas = Float32Array.from(shares, (share) => Math.round(255 * encoded(share)) / 255);
  const colours = unlit.slice();
  for (let point = 0; point < seen.points.length; point++) {
    const first = from[point], end = from[point + 1];
    for (let way = 0; way < 3; way++) {
      let code = unlit[3 * point + way];
      for (let at = first; at < end; at++) code += colour[3 * at + way] * glows[at] * alphas[lamp[at]];
      if (code > 255) code = 255;
      for (let at = first; at < end; at++) {
        const more = colour[3 * at + way] - code;
        if (more > 0 && discs[at] > 0) code += more * discs[at] * alphas[lamp[at]];
      }
      colours[3 * point + way] = LINEAR[Math.round(code)];
    }
  }
  return colours;
}
