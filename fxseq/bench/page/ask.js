/** Questions that the page asks in a box of its own. */

import { make } from './make.js';

let boxes = 0;

/**
 * Asks, and gives what was answered by name with the answer that was chosen as `act`; null where it was left open.
 * fields: [{name, label, value, choices: [{value, label}]}], a text where there are no choices. acts: [{act, label}], the first for Enter.
 */
export function ask(title, words, fields, acts) {
  const before = /** @type {HTMLElement} */ (document.activeElement);
  boxes += 1;
  const id = `ask-${boxes}`;
  const controls = fields.map((field) => [field.name, control(field, `${id}-${field.name}`)]);
  const box = make('dialog', { class: 'ask', 'aria-labelledby': id });
  return new Promise((done) => {
    const close = (act) => done(act && { act, ...Object.fromEntries(controls.map(([name, { value }]) => [name, value])) });
    const buttons = acts.map(({ act, label }, at) => button(label, at === 0, () => box.close(act)));
    box.append(make('h2', { id }, title), ...words.map((text) => make('p', { class: 'small' }, text)),
      ...fields.map(({ label }, at) => make('div', { class: 'field' }, make('label', { htmlFor: controls[at][1].id }, label), controls[at][1])),
      make('div', { class: 'row' }, ...buttons, button('Leave it', false, () => box.close(''))));
    box.addEventListener('keydown', (event) => {
      if (event.key !== 'Enter' || event.target.tagName === 'BUTTON') return;
      event.preventDefault();
      box.close(acts[0].act);
    });
    box.addEventListener('close', () => {
      box.remove();
      // It may have been drawn anew.
      (document.getElementById(before?.id) || before)?.focus();
      close(box.returnValue);
    });
    document.body.append(box);
    box.showModal();
  });
}

function control({ value, choices }, id) {
  if (!choices) return make('input', { type: 'text', id, value, autocomplete: 'off' });
  return make('select', { id }, ...choices.map((choice) => make('option', { value: choice.value, selected: choice.value === value }, choice.label)));
}

function button(label, isStrong, act) {
  const made = make('button', { type: 'button', class: isStrong ? 'strong' : '' }, label);
  made.addEventListener('click', act);
  return made;
}
