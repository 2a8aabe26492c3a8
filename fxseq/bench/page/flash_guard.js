/**
 * The flash guard of the screen: no more than six transitions of light in any second, whatever the prop does. No clock and no page in here.
 *
 * A transition is a change of a tenth of full light against the last extreme. W3C WCAG 2.2, success criterion 2.3.1 and "general flash
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

/** Counts the transitions of one signal. */
export function newMonitor() {
  return { low: 0, high: 0, going: 0, base: 0, times_s: [] };
}

/**
 * The monitor after one more value. The last one is left as it is.
 *
 * A movement that goes on by a tenth is the same transition, but of now: who looks only from now on sees it all the same.
 */
export function watched(monitor, value, now_s) {
  let { low, high, going, base, times_s } = monitor;
  low = Math.min(low, value);
  high = Math.max(high, value);
  const rises = going <= 0 && value - low >= STEP - ROUNDING;
  const falls = !rises && going >= 0 && high - value >= STEP - ROUNDING;
  const goesOn = !rises && !falls && going * (value - base) >= STEP - ROUNDING;
  if (rises || falls || goesOn) {
    const before_s = goesOn ? times_s.slice(0, -1) : times_s;
    times_s = [...before_s.filter((time_s) => now_s - time_s < WINDOW_S - TIME_ROUNDING_S), now_s];
    base = value;
  }
  if (rises || falls) {
    going = rises ? 1 : -1;
    low = high = value;
  }
  return { low, high, going, base, times_s };
}

/** Transitions of a monitor in the second that ends now. */
export function transitions(monitor, now_s) {
  return monitor.times_s.filter((time_s) => now_s - time_s < WINDOW_S - TIME_ROUNDING_S).length;
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
    asked: sums.map(newMonitor), given: sums.map(newMonitor),
  };
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
  const busy_s = keepsBudget(asked, now_s) ? guard.busy_s : Math.max(guard.busy_s, now_s);
  const blend = Math.min(passed_s / MEAN_OVER_S, 1);
  const mean = guard.mean.map((value, at) => value + (shares[at] - value) * blend);
  const gentle = guard.shown.map((value, at) => value + limited(mean[at] - value, GENTLE_PER_S * Math.min(passed_s, 1)));
  const wanted = now_s - busy_s < QUIET_S ? [gentle] : [Float32Array.from(shares), gentle];
  for (const shown of wanted) {
    const given = advance(guard.given, guard.sums, shown, now_s);
    if (keepsBudget(given, now_s)) return { ...guard, shown, mean, now_s, busy_s, asked, given, gentle: shown === gentle };
  }
  return { ...guard, mean, now_s, busy_s: Math.max(busy_s, now_s), asked, gentle: true };
}

function limited(value, most) {
  return Math.max(-most, Math.min(most, value));
}

function advance(monitors, sums, shares, now_s) {
  return monitors.map((monitor, at) => watched(monitor, signal(sums[at], shares), now_s));
}

function signal(sum, shares) {
  let value = 0;
  for (let at = 0; at < sum.length; at++) value += sum[at] * shares[at];
  return value;
}

function keepsBudget(monitors, now_s) {
  return monitors.every((monitor) => transitions(monitor, now_s) <= MOST_TRANSITIONS);
}
