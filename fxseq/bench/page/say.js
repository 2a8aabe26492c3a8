/** Messages to the user, read out by screen readers: two a second at most, so that none is drowned by the next. */

const LEAST_APART_MS = 500;
/** How long a message stays that needs nothing done; what went wrong stays until something is done. */
const STAYS_MS = 10000;
let place, waiting, timer, going, last_ms = -Infinity;

/** Where messages are shown: an element with role=status. */
export function sayIn(element) {
  place = element;
}

/** Shows a message; of several within half a second, the last. alarm: something went wrong. */
export function say(text, alarm = false) {
  waiting = { text, alarm };
  if (timer) return;
  timer = setTimeout(show, Math.max(last_ms + LEAST_APART_MS - performance.now(), 0));
}

/** Takes back what went wrong, once it has been put right. */
export function calm() {
  if (waiting?.alarm) say('');
}

function show() {
  timer = undefined;
  last_ms = performance.now();
  place.textContent = waiting.text;
  place.classList.toggle('alarm', waiting.alarm);
  clearTimeout(going);
  if (!waiting.alarm) going = setTimeout(() => { place.textContent = ''; }, STAYS_MS);
}

/** Runs what may fail, and says so if it does. */
export async function trying(work) {
  try {
    return await work();
  } catch (error) {
    console.info(error);
    say(error.message, true);
    return undefined;
  }
}
