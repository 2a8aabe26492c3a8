/** Drawing anew without taking anything out of a hand. */

import { focusedIn } from './make.js';

/** What has a caret, a marking, or a list that is open. */
const WRITTEN = 'input:not([type=checkbox]):not([type=radio]):not([type=range]), textarea, select';

/**
 * Puts children into a place, instead of what is there. What has the focus stays there if it would come again. A box or a menu stays also where one
 * of the same id would come in its place: it takes that one's value, unless something is being typed.
 */
export function renew(place, ...children) {
  const held = focusedIn(place), kept = held && [...place.children].find((child) => child.contains(held));
  const at = kept ? children.findIndex((child) => child === kept || goesOn(child, kept, held)) : -1;
  if (at < 0) return place.replaceChildren(...children);
  if (kept === held) takeOver(held, children[at]);
  else if (kept !== children[at]) renew(kept, ...children[at].childNodes);
  for (const child of [...place.childNodes]) if (child !== kept) child.remove();
  kept.before(...children.slice(0, at));
  kept.after(...children.slice(at + 1));
  return undefined;
}

/** Whether a new element may be left away for the one that is there, in which something has the focus. */
function goesOn(fresh, kept, held) {
  if (!(fresh instanceof Element) || fresh.tagName !== kept.tagName || !held.id || !held.matches(WRITTEN)) return false;
  /** @type {any} */
  const again = kept === held ? fresh : fresh.querySelector(`#${CSS.escape(held.id)}`);
  return again?.id === held.id && again.tagName === held.tagName && again.type === held.type && choicesOf(again) === choicesOf(held);
}

function choicesOf({ options = [] }) {
  return [...options].map(({ text }) => text).join('\n');
}

function takeOver(held, fresh) {
  const isTyping = held.dataset.shown !== undefined && held.dataset.shown !== held.value;
  for (const { name, value } of fresh.attributes) held.setAttribute(name, value);
  if (!fresh.hasAttribute('aria-invalid')) held.removeAttribute('aria-invalid');
  if (!isTyping && held.value !== fresh.value) held.value = fresh.value;
}
