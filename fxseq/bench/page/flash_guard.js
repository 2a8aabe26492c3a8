/**
 * The flash guard of the screen: no more than six transitions of light in any second, whatever the prop does. No clock and no page in here.
 *
 * A transition is a change of a tenth of full light, up and down in turn. W3C WCAG 2.2, success criterion 2.3.1 and "general flash
 * and red flash thresholds": three flashes (six transitions) in any second at most; a quarter of a block of 341 by 256 CSS pixels may flash.
 * Light that is saturated red is taken five times as strictly (chosen here, no source: red counts there whatever its luminance).
 *
 * Of three pictures the first that keeps within the budget is shown: the prop's own; a gentle one that follows the mean so slowly that
 * a second does not hold a transition; the one that is there already. So the budget holds by construction.
 */

export const STEP = 0.1;
export const MOST_TRANSITIONS = 6;
export const WINDOW_S = 1;
export const SMALL_AREA_PX = 341 * 256 / 4;
const QUIET_S = 2;
const GENTLE_PER_S = 0.08;
const MEAN_OVER_S = 0.5;
const RED_FACTOR = 5;
/** Sums and times may differ in their last digits; of light, the larger count is taken. */
const ROUNDING = 1e-6, TIME_ROUNDING_S = 1e-9;

/** The last second of a signal, with the value that it began from, and one value more: [{value, time_s}]. The one given is left as it is. */
export function watched(history, value, now_s) {
  const isPast = ({ time_s }) => now_s - time_s >= WINDOW_S - TIME_ROUNDING_S;
  const from = history.findLastIndex(isPast);
  return [...history.slice(Math.max(from, 0)), { value, time_s: now_s }];
}

/** Movements by a tenth or more, up and down in turn, that one sees who looks at this second alone. */
export function transitions(history) {
  let count = 0, going = 0, low = history[0].value, high = low;
  for (const { value } of history) {
    low = Math.min(low, value);
    high = Math.max(high, value);
    const rises = going <= 0 && value - low >= STEP - ROUNDING;
    const falls = going >= 0 && high - value >= STEP - ROUNDING;
    if (!rises && !falls) continue;
    count += 1;
    going = rises ? 1 : -1;
    low = high = value;
  }
  return count;
}

/**
 * A guard for lamps: [{area_px, group, red}], one for each share that `guarded` is given. Every group and all lamps together are watched.
 * always: the gentle picture whatever the prop does.
 */
export function newGuard(lamps, always = false) {
  const names = [...new Set(lamps.map((lamp) => lamp.group))];
  const sums = names.map((name) => weights(lamps, (lamp) => lamp.group === name));
  if (names.length > 1) sums.push(weights(lamps, () => true));
  const blank = new Float32Array(lamps.length);
  return {
    sums, always, shown: blank, mean: blank.slice(), now_s: 0, busy_s: always ? Infinity : -Infinity,
    asked: sums.map(dark), given: sums.map(dark),
  };
}

function dark() {
  return [{ value: 0, time_s: 0 }];
}

/** The guard for lamps that have been laid out anew: where they are the same in number and groups, what was shown is not forgotten. */
export function relaid(guard, lamps, always = false) {
  const fresh = newGuard(lamps, always);
  if (!guard || guard.shown.length !== lamps.length || guard.sums.length !== fresh.sums.length) return fresh;
  const { shown, mean, now_s, asked, given } = guard;
  return { ...fresh, shown, mean, now_s, asked, given, busy_s: always ? Infinity : Math.min(guard.busy_s, now_s) };
}

/** What each lamp adds to a signal that is 1 where all of them are full, or less where they are small. */
function weights(lamps, isIn) {
  const area_px = lamps.reduce((sum, lamp) => sum + (isIn(lamp) ? lamp.area_px : 0), 0);
  return lamps.map((lamp) => (isIn(lamp) ? lamp.area_px * (lamp.red ? RED_FACTOR : 1) / Math.max(area_px, SMALL_AREA_PX) : 0));
}

/** The guard after a picture that should show these shares: `shown` is what may be shown, `gentle` whether it differs. now_s must not fall. */
export function guarded(guard, shares, now_s) {
  const passed_s = Math.max(now_s - guard.now_s, 0);
  const asked = advance(guard.asked, guard.sums, shares, now_s);
  const busy_s = keepsBudget(asked) ? guard.busy_s : Math.max(guard.busy_s, now_s);
  const blend = Math.min(passed_s / MEAN_OVER_S, 1);
  const mean = guard.mean.map((value, at) => value + (shares[at] - value) * blend);
  const gentle = guard.shown.map((value, at) => value + limited(mean[at] - value, GENTLE_PER_S * Math.min(passed_s, 1)));
  const wanted = now_s - busy_s < QUIET_S ? [gentle] : [Float32Array.from(shares), gentle];
  for (const shown of wanted) {
    const given = advance(guard.given, guard.sums, shown, now_s);
    if (keepsBudget(given)) return { ...guard, shown, mean, now_s, busy_s, asked, given, gentle: shown === gentle };
  }
  return { ...guard, mean, now_s, busy_s: Math.max(busy_s, now_s), asked, gentle: true };
}

function limited(value, most) {
  return Math.max(-most, Math.min(most, value));
}

function advance(histories, sums, shares, now_s) {
  return histories.map((history, at) => watched(history, signal(sums[at], shares), now_s));
}

function signal(sum, shares) {
  let value = 0;
  for (let at = 0; at < sum.length; at++) value += sum[at] * shares[at];
  return value;
}

function keepsBudget(histories) {
  return histories.every((history) => transitions(history) <= MOST_TRANSITIONS);
}
