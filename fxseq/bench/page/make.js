/** Elements of the page. Text only ever gets in as text. */

/** An element of the page's own text. @returns {any} an element, as what it is there */
export const byId = (id) => document.getElementById(id);

const SVG = 'http://www.w3.org/2000/svg';

/** An element with these properties (`class` for className; `aria-...`, `data-...` and the like as attributes) and children. */
export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name === 'class') element.className = value;
    else if (name in element && !name.includes('-')) element[name] = value;
    else element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}

/** An element of a drawing. */
export function draw(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

const filled = new WeakMap();

/** Fills a menu with [{value, label}]. One that has them already is left as it is: it may be open. */
export function fill(menu, choices) {
  const told = JSON.stringify(choices);
  if (filled.get(menu) === told) return;
  filled.set(menu, told);
  menu.replaceChildren(...choices.map(({ value, label }) => make('option', { value }, label)));
}

/** Puts the focus onto the first of these places that can have it, where what had it no longer can. */
export function keepFocus(...places) {
  const now = /** @type {any} */ (document.activeElement);
  if (now !== document.body && now.checkVisibility() && !now.disabled) return;
  places.find((place) => place && !place.disabled && place.checkVisibility())?.focus({ preventScroll: true });
}

/** Gives the focus back to a control that had it and was disabled meanwhile, unless it has gone elsewhere. */
export function refocus(control) {
  if (document.activeElement === document.body) control.focus();
}

/** What has the focus, if it is in this place. @returns {any} an element, as what it is there */
export function focusedIn(place) {
  return place.contains(document.activeElement) ? document.activeElement : undefined;
}

/** A name of the file as a heading has it: storm_signal -> Storm signal. */
export function spoken(name) {
  return capital(String(name).replaceAll('_', ' '));
}

/** A text of the server with names as headings have them: trigger 'storm_signal' -> trigger Storm signal. */
export function named(text) {
  return text.replace(/(?<![A-Za-z])'([a-z][a-z0-9_ ]*)'(?![a-z])/g, (_, name) => spoken(name));
}

/** With its first letter large, and all else as it is. */
export function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** A number with as many digits as it deserves. */
export function number(value, digits = 3) {
  return Number(value).toLocaleString('en', { maximumSignificantDigits: digits, useGrouping: false });
}
