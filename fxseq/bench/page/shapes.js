/** Lamps on a ring or a line, as the file says them: where each of them is, and the shape that some places come nearest to. */

const TURN_DEG = 360;
const LEAST_RADIUS_MM = 1;

export const tenths = (way) => Math.round(10 * way) / 10;

/** Places of so many lamps, clockwise from the first. */
export function onRing({ centre_mm, radius_mm, first_at_deg = 0 }, count) {
  const [x, y] = centre_mm;
  return Array.from({ length: count }, (_, at) => {
    const turn = (first_at_deg + at * TURN_DEG / count) * Math.PI / 180;
    return [x + radius_mm * Math.cos(turn), y + radius_mm * Math.sin(turn)];
  });
}

/** Places of so many lamps; a single one is in the middle. */
export function onLine({ from_mm, to_mm }, count) {
  const parts = count > 1 ? Array.from({ length: count }, (_, at) => at / (count - 1)) : [0.5];
  return parts.map((part) => from_mm.map((way, axis) => way + (to_mm[axis] - way) * part));
}

/** A ring around the middle of the places, as large as they lie from it, and within the picture; the first lamp is on top. */
export function ringOf(places, size_mm) {
  const centre_mm = [0, 1].map((axis) => tenths(places.reduce((sum, place) => sum + place[axis], 0) / places.length));
  const reach = places.reduce((sum, place) => sum + Math.hypot(place[0] - centre_mm[0], place[1] - centre_mm[1]), 0) / places.length;
  const room = Math.min(...[0, 1].flatMap((axis) => [centre_mm[axis], size_mm[axis] - centre_mm[axis]]));
  const radius_mm = tenths(Math.max(Math.min(reach || room / 2, room), LEAST_RADIUS_MM));
  return { centre_mm, radius_mm, first_at_deg: -90 };
}

/** A line from the first place to the last one; where these are one, across the picture. */
export function lineOf(places, size_mm) {
  const [first, last] = [places[0], places.at(-1)].map((place) => place.map(tenths));
  if (first.join() !== last.join()) return { from_mm: first, to_mm: last };
  return { from_mm: [tenths(size_mm[0] / 4), first[1]], to_mm: [tenths(size_mm[0] * 3 / 4), first[1]] };
}
