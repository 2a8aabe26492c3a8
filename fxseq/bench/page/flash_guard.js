/**
 * The flash guard of the screen: no more than six transitions in any second, of light and of red, whatever the prop does. No clock, no page.
 *
 * What counts is in flash_counts.js. It is watched in two ways, of the colours that the screen shows (seen.js):
 * at points all over the picture, where more than a quarter of any 10 degree field must not have too many in the same second, whether they flash
 * together or in turn; and of fields that overlap by half, each seen as one light, since places that light up in turn make one flashing.
 * The second is stricter than the standard: there is no source for it.
 *
 * Of three pictures the first that keeps within the budget is shown: the prop's own; a gentle one that follows the mean so slowly that
 * a second does not hold a transition; the one that is there already, which moves nothing. So the budget holds by construction.
 */

import { Counts, judged } from './flash_counts.js';
import { POINTS_A_SIDE, coloursSeen } from './seen.js';

/** Points of a quarter of a field, which may flash. */
const QUARTER = POINTS_A_SIDE ** 2 / 4;
const QUIET_S = 2;
const GENTLE_PER_S = 0.08;
const MEAN_OVER_S = 0.5;
/** A point whose light can change by less than this does not make a field larger. */
const LEAST_LIGHT = 0.1;
/** In a field as one light, a small red lamp is red as soon as it is brighter than the dark around it: so weak a red is passed over. */
const LEAST_RED = 0.1;

export class FlashGuard {
  /** seen: of newSeen. always: the gentle picture whatever the prop does. former: the guard of the lamps as they were laid out before. @param {any} former */
  constructor(seen, always = false, former = null) {
    this.seen = seen;
    this.fields = fieldsOf(seen);
    const isSame = former?.shown.length === seen.lamps;
    this.shown = isSame ? former.shown : new Float32Array(seen.lamps);
    this.mean = isSame ? former.mean : this.shown;
    this.now_s = former ? former.now_s : 0;
    this.always = always;
    this.busy_s = Math.min(former ? former.busy_s : -Infinity, this.now_s);
    this.isGentle = false;
    const look = this.look(this.shown);
    this.asked = new Counts(look);
    this.given = new Counts(look, former?.given);
  }

  /** What may be shown of lamps at these shares of full light. now_s must not fall. isOn: else it is shown as it is, and only counted. */
  show(shares, now_s, isOn = true) {
    const passed_s = Math.max(now_s - this.now_s, 0);
    this.now_s += passed_s;
    const asked = { shares: Float32Array.from(shares), look: this.look(shares) };
    if (this.isTooMuch(this.asked, asked.look)) this.busy_s = Math.max(this.busy_s, this.now_s);
    this.asked.take(asked.look, this.now_s);
    this.follow(asked.shares, passed_s);
    const isQuiet = this.now_s - this.busy_s >= QUIET_S;
    if (!isOn || (isQuiet && !this.always && !this.isTooMuch(this.given, asked.look))) return this.give(asked, false);
    const gentle = this.gentle(passed_s);
    if (!this.isTooMuch(this.given, gentle.look)) return this.give(gentle, !isQuiet || !this.always);
    this.busy_s = Math.max(this.busy_s, this.now_s);
    this.isGentle = true;
    return this.shown;
  }

  give({ shares, look }, isGentle) {
    this.given.take(look, this.now_s);
    this.isGentle = isGentle;
    return this.shown = shares;
  }

  follow(asked, passed_s) {
    const blend = Math.min(passed_s / MEAN_OVER_S, 1);
    this.mean = this.mean.map((value, at) => value + (asked[at] - value) * blend);
  }

  gentle(passed_s) {
    const most = GENTLE_PER_S * Math.min(passed_s, 1);
    const shares = this.shown.map((value, at) => value + Math.max(-most, Math.min(most, this.mean[at] - value)));
    return { shares, look: this.look(shares) };
  }

  /** Points, then fields. */
  look(shares) {
    return judged(withFields(this.fields, coloursSeen(this.seen, shares)), this.seen.points.length, LEAST_RED);
  }

  isTooMuch(counts, look) {
    const over = counts.tooMany(look, this.now_s), points = this.seen.points.length;
    if (over.subarray(points).includes(1)) return true;
    let many = 0;
    for (let at = 0; at < points; at++) many += over[at];
    return many > QUARTER && mostInAField(this.seen, over) > QUARTER;
  }
}

/** Fields in steps of half their size, each over four tiles; what the lamps add to one is spread over what of it can flash, or a quarter at least. */
function fieldsOf(seen) {
  const tile = POINTS_A_SIDE / 2;
  const [wide, high] = [seen.columns, seen.rows].map((count) => Math.ceil(count / tile) + 2); // one beyond each edge
  const tileOf = Uint32Array.from(seen.points, ({ across, down }) => (Math.floor(down / tile) + 1) * wide + Math.floor(across / tile) + 1);
  const unlit = coloursSeen(seen, new Float32Array(seen.lamps)), full = coloursSeen(seen, new Float32Array(seen.lamps).fill(1));
  const { light: least } = judged(unlit), { light: most } = judged(full);
  const fields = [];
  for (let first = 0; first < wide * (high - 1); first++) {
    const tiles = [first, first + 1, first + wide, first + wide + 1];
    const points = first % wide < wide - 1 ? [...tileOf.keys()].filter((point) => tiles.includes(tileOf[point])) : [];
    if (points.length === 0) continue;
    const able = points.filter((point) => most[point] - least[point] >= LEAST_LIGHT);
    const dark = [0, 1, 2].map((way) => points.reduce((sum, point) => sum + unlit[3 * point + way], 0) / points.length);
    fields.push({ tiles, dark, spread: Math.max(able.length, QUARTER) });
  }
  return { tileOf, tiles: wide * high, unlit, fields };
}

/** The colours, and those of the fields behind them: the mean of the unlit points, and what the lamps add. */
function withFields({ tileOf, tiles, unlit, fields }, colours) {
  const added = new Float32Array(3 * tiles);
  for (let at = 0; at < colours.length; at++) added[3 * tileOf[Math.floor(at / 3)] + at % 3] += colours[at] - unlit[at];
  const all = new Float32Array(colours.length + 3 * fields.length);
  all.set(colours);
  fields.forEach(({ tiles: four, dark, spread }, field) => {
    for (let way = 0; way < 3; way++) {
      const sum = added[3 * four[0] + way] + added[3 * four[1] + way] + added[3 * four[2] + way] + added[3 * four[3] + way];
      all[colours.length + 3 * field + way] = dark[way] + sum / spread;
    }
  });
  return all;
}

/** The most marked points in any field, wherever it lies. */
function mostInAField({ columns, rows, points }, marks) {
  const wide = columns + 1, sums = new Uint32Array(wide * (rows + 1));
  points.forEach(({ across, down }, at) => { sums[(down + 1) * wide + across + 1] = marks[at]; });
  for (let at = wide + 1; at < sums.length; at++) {
    if (at % wide > 0) sums[at] += sums[at - 1] + sums[at - wide] - sums[at - wide - 1];
  }
  let most = 0;
  for (let down = 0; down < rows; down++) {
    for (let across = 0; across < columns; across++) {
      const right = Math.min(across + POINTS_A_SIDE, columns), below = Math.min(down + POINTS_A_SIDE, rows) * wide;
      most = Math.max(most, sums[below + right] - sums[down * wide + right] - sums[below + across] + sums[down * wide + across]);
    }
  }
  return most;
}
