/** The one line of orders to the server: each is answered, and its answer shown, before the next one goes. */

import { post } from './api.js';
import { calm, trying } from './say.js';

export class Orders {
  /** took(prop): shows an answer. refused(): shows again what holds. */
  constructor(took, refused) {
    this.took = took;
    this.refused = refused;
    this.waiting = [];     // {path, body, place, done, fail}; place: of an edit, in the file
    this.onTheWay = null;  // the one that has been sent
    this.isSending = false;
    this.sent = Promise.resolve();
  }

  /** Whether what the page shows is ahead of any answer that may come now. */
  get areWaiting() {
    return this.waiting.length > 0 || this.onTheWay !== null;
  }

  /** Once all orders have been answered: what is sent or kept then has them in it. */
  settled() {
    return this.sent;
  }

  /** Has the server do something, in its turn; gives the prop. Rejects with what was refused. */
  ask(path, body = {}, place = '') {
    return new Promise((done, fail) => {
      this.waiting.push({ path, body, place, done, fail });
      if (!this.isSending) this.sent = this.send();
    });
  }

  /**
   * Sets one value of the file; null takes it out. Of several for one place that wait, the last goes.
   * gesture: a word that edits of one movement have in common; they are undone in one step.
   */
  set(path, value, gesture) {
    const place = JSON.stringify(path), waits = this.waiting.findLast((order) => order.place === place || !order.place);
    if (waits?.place) waits.body = { path, value, gesture };
    else trying(() => this.ask('/api/edit', { path, value, gesture }, place));
  }

  /** Settings as they will be once the edits under way have been answered. */
  over(settings) {
    const orders = [this.onTheWay, ...this.waiting].filter((order) => order?.place);
    const values = new Map(orders.map(({ place, body }) => [place, body.value]));
    return settings.map((setting) => {
      const place = JSON.stringify(setting.path);
      return values.has(place) ? { ...setting, value: values.get(place) ?? setting.default } : setting;
    });
  }

  async send() {
    this.isSending = true;
    while (this.waiting.length) {
      const { path, body, done, fail } = this.onTheWay = this.waiting.shift();
      const prop = await post(path, body).catch(fail);
      this.onTheWay = null;
      if (prop) calm();
      await trying(() => (prop ? this.took(prop) : this.refused()));
      if (prop) done(prop);
    }
    this.isSending = false;
  }
}
