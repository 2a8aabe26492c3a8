/**
 * Counting transitions of light and of red at many places at once, as pictures come.
 *
 * W3C WCAG 2.2, "general flash and red flash thresholds": three flashes, six transitions, in any second at most. A general transition is a
 * change of relative luminance by a tenth of its maximum, up and down in turn; unlike there, it counts also where both states are bright. A red
 * one leads to or from a saturated red, R / (R + G + B) of 0.8 or more, and is a change of more than 0.2 in u'v' (CIE 1976 UCS).
 *
 * A movement of light counts as one of now for as long as it goes on: who looks at one second alone must not find a seventh in it.
 */

const MOST_TRANSITIONS = 6;
const WINDOW_S = 1;
/** A tenth, less what pixels may differ from what is computed here. */
const STEP = 0.09;
const RED_SHARE = 0.8;
const RED_DISTANCE = 0.2;
/** Sums and times may differ in their last digits. */
const ROUNDING = 1e-6, TIME_ROUNDING_S = 1e-9;
/** Dates kept of a place: one more than decides, for the newest may be taken back. A power of two. */
const ROOM = 8;
/** Saturated red; far from some such colour; neither; red that is too weak to tell. */
const BETWEEN = 0, RED = 1, FAR = 2, WEAK = 3;
/** No two saturated reds are further apart than two of these, and none is further from a colour than one of these: u'v' keeps lines straight. */
const REDS = [[1, 0, 0], [RED_SHARE, 1 - RED_SHARE, 0], [RED_SHARE, 0, 1 - RED_SHARE]].map((rgb) => chromaticity(...rgb));

/** u', v' of linear sRGB (IEC 61966-2-1), as WCAG computes them. */
function chromaticity(red, green, blue) {
  const x = 0.4124564 * red + 0.3575761 * green + 0.1804375 * blue;
  const y = luminance(red, green, blue);
  const z = 0.0193339 * red + 0.1191920 * green + 0.9503041 * blue;
  const sum = x + 15 * y + 3 * z;
  return [4 * x / sum, 9 * y / sum];
}

function luminance(red, green, blue) {
  return 0.2126729 * red + 0.7151522 * green + 0.0721750 * blue;
}

/**
 * Of linear colours, red, green and blue in turn: {light: relative luminance, hue}.
 * From place `fields` on red that is less than `leastRed` is WEAK: nothing begins or ends with it.
 */
export function judged(colours, fields = Infinity, leastRed = 0) {
  const places = colours.length / 3, light = new Float32Array(places), hue = new Uint8Array(places);
  for (let at = 0; at < places; at++) {
    const red = colours[3 * at], green = colours[3 * at + 1], blue = colours[3 * at + 2];
    light[at] = luminance(red, green, blue);
    hue[at] = hueOf(red, green, blue);
    if (hue[at] === RED && at >= fields && red < leastRed) hue[at] = WEAK;
  }
  return { light, hue };
}

/** No light has no hue, and counts as white, which is far: red that comes out of the dark is a flash. */
function hueOf(red, green, blue) {
  const sum = red + green + blue;
  if (sum === 0) return FAR;
  if (red >= RED_SHARE * sum - ROUNDING) return RED;
  const [u, v] = chromaticity(red, green, blue);
  return REDS.some(([ofU, ofV]) => (u - ofU) ** 2 + (v - ofV) ** 2 > RED_DISTANCE ** 2) ? FAR : BETWEEN;
}

/** The last few dates of each of many places. */
class Dates {
  constructor(places) {
    this.times = new Float64Array(ROOM * places).fill(-Infinity);
    this.newest = new Uint8Array(places);
  }

  /** 0 steps: the newest. */
  back(at, steps) {
    return this.times[ROOM * at + ((this.newest[at] - steps) & (ROOM - 1))];
  }

  push(at, now_s) {
    this.newest[at] = (this.newest[at] + 1) & (ROOM - 1);
    this.goesOn(at, now_s);
  }

  goesOn(at, now_s) {
    this.times[ROOM * at + this.newest[at]] = now_s;
  }

  pop(at) {
    this.newest[at] = (this.newest[at] - 1) & (ROOM - 1);
  }

  /** Every place gets the dates of that which is worst off in others. */
  inherit(dates) {
    for (let steps = 0; steps < ROOM; steps++) {
      const worst = dates.newest.reduce((latest, _, at) => Math.max(latest, dates.back(at, steps)), -Infinity);
      for (let at = 0; at < this.newest.length; at++) this.times[ROOM * at + ((-steps) & (ROOM - 1))] = worst;
    }
  }
}

export class Counts {
  /** look: of the first picture. former: counts of other places, whose worst holds for all of these. @param {any} look @param {any} former */
  constructor({ light, hue }, former = null) {
    this.low = light.slice();
    this.high = light.slice();
    this.going = new Int8Array(light.length);
    this.moves = new Dates(light.length);
    this.isRed = hue.map((value) => Number(value === RED));
    this.wasFar = new Uint8Array(light.length).fill(1);
    this.crossings = new Dates(light.length);
    if (former) this.moves.inherit(former.moves);
    if (former) this.crossings.inherit(former.crossings);
  }

  /** 1 or -1 where light turns upwards or downwards by a step, else 0. */
  turn(at, light) {
    if (this.going[at] <= 0 && light - this.low[at] >= STEP) return 1;
    return this.going[at] >= 0 && this.high[at] - light >= STEP ? -1 : 0;
  }

  /** 1 where red begins or ends, -1 where it is back and had never been far, so that its end was none, else 0. */
  crossing(at, hue) {
    if (hue === WEAK || (this.isRed[at] === 1) === (hue === RED)) return 0;
    return this.isRed[at] === 1 || this.wasFar[at] === 1 ? 1 : -1;
  }

  /** 1 for each place that would have too many transitions in the second that ends with this picture, were it shown. */
  tooMany({ light, hue }, now_s) {
    const since_s = now_s - WINDOW_S + TIME_ROUNDING_S, over = new Uint8Array(light.length);
    for (let at = 0; at < over.length; at++) {
      const moves = this.turn(at, light[at]) === 0 ? 0 : 1, crossings = this.crossing(at, hue[at]);
      const isOver = this.moves.back(at, MOST_TRANSITIONS - moves) > since_s || this.crossings.back(at, MOST_TRANSITIONS - crossings) > since_s;
      if (isOver) over[at] = 1;
    }
    return over;
  }

  /** This picture has been shown. */
  take({ light, hue }, now_s) {
    for (let at = 0; at < light.length; at++) {
      this.move(at, light[at], now_s);
      this.cross(at, hue[at], now_s);
    }
  }

  move(at, light, now_s) {
    const turn = this.turn(at, light);
    if (turn !== 0) {
      this.moves.push(at, now_s);
      this.going[at] = turn;
      this.low[at] = this.high[at] = light;
      return;
    }
    if (light > this.high[at]) {
      this.high[at] = light;
      if (this.going[at] > 0) this.moves.goesOn(at, now_s);
    } else if (light < this.low[at]) {
      this.low[at] = light;
      if (this.going[at] < 0) this.moves.goesOn(at, now_s);
    }
  }

  cross(at, hue, now_s) {
    const crossing = this.crossing(at, hue);
    if (crossing > 0) this.crossings.push(at, now_s);
    if (crossing < 0) this.crossings.pop(at);
    if (hue === FAR) this.wasFar[at] = 1;
    else if (crossing !== 0) this.wasFar[at] = 0;
    if (hue !== WEAK) this.isRed[at] = hue === RED ? 1 : 0;
  }
}
