/** Work that takes long, the same way for all of it: a bar with what is known, and a way to end it. One at a time. */

import { Refused, post } from './api.js';
import { make, spoken } from './make.js';
import { calm, say, trying } from './say.js';

export class Work {
  /** order: what the server is told to have it ended. */
  constructor(order = {}) {
    this.order = order;
    this.what = this.label = '';
    this.bar = make('progress', { max: 1 });
    this.words = make('span', { class: 'small' });
    this.end = make('button', { type: 'button' }, 'Cancel');
    this.end.addEventListener('click', () => trying(() => this.cancel()));
    this.element = make('div', { class: 'work', role: 'group' }, this.bar, this.words, this.end);
  }

  /**
   * Does work, with its bar in a place; gives what is found, undefined where it was cancelled. what: as the server calls it. label: what it is.
   * canEnd: whether it can be cancelled.
   */
  async run(place, what, label, work, canEnd = true) {
    if (this.what) throw new Refused([{ found: 'the bench is busy with other work', remedy: 'Wait for it, or cancel it.' }]);
    calm();
    this.what = what;
    this.isCancelled = false;
    this.name(label);
    this.end.hidden = !canEnd;
    this.show(null);
    place.append(this.element);
    try {
      return await work();
    } catch (error) {
      if (!this.isCancelled) throw error;
      say('Cancelled.');
      return undefined;
    } finally {
      this.what = '';
      this.element.remove();
    }
  }

  /** What it is. */
  name(label) {
    this.label = label;
    this.bar.setAttribute('aria-label', label);
  }

  /** Follows what the server says: {done, words}, null where nothing is being done. */
  heed(news) {
    if (news && news.what === this.what) this.show(news.done, news.words);
  }

  /** done: 0 to 1, or null where that is not known. */
  show(done, words = '') {
    if (done === null) this.bar.removeAttribute('value');
    else this.bar.value = done;
    const share = done === null ? '' : `, ${Math.floor(100 * done)} %`;
    this.words.textContent = `${this.label}${share}${words ? `: ${spoken(words)}` : ''}`;
  }

  async cancel() {
    this.isCancelled = true;
    await post('/api/cancel', this.order);
  }
}
