/** How wide the prop on the photo really is, and what its lamps keep when that is said. */

import { make, number } from './make.js';
import { say, trying } from './say.js';
import { newGesture } from './turn.js';

const KEEPS = { photo: 'their places on the photo', mm: 'their millimetres' };
const DONE = { photo: 'The lamps are still where they were on the photo.', mm: 'The lamps kept their millimetres. Check whether they still fit the photo.' };

export class Width {
  /** ask(order): has the server do it; gives the prop. */
  constructor(ask) {
    this.ask = ask;
    this.keep = 'photo';
    this.box = make('input', { type: 'number', id: 'photo-width', min: 1, max: 10000, step: 'any', required: true, 'aria-describedby': 'photo-height' });
    this.box.addEventListener('change', () => trying(() => this.typed()));
    this.height = make('p', { class: 'small', id: 'photo-height' });
    this.element = make('fieldset', { id: 'photo-size' }, make('legend', {}, 'Size of the photo'),
      make('div', { class: 'field' }, make('label', { htmlFor: 'photo-width' }, 'Real width'),
        make('span', { class: 'amount' }, this.box, make('span', { class: 'unit' }, 'mm'))),
      this.height, make('p', {}, 'When the width changes, lamps keep'),
      make('div', { class: 'row', role: 'radiogroup', 'aria-label': 'When the width changes, lamps keep' }, ...Object.keys(KEEPS).map((keep) => this.choice(keep))));
  }

  choice(keep) {
    const choice = make('input', { type: 'radio', name: 'photo-keep', value: keep, checked: keep === this.keep });
    choice.addEventListener('change', () => { this.keep = keep; });
    return make('label', { class: 'tick' }, choice, make('span', {}, KEEPS[keep]));
  }

  show({ picture: { file, width_mm, height_mm } }) {
    this.element.hidden = !file;
    this.width_mm = width_mm;
    if (document.activeElement !== this.box) this.box.value = width_mm;
    this.height.textContent = `Measured from its left edge to its right. It is then ${number(height_mm, 5)} mm high.`;
  }

  async typed() {
    const { keep } = this;
    if (!this.box.checkValidity()) {
      this.box.value = this.width_mm;
      return say('Width of the photo: allowed is 1 to 10000 mm.', true);
    }
    try {
      const { picture } = await this.ask({ width_mm: Number(this.box.value), keep, gesture: newGesture() });
      return say(`The photo is now ${number(picture.width_mm, 5)} mm wide and ${number(picture.height_mm, 5)} mm high. ${DONE[keep]}`);
    } catch (error) {
      this.box.value = this.width_mm;
      throw error;
    }
  }
}
